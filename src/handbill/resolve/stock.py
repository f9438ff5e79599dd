"""A brand's catalogues and the map of its hosted pictures. Enters: a brand's loaded parts; leaves: a `Stock`.

Text of the brand's own is checked here once, so that nothing that mail may not hold comes in by that way.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, MistakesError
from handbill.base.frozen import dataclass, field
from handbill.base.source import Node, child, entries, items, place, scalar
from handbill.brand.parts import BrandParts
from handbill.catalogue import load_products, load_reviews
from handbill.loader import Loader
from handbill.resolve.text import check_characters

if TYPE_CHECKING:
    from handbill.catalogue.hosted import Hosted


class Catalogue(Protocol):
    """Rows by key; `pick` raises Fault with the nearest key."""

    def pick(self, key: str) -> Any: ...
    def get(self, key: str) -> Any: ...


@dataclass(frozen=True, slots=True)
class Layered:
    """A catalogue that answers from another, when it has one, and else from its own rows."""

    first: Catalogue | None
    second: Catalogue

    def pick(self, key: str) -> Any:
        row = self.get(key)
        return row if row is not None else (self.first or self.second).pick(key)

    def get(self, key: str) -> Any:
        row = self.first.get(key) if self.first is not None else None
        return row if row is not None else self.second.get(key)


@dataclass(frozen=True, slots=True)
class Stock:
    """A brand's catalogues, and where its pictures are hosted; `unread` names catalogues with mistakes."""

    products: Catalogue | None
    reviews: Catalogue | None
    unread: frozenset[str]
    hosted: Hosted | None = None


def open_stock(loader: Loader, parts: BrandParts, samples: Path | None = None) -> tuple[Stock, list[Mistake]]:
    """The brand's catalogues; beside them what is wrong with them and with the brand's text.

    The folder `samples` (products.csv, reviews.csv) stands in for what the brand lacks.
    """
    brand, root, brand_root = parts.brand, loader.root, parts.files.root.root
    wrong: list[Mistake] = []
    products: Catalogue | None = None
    reviews: Catalogue | None = None
    unread = set()
    try:
        if brand.products is not None:
            at = child(brand_root, "products")
            folder = _home(brand.products.file, parts.files.folders)
            products = load_products(
                brand.products, folder, root, brand.currency, loader.cache, at=at, swatches=brand.swatches
            )
    except MistakesError as error:
        wrong.extend(error.mistakes)
        unread.add("product")
    try:
        if brand.reviews is not None:
            folder = _home(brand.reviews.file, parts.files.folders)
            reviews = load_reviews(brand.reviews, folder, root, loader.cache, at=child(brand_root, "reviews"))
    except MistakesError as error:
        wrong.extend(error.mistakes)
        unread.add("review")
    hosted = None
    if brand.hosted is not None:
        from handbill.catalogue.hosted import load_hosted

        try:
            at = child(brand_root, "hosted") or brand_root
            hosted = load_hosted(brand.hosted, parts.files.folders, root, at)
        except MistakesError as error:
            wrong.extend(error.mistakes)
    if samples is not None:
        products, reviews = stand_ins(samples, products, reviews, brand.currency, loader.cache)
    wrong.extend(_unprintable(brand_root, ""))
    return Stock(products, reviews, frozenset(unread), hosted), wrong


def _home(file: str, folders: Sequence[Path]) -> Path:
    """The folder of the brand, or of the nearest parent, that has the catalogue's file."""
    return next((folder for folder in folders if (folder / file).is_file()), folders[0])


@dataclass(frozen=True, slots=True)
class _Rows:
    """A file of rows whose headers are the fields' own names."""

    file: str
    columns: Mapping[str, str] = field(default_factory=dict)


def stand_ins(
    folder: Path, products: Catalogue | None, reviews: Catalogue | None, currency: str, cache: Cache
) -> tuple[Catalogue, Catalogue]:
    """The brand's catalogues, with the rows of `folder` behind them; prices are in the brand's currency."""
    rows = load_products(_Rows("products.csv"), folder, folder, currency, cache)
    said = load_reviews(_Rows("reviews.csv"), folder, folder, cache)
    return Layered(products, rows), Layered(reviews, said)


def _unprintable(node: Node, path: str) -> Iterator[Mistake]:
    """Every text of the brand that holds a character no mail may."""
    text = scalar(node)
    if text is not None:
        try:
            check_characters(text)
        except Fault as fault:
            yield fault.at(place(node), path)
    for key, value in items(node):
        yield from _unprintable(value, f"{path}.{key.value}" if path else str(key.value))
    for number, entry in enumerate(entries(node)):
        yield from _unprintable(entry, f"{path}[{number}]")
