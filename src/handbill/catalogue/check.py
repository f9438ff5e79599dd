"""Checking a catalogue. Enters: a file's bytes and the brand's columns; leaves: plain rows, or every mistake.

The models of `models.catalogue` say what a row is; prices are read with ISO 4217's decimals (`base.money`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.money import Money, minor_units, parse_money
from handbill.base.source import Node, find, key_place, make_mapping, make_scalar, make_sequence, place
from handbill.catalogue.objects import read_json
from handbill.catalogue.rows import Plain
from handbill.catalogue.sheet import Cell, Row, Sheet, decode, read_csv
from handbill.models.catalogue import Product, Review
from handbill.models.check import mistakes as worded

_MODELS: dict[str, tuple[type[Product] | type[Review], str]] = {
    "product": (Product, "sku"),
    "review": (Review, "id"),
}


def check(
    raw: bytes,
    label: str,
    noun: str,
    columns: Mapping[str, str],
    currency: str,
    at: Node | None,
    swatches: Mapping[str, str] | None = None,
) -> dict[str, Plain]:
    """Plain rows by key (see `rows`); raises MistakesError with all that is wrong.

    `swatches` are the shop's own names of product colours.
    """
    model, key = _MODELS[noun]
    fields = {info.alias or name: info.is_required() for name, info in model.model_fields.items()}
    chooser = _Chooser(label, noun, columns, fields, at)
    if currency:
        try:
            minor_units(currency)
        except Fault as fault:
            raise MistakesError([fault.at(chooser.spot(), "currency")]) from None
    text = decode(raw, label)
    json = label.lower().endswith(".json")
    sheet = read_json(text, label) if json else read_csv(text, label, chooser.score)
    if sheet.headers:
        chooser.choose(sheet)
    checker = _Checker(label, model, key, currency, chooser.chosen, swatches or {})
    for row in sheet.rows:
        checker.row(row)
    found = [*sheet.mistakes, *chooser.mistakes, *checker.mistakes]
    if found:
        raise MistakesError(found)
    return checker.rows


class _Chooser:
    """Which header each field is read from. `at` is the brand's mapping of the file, when it is known."""

    def __init__(
        self, label: str, noun: str, columns: Mapping[str, str], fields: Mapping[str, bool], at: Node | None
    ) -> None:
        self.label, self.noun, self.fields, self.at = label, noun, fields, at
        self.mistakes: list[Mistake] = []
        self.chosen: dict[str, str] = {}
        self.mapped: dict[str, str] = {}
        readers: dict[str, str] = {}
        for name, header in columns.items():
            header = header.strip()
            if name not in fields:
                expected = "one of " + ", ".join(fields)
                self.refuse(name, f"no field {name} in a {noun}", expected, nearest(name, fields))
            elif header in readers:
                message = f"{readers[header]} and {name} stand under one header, {header!r}"
                self.refuse(name, message, "two headers")
            else:
                readers[header] = name
                self.mapped[name] = header

    def spot(self, name: str = "", *, key: bool = False) -> Place:
        """Where the brand names the header of `name`; the top of the file when `at` is unknown."""
        if self.at is None:
            return Place(self.label, 1, 1)
        way = ("columns", name) if name else ()
        return key_place(self.at, way) if key else place(find(self.at, way)[0])

    def refuse(self, name: str, message: str, expected: str = "", near: str = "") -> None:
        where = self.spot(name, key=name not in self.fields)
        self.mistakes.append(Mistake(where, f"{self.noun}s.columns.{name}", message, expected, near))

    def score(self, headers: Sequence[str]) -> int:
        """How many of a file's headers a field would be read from."""
        known = set(self.mapped.values())
        return sum(header in known or _folded(header) in self.fields for header in headers)

    def choose(self, sheet: Sheet) -> None:
        """Fill `chosen`. A field without mapping is read from the header that is its name, in any case."""
        names = [cell.value for cell in sheet.headers]
        taken = set(self.mapped.values())
        own: dict[str, list[str]] = {}
        for header in names:
            if header not in taken:
                own.setdefault(_folded(header), []).append(header)
        for name, required in self.fields.items():
            header = self.mapped.get(name)
            if header is not None:
                found = [header] * names.count(header)
                if not found:
                    near = nearest(header, filter(None, names))
                    self.refuse(name, f"no column {header!r} in {self.label}", near=near)
            else:
                found = own.get(name, [])
                if not found and required:
                    self.missing(name, sheet.headers)
            if len(found) > 1:
                self.doubled(name, [cell for cell in sheet.headers if cell.value in found])
            if found:
                self.chosen[name] = found[0]

    def missing(self, name: str, headers: Sequence[Cell]) -> None:
        if any(one.path.endswith(f".{name}") for one in self.mistakes):
            return  # its mapping has been refused: one mistake is enough
        expected = f"a column {name}, or its header under {self.noun}s.columns in brand.yaml"
        near = nearest(name, (cell.value for cell in headers if cell.value))
        where = Place(self.label, headers[0].line, 1)
        self.mistakes.append(Mistake(where, "", f"no column for {name}", expected, near))

    def doubled(self, name: str, cells: Sequence[Cell]) -> None:
        first, second = cells[:2]
        where = Place(self.label, second.line, second.column)
        message = f"{second.value!r} is a second column for {name} (first at column {first.column})"
        self.mistakes.append(Mistake(where, "header", message, "one column for a field"))


def _folded(header: str) -> str:
    """`Was from` and `WAS_FROM` are the field `was_from`: a price window must not be lost to a space."""
    return "_".join(header.lower().replace("-", " ").replace("_", " ").split())


class _Checker:
    def __init__(
        self,
        label: str,
        model: type[Product] | type[Review],
        key: str,
        currency: str,
        chosen: Mapping[str, str],
        swatches: Mapping[str, str],
    ) -> None:
        self.context = {"swatches": swatches}
        self.label, self.model, self.key, self.currency, self.chosen = label, model, key, currency, chosen
        self.rows: dict[str, Plain] = {}
        self.mistakes: list[Mistake] = []
        self.lines: dict[str, int] = {}

    def row(self, row: Row) -> None:
        """Check one row and keep it."""
        cells = {name: row.cells[header] for name, header in self.chosen.items() if header in row.cells}
        cells = {name: cell for name, cell in cells.items() if cell.value is not None}
        self.repeated(row, cells.get(self.key))
        money = self.prices(row, cells) if self.model is Product else {}
        try:
            values = {name: cell.value for name, cell in cells.items()}
            value: Any = self.model.model_validate(values, context=self.context)
        except ValidationError as error:
            found = worded(error, self.model, _node(row, cells, self.label), row.name)
            # A column that is missing altogether has been refused once, at the header.
            self.mistakes.extend(one for one in found if not self.columnless(one, row))
            return
        if self.model is Product:
            self.window(row, cells, value)
            plain = _plain_product(value, money)
        else:
            plain = _plain_review(value)
        self.rows[plain[0]] = (*plain, row.line, row.column)

    def columnless(self, mistake: Mistake, row: Row) -> bool:
        name = mistake.path.removeprefix(f"{row.name}, ")
        return name in self.model.model_fields and name not in self.chosen

    def refuse(self, row: Row, name: str, cell: Cell, fault: Fault) -> None:
        self.mistakes.append(fault.at(Place(self.label, cell.line, cell.column), f"{row.name}, {name}"))

    def repeated(self, row: Row, cell: Cell | None) -> None:
        key = cell.value.strip() if cell and isinstance(cell.value, str) else ""
        if not (cell and key):
            return
        first = self.lines.get(key)
        if first is None:
            self.lines[key] = cell.line
        else:
            self.refuse(row, self.key, cell, Fault(f"{key!r} is written twice (first at line {first})"))

    def prices(self, row: Row, cells: Mapping[str, Cell]) -> dict[str, Money]:
        """`price` and `was`, as far as they are prices and `was` is a reduction."""
        money: dict[str, Money] = {}
        for name in ("price", "was"):
            cell = cells.get(name)
            if cell and isinstance(cell.value, str) and cell.value.strip():
                try:
                    money[name] = parse_money(cell.value, self.currency)
                except Fault as fault:
                    self.refuse(row, name, cell, fault)
        if "price" in money and not money["price"].amount:
            expected = "more than 0: a gift is a section of its own, without a price"
            self.refuse(row, "price", cells["price"], Fault("a price of 0", expected=expected))
        if len(money) == 2 and money["was"] <= money["price"]:
            shown = f"was {money['was']} is not above the price {money['price']}: no reduction"
            expected = "the higher price before, or nothing"
            self.refuse(row, "was", cells["was"], Fault(shown, expected=expected))
        return money

    def window(self, row: Row, cells: Mapping[str, Cell], product: Product) -> None:
        start, end = product.was_from, product.was_until
        if start and end and end < start:
            message = f"the old price held until {end}, before it began on {start}"
            self.refuse(row, "was_until", cells["was_until"], Fault(message, expected="a later date"))


def _node(row: Row, cells: Mapping[str, Cell], label: str) -> Node:
    """The row as nodes with places, which is what complaints are worded from."""
    pairs = []
    for name, cell in cells.items():
        like = _at(Place(label, cell.line, cell.column))
        pairs.append((make_scalar(name, like), _branch(cell.value, like)))
    return make_mapping(pairs, _at(Place(label, row.line, row.column)))


def _at(where: Place) -> Node:
    mark: Any = where  # nodes carry places for marks (`base.source`)
    return Node("", "", mark, None)


def _branch(value: Any, like: Node) -> Node:
    if isinstance(value, list):
        return make_sequence([_branch(item, like) for item in value], like)
    if isinstance(value, dict):
        pairs = [(make_scalar(name, like), _branch(item, like)) for name, item in value.items()]
        return make_mapping(pairs, like)
    return make_scalar(str(value), like)


def _plain_product(product: Product, money: Mapping[str, Money]) -> Plain:
    price, was = (f"{money[name].amount:f}" if name in money else "" for name in ("price", "was"))
    return (
        product.sku, product.name, product.kind or "", price, was,
        str(product.was_from or ""), str(product.was_until or ""),
        tuple((swatch.name, swatch.colour) for swatch in product.colours),
        product.picture or "", product.alt or "", product.link, product.copy_ or "", product.stock or "",
    )  # fmt: skip


def _plain_review(review: Review) -> Plain:
    return (
        review.id, review.product or "", review.name, review.place or "", review.stars,
        str(review.date or ""), review.source or "", review.verified or "", review.relationship or "",
        review.title or "", review.text,
    )  # fmt: skip
