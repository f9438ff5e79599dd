"""Rows ready to use. Enters: checked rows as plain tuples; leaves: a product or a review when one is picked.

A mail shows a handful of a catalogue's rows, so only those become objects. Nothing here reads a file.
"""

from __future__ import annotations

from collections.abc import Callable, KeysView, Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from handbill.base.errors import Fault, Place, nearest
from handbill.base.frozen import dataclass, field
from handbill.base.money import Money

if TYPE_CHECKING:
    from datetime import date

Plain = tuple[Any, ...]
"""A row's values in the order of its class, then line and column; amounts and dates as text."""


@dataclass(frozen=True, slots=True)
class ProductRow:
    """A product as the shop's file has it; a text that the file leaves out is empty.

    `was` is above `price`; `colours` are (name, "#rrggbb"), or "shot" for the
    picture's own; `place` is where the row starts.
    """

    sku: str
    name: str
    kind: str
    price: Money
    was: Money | None
    was_from: date | None
    was_until: date | None
    colours: tuple[tuple[str, str], ...]
    picture: str
    alt: str
    link: str
    copy: str
    stock: str
    place: Place


@dataclass(frozen=True, slots=True)
class ReviewRow:
    """A customer's words; `stars` 1 to 5. `verified` says how the purchase was matched, empty: it was not.

    `relationship` is what ties the person to the shop (a gift, a job): where the law on endorsements asks for
    it to be shown, leaving it out misleads.
    """

    id: str
    product: str
    name: str
    place_of_person: str
    stars: int | None
    date: date | None
    source: str
    verified: str
    relationship: str
    title: str
    text: str
    place: Place


R = TypeVar("R", ProductRow, ReviewRow)


@dataclass(frozen=True, slots=True)
class Catalogue(Generic[R]):
    """Rows by key, in the file's order. `file` is the name for messages, relative to the workspace."""

    file: str
    noun: str
    _rows: Mapping[str, Plain] = field(repr=False)
    _make: Callable[[Plain, str], R] = field(repr=False, compare=False)

    def keys(self) -> KeysView[str]:
        """Every SKU or review id."""
        return self._rows.keys()

    def get(self, key: str) -> R | None:
        """The row under `key`, or None."""
        row = self._rows.get(key)
        return None if row is None else self._make(row, self.file)

    def pick(self, key: str) -> R:
        """The row under `key`; raises Fault with the nearest key when there is none."""
        row = self.get(key)
        if row is None:
            raise Fault(f"no {self.noun} {key} in {self.file}", nearest=nearest(key, self._rows))
        return row

    def __len__(self) -> int:
        return len(self._rows)


def product_maker(currency: str) -> Callable[[Plain, str], ProductRow]:
    """What turns a plain row into a product with prices in `currency`."""

    def make(row: Plain, file: str) -> ProductRow:
        sku, name, kind, price, was, start, end, colours, picture, alt, link, copy, stock, line, column = row
        return ProductRow(
            sku, name, kind, Money(Decimal(price), currency), Money(Decimal(was), currency) if was else None,
            _day(start), _day(end), colours, picture, alt, link, copy, stock, Place(file, line, column),
        )  # fmt: skip

    return make


def make_review(row: Plain, file: str) -> ReviewRow:
    """A plain row as a review."""
    id_, product, name, place, stars, day, source, verified, relationship, title, text, line, column = row
    return ReviewRow(
        id_, product, name, place, stars, _day(day), source, verified, relationship, title, text,
        Place(file, line, column),
    )  # fmt: skip


def _day(text: str) -> date | None:
    if not text:
        return None
    from datetime import date  # most rows of a catalogue are never made, and rows without dates need none

    return date.fromisoformat(text)
