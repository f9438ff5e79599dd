"""A product and a review as rows of the shop's files say them: every value arrives as text.

Enters: a row's values by field; leaves: the values checked. Dates are ISO 8601 calendar dates (2027-01-31).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, StringConstraints, ValidationInfo

from handbill.colour.words import named, near
from handbill.models.common import Model, wrong
from handbill.models.read import colour as read_colour
from handbill.models.read import day as read_day

_SWATCHES = (
    "name:#rrggbb, a named colour, or name:shot, parted by semicolons; "
    "a name of the shop's own stands under swatches: in brand.yaml"
)
#: What shops' files say for none and for some, in any case of letters (common practice).
GONE = frozenset(("sold out", "out of stock", "none", "no", "false", "ausverkauft", "vergriffen", "nein"))
THERE = frozenset(("in stock", "available", "yes", "true", "lieferbar", "verfügbar", "auf lager", "ja"))
SHOT = "shot"  # in place of a colour: the one of the product's picture


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
    return read_day(_trimmed_or_none(value))


def _stock(value: Any) -> Any:
    value = _trimmed_or_none(value)
    if isinstance(value, str) and not value.isdecimal() and value.casefold() not in GONE | THERE:
        raise wrong(f"{value!r} is no number of pieces", "a whole number, sold out, in stock, or nothing")
    return value


def _swatches(value: Any, info: ValidationInfo) -> Any:
    """`navy; oat:#f2e6cf; rust:shot`, or a list of the same or of {name, colour}.

    The context's `swatches` are the shop's own names of colours; CSS's and those of `colour.words` are known.
    """
    own: Mapping[str, str] = (info.context or {}).get("swatches", {})
    if isinstance(value, str):
        value = [piece for piece in (part.strip() for part in value.split(";")) if piece]
    if not isinstance(value, list):
        return value if value is not None else ()
    return [_swatch(piece, own) if isinstance(piece, str) else _written(piece, own) for piece in value]


def _swatch(piece: str, own: Mapping[str, str]) -> dict[str, str]:
    name, colon, written = (part.strip() for part in piece.rpartition(":"))
    if not colon:
        name, found = written, named(written, own)
    else:
        found = _colour(written, own) if name else None
    if found is None:
        raise wrong(f"{piece!r} is not a colour of a product", _SWATCHES, near(written, own))
    return {"name": name, "colour": found}


def _written(entry: Any, own: Mapping[str, str]) -> Any:
    """An entry of a JSON list; its colour may be a name, or left out where its name is one."""
    if not isinstance(entry, dict) or not isinstance(entry.get("name"), str):
        return entry
    return {**entry, **_swatch(f"{entry['name']}:{entry.get('colour') or entry['name']}", own)}


def _colour(written: str, own: Mapping[str, str]) -> str | None:
    if written == SHOT:
        return SHOT
    try:
        return str(read_colour(written))
    except ValueError:
        return named(written, own)


Text = Annotated[str, Field(min_length=1), BeforeValidator(_filled)]
OptionalText = Annotated[str | None, BeforeValidator(_blank)]
Code = Annotated[str, Field(min_length=1), BeforeValidator(_trimmed)]
OptionalCode = Annotated[str | None, BeforeValidator(_trimmed_or_none)]
Day = Annotated[date | None, BeforeValidator(_day)]


class Swatch(Model):
    """A colour a product comes in."""

    name: str = Field(min_length=1)
    colour: Annotated[str, StringConstraints(pattern=r"^(?:#[0-9a-f]{6}|shot)$")]


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
    stock: Annotated[str | None, BeforeValidator(_stock)] = None


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
