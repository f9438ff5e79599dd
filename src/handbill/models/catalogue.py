"""A product and a review as rows of the shop's files say them: every value arrives as text.

Enters: a row's values by field; leaves: the values checked. Dates are ISO 8601 calendar dates (2027-01-31).
"""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from handbill.models.common import Colour, Model, wrong
from handbill.models.read import colour as read_colour

_SWATCHES = "name:#rrggbb, parted by ;"


def _blank(value: Any) -> Any:
    return None if isinstance(value, str) and not value.strip() else value


def _filled(value: Any) -> Any:
    return "" if isinstance(value, str) and not value.strip() else value


def _trimmed(value: Any) -> Any:
    return value.strip() if isinstance(value, str) else value


def _trimmed_or_none(value: Any) -> Any:
    return _blank(_trimmed(value))


def _stars(value: Any) -> Any:
    value = _trimmed_or_none(value)
    if isinstance(value, str) and value not in ("1", "2", "3", "4", "5"):
        raise wrong(f"{value!r} stars", "a whole number from 1 to 5")
    return value


def _day(value: Any) -> Any:
    value = _trimmed_or_none(value)
    if value is None or type(value) is date:
        return value
    try:
        if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            return date.fromisoformat(value)
    except ValueError:
        pass
    raise wrong(f"{value!r} is not a date", "such as 2027-01-31")


def _swatches(value: Any) -> Any:
    """`navy:#1d355e; cream:#f2e6cf` or a list of {name, colour}."""
    if isinstance(value, str):
        pairs = []
        for piece in filter(None, (part.strip() for part in value.split(";"))):
            name, _, colour = (part.strip() for part in piece.rpartition(":"))
            try:
                pairs.append({"name": name, "colour": read_colour(colour)})
            except ValueError:
                name = ""
            if not name:
                raise wrong(f"{piece!r} is not a colour of a product", _SWATCHES)
        return pairs
    return value if value is not None else ()


Text = Annotated[str, Field(min_length=1), BeforeValidator(_filled)]
OptionalText = Annotated[str | None, BeforeValidator(_blank)]
Code = Annotated[str, Field(min_length=1), BeforeValidator(_trimmed)]
OptionalCode = Annotated[str | None, BeforeValidator(_trimmed_or_none)]
Day = Annotated[date | None, BeforeValidator(_day)]


class Swatch(Model):
    """A colour a product comes in."""

    name: str = Field(min_length=1)
    colour: Colour


class Product(Model):
    """A row of the catalogue. Prices are text here; money is made of them with the brand's currency."""

    sku: Code
    name: Text
    kind: OptionalText = None
    price: Code
    was: OptionalCode = None
    was_from: Day = None
    was_until: Day = None
    colours: Annotated[tuple[Swatch, ...], BeforeValidator(_swatches)] = ()
    picture: OptionalCode = None
    alt: OptionalText = None
    link: Code
    copy_: OptionalText = Field(None, alias="copy")
    stock: OptionalText = None


class Review(Model):
    """A customer's words. `verified` says how the purchase was matched; empty means it was not."""

    id: Code
    product: OptionalCode = None
    name: Text
    place: OptionalText = None
    stars: Annotated[int | None, BeforeValidator(_stars)] = None
    date: Day = None
    source: OptionalText = None
    verified: OptionalText = None
    relationship: OptionalText = None
    title: OptionalText = None
    text: Text
