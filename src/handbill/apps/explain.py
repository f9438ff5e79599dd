"""Where a campaign's values come from. Enters: a campaign file; leaves: its fields with their origins.

Nothing is tracked while a campaign is compiled: every node carries its place (`base.source.place`), so
origins are read off the expanded sections, beside what the resolver made of them. Values are as written.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from handbill.apps.describe import said_as
from handbill.apps.explained import Explained, Explanation, Line
from handbill.apps.places import Origin, owner, shown
from handbill.apps.sources import Sources
from handbill.base.errors import Fault, Place
from handbill.base.source import (
    Node,
    child,
    entries,
    find,
    is_mapping,
    is_sequence,
    items,
    place,
    plain,
    read_yaml,
    scalar,
)
from handbill.brand.parts import load_brand
from handbill.library.find import SHARED, built_in, standing
from handbill.library.spec import FieldSpec
from handbill.loader import BrandFiles, Loader
from handbill.pipeline import Desk, campaign_file
from handbill.resolve.mail import Spoken
from handbill.resolve.shop import Shop, Words
from handbill.resolve.stock import open_stock
from handbill.validate import ValidSection, validate_sections

COMMAND = "--brand"
CATALOGUE = ("product", "products", "review", "reviews")
# what a row gives a mail, by attribute; `_of_person` is dropped from the name
COLUMNS = ("name", "kind", "price", "was", "colours", "alt", "link", "copy", "place_of_person", "stars",
           "verified", "relationship", "text")  # fmt: skip
_BRAND_PART = re.compile(r"\bbrand\.([a-z_]+)")


def explain(
    loader: Loader, path: Path, *, brand: str | None = None, variants: Sequence[str] = ()
) -> Iterator[Explanation]:
    """Origins of everything in a campaign's variants of these ids; without ids, in the one that
    changes least.

    Raises MistakesError with all that is wrong in one, but for what shows only when a mail is drawn.
    """
    desk = Desk(loader, campaign_file(loader, path), brand=brand)
    numbers = desk.numbers(variants)
    usual = desk.plan.number(desk.plan.baseline.id) or 0
    yield from (_explained(loader, desk, number) for number in numbers or [usual])


def _explained(loader: Loader, desk: Desk, number: int) -> Explanation:
    variant, mail = desk.plan[number], desk.mail(number)
    expanded, _none = desk.translated(variant)
    parts = load_brand(
        loader, mail.shop.brand.brand, Place(COMMAND), scalar(child(expanded.head, "language"))
    )
    known = standing(loader.shelves(parts.files))
    valid, _none = validate_sections(expanded, mail.library)
    reader = _Reader(loader, mail.shop, parts.files, Sources(loader, desk.plan, known, variant.language))
    sections = tuple(map(reader.section, valid, mail.sections))
    return Explanation(
        mail.campaign.campaign, desk.id(number), desk.doc.name,
        tuple(reader.head(expanded.head, desk.brand)), sections,
        tuple(reader.shared_words()) if valid else (),
        {tag: tuple(one.shared_words()) for (tag, _rtl), one in reader.others.items()
         if tag != mail.shop.language},
    )  # fmt: skip


class _Reader:
    """Reads one mail; `node` of a section holds its fields, `made` what the resolver made of them.

    For sections in another language or direction there are others beside it, by these.
    """

    def __init__(self, loader: Loader, shop: Shop, files: BrandFiles, sources: Sources) -> None:
        self.loader, self.shop, self.files, self.sources = loader, shop, files, sources
        self.library = shop.library
        self.others: dict[tuple[str, bool], _Reader] = {}

    # -- the head and the sections

    def head(self, root: Node, brand: str | None) -> Iterator[Line]:
        named, spoken = child(root, "brand"), child(root, "language")
        origin = self.sources.origin(named) if named is not None else Origin("command line", COMMAND)
        if brand or named is None:
            origin = Origin("command line", COMMAND)
        elif scalar(named) != self.shop.brand.brand:
            origin = Origin("variant", f"brand={self.shop.brand.brand}")
        yield Line("brand", self.shop.brand.brand, origin)
        if spoken is not None and scalar(spoken):
            yield Line("language", self.shop.language, self.sources.origin(spoken))
        else:
            yield Line("language", self.shop.language, self.brand(("languages",), "languages"))
        for name in ("send", "subject", "preheader", "offer"):
            if (node := child(root, name)) is not None:
                yield from self.leaves(node, (name,), False)

    def speaking(self, spoken: Spoken) -> _Reader:
        """What reads a section in its own language and direction."""
        own = self.shop
        if (spoken.language, spoken.rtl) == (own.language, own.rtl):
            return self
        key = spoken.language, spoken.rtl
        if key not in self.others:
            parts = load_brand(self.loader, own.brand.brand, Place(COMMAND), spoken.language)
            stock, _wrong = open_stock(self.loader, parts)
            words = Words(spoken.library, parts.brand, spoken.language)
            shop = own.speaking(*key, spoken.library, own.context, words, parts, stock)
            self.others[key] = _Reader(self.loader, shop, parts.files, self.sources)
        return self.others[key]

    def section(self, valid: ValidSection, spoken: Spoken) -> Explained:
        """A section, and what stands in its place for some."""
        made = self.speaking(spoken).one(valid, spoken.tagged, spoken.id)
        other = None
        if valid.otherwise is not None and spoken.otherwise is not None:
            written = valid.section.otherwise or valid.otherwise.section
            other = replace(
                self.section(valid.otherwise, spoken.otherwise),
                differs=not written.block, place=self.at(written.whole),
            )  # fmt: skip
        return replace(made, otherwise=other)

    def at(self, node: Node) -> Place:
        return self.sources.origin(node).place or place(node)

    def one(self, valid: ValidSection, made: Mapping[str, Any], called: str) -> Explained:
        block, node = valid.block, valid.section.node
        lines = list(self.own(valid.section.whole, ("when", "lang", "dir", "tone"), ""))
        unset: list[str] = []
        cells: list[Explained] = []
        lines += self.fields(valid, block.spec.fields, node, made, (), unset)
        lines += self.brand_parts(Path(block.folder)) if "brand" in block.uses else ()
        for name, inner in valid.cells.items():
            for number, cell in enumerate(inner):
                cells.append(self.one(cell, made[name][number].fields, f"{called}, {name}[{number}]"))
        folder = Path(block.folder)
        lives = "built in"
        if folder.is_relative_to(self.loader.root):
            lives = f"{owner(folder, self.files) or block.label}, {self.loader.name(folder)}"
        return Explained(
            called, block.name, lives, self.at(valid.section.whole), tuple(lines), tuple(unset),
            tuple(self.words(block.name, tuple(_keys(block.words)))), tuple(cells),
        )  # fmt: skip

    def own(self, node: Node, names: tuple[str, ...], before: str) -> Iterator[Line]:
        """What sections and items take beside their block's fields, where it is written."""
        for name in names:
            if (written := child(node, name)) is not None and scalar(written):
                yield Line(before + name, shown(plain(written)), self.sources.origin(written))

    # -- fields

    def fields(
        self,
        valid: ValidSection,
        specs: Mapping[str, FieldSpec],
        node: Node,
        made: Any,
        way: tuple[str | int, ...],
        unset: list[str],
    ) -> Iterator[Line]:
        for name, spec in specs.items():
            here = (*way, name)
            written = child(node, name)
            if written is None or plain(written) is None:
                line = self.stand_in(valid, spec, here, _made(made, name))
                if line is not None:
                    yield line
                elif written is not None:
                    yield Line(_dotted(here), "nothing", self.sources.origin(written))
                else:
                    unset.append(_dotted(here))
            elif spec.type == "cells":
                continue  # sections of their own
            elif spec.type == "list":
                for number, entry in enumerate(entries(written)):
                    spot = (*here, number)
                    yield from self.own(entry, ("tone",), _dotted(spot) + ".")
                    yield from self.fields(valid, spec.of, entry, _made(made, name)[number], spot, unset)
            elif spec.type in CATALOGUE:
                yield from self.rows(valid, spec, written, _made(made, name), here, unset)
            else:
                yield from self.leaves(written, here, spec.type == "picture")

    def leaves(self, node: Node, way: tuple[str | int, ...], picture: bool) -> Iterator[Line]:
        """A value; of a mapping its parts, since each may have been written elsewhere."""
        if is_mapping(node):
            for key, value in items(node):
                yield from self.leaves(value, (*way, key.value), picture and key.value in ("file", "dark"))
        elif is_sequence(node):
            for number, entry in enumerate(entries(node)):
                yield from self.leaves(entry, (*way, number), picture)
        elif (value := plain(node)) is not None:
            found = self.found(value) if picture else ("", "")
            yield Line(_dotted(way), value, self.sources.origin(node), *found)

    def stand_in(
        self, valid: ValidSection, spec: FieldSpec, way: tuple[str | int, ...], made: Any
    ) -> Line | None:
        """The line of a field that nobody wrote: the brand's value or the block's, None without either."""
        block, name = valid.block, _dotted(way)
        steps = [step for step in way if isinstance(step, str)]
        key = ".".join(steps[-2:] if spec.type == "choice" else steps)  # as the resolver looks them up
        if spec.type in ("choice", "toggle") and key in block.defaults:
            what = f"brand's default for {block.name}"
            return Line(name, shown(block.defaults[key]), self.brand(("blocks", block.name, key), what))
        if spec.inherits == "legal" and self.shop.brand.legal:
            return Line(name, self.shop.brand.legal, self.brand(("legal",), "brand's legal text"))
        if isinstance(spec.default, str):
            return Line(name, spec.default, Origin("default", f"default of block {block.name}"))
        if spec.default is not None:
            turns = ", ".join(spec.default.cycle)
            return Line(name, str(made), Origin("cycle", f"cycle of block {block.name}: {turns}"))
        return None

    # -- products and reviews

    def rows(
        self,
        valid: ValidSection,
        spec: FieldSpec,
        node: Node,
        made: Any,
        way: tuple[str | int, ...],
        unset: list[str],
    ) -> Iterator[Line]:
        single = spec.type in ("product", "review")
        key = "sku" if spec.type.startswith("product") else "id"
        catalogue = self.shop.products if key == "sku" else self.shop.reviews
        listed = entries(node) if is_sequence(node) else [node]
        for number, entry in enumerate(listed):
            spot = way if single else (*way, number)
            item = made if single else made[number]
            code = child(entry, key) if is_mapping(entry) else entry
            yield Line(
                f"{_dotted(spot)}.{key}", shown(plain(code or entry)), self.sources.origin(code or entry)
            )
            yield from self.own(entry, ("tone",), _dotted(spot) + ".")
            lacking: list[str] = []  # what the row gives, or the section's button
            yield from self.fields(valid, spec.of, entry, item, spot, lacking)
            row = catalogue.get(scalar(code) or "") if catalogue is not None else None
            if row is None:
                continue
            given = {name.value for name, _value in items(entry)}
            columns = [one for one in COLUMNS if one not in given and getattr(row, one, None)]
            yield Line(
                _dotted(spot), ", ".join(one.removesuffix("_of_person") for one in columns),
                Origin("catalogue", "catalogue", row.place),
            )  # fmt: skip
            yield from self.row_picture(row, entry, item, spot)
            unset.extend(
                one
                for one in lacking
                if one.rpartition(".")[2] not in (*columns, "button", "quote", "picture")
            )

    def row_picture(self, row: Any, entry: Node, item: Any, spot: tuple[str | int, ...]) -> Iterator[Line]:
        """The picture of a product, or of the product that a review is about, where the mail shows it."""
        if child(entry, "picture") is not None or _made(item, "picture") is None:
            return
        products = self.shop.products
        if not hasattr(row, "picture"):
            row = products.get(row.product) if products is not None else None
        if row is not None and row.picture:
            origin = Origin("catalogue", "catalogue", row.place)
            yield Line(_dotted((*spot, "picture")), row.picture, origin, *self.found(row.picture))

    # -- the brand's part, pictures and words

    def brand(self, way: tuple[str, ...], what: str) -> Origin:
        """A value in brand.yaml or in that of a parent, which says so."""
        at = place(find(self.files.root.root, way)[0])
        whose = owner(self.loader.root / at.file, self.files)
        return Origin("brand", f"{what}, {whose}" if whose.startswith("parent") else what, at)

    def brand_parts(self, folder: Path) -> Iterator[Line]:
        """The parts of brand.yaml that a block's templates name."""
        texts = (folder / "block.html.j2", folder / "block.txt.j2")
        parts = {part for path in texts for part in _BRAND_PART.findall(path.read_text("utf-8"))}
        for name in sorted({part.removesuffix("_small") for part in parts}):
            written = child(self.files.root.root, name)
            if written is None:
                continue
            for way, value in _scalars(written, (name,)):
                picture = way[-1] in ("for_light", "for_dark", "icon")
                found = self.found(value) if picture else ("", "")
                at = self.brand((name,), "brand")
                origin = Origin(at.kind, at.what, place(find(written, way[1:])[0]))
                yield Line(_dotted(("brand", *way)), value, origin, *found)

    def found(self, name: str) -> tuple[str, str]:
        """A picture's file and whose it is; nothing for one that is drawn by name or was refused."""
        try:
            path = self.shop.pictures.source(name).path
        except Fault:
            return "", ""
        return self.loader.name(path), owner(path, self.files) or "workspace"

    def shared_words(self) -> Iterator[Line]:
        """The words of all blocks; any block says what they come to."""
        yield from self.words(next(iter(self.library.blocks)), tuple(_keys(self.library.shared_words)))

    def words(self, block: str, names: tuple[str, ...]) -> Iterator[Line]:
        """House words in the order they are sought: brand, block, shared; the language before its family."""
        made = self.library.blocks[block]
        tables = (
            (self.shop.brand.words, "brand"),
            (made.words, f"block {block}"),
            (self.library.shared_words, "shared"),
        )
        tags = dict.fromkeys((self.shop.language, self.shop.language.split("-")[0]))
        for name in names:
            for table, what in tables:
                tag = next((one for one in tags if name in table.get(one, {})), None)
                if tag is None:
                    continue
                said = f"{what}, {tag}"
                way = ("words", tag, name)
                origin = self.brand(way, said) if what == "brand" else self.word(made.folder, way, what, said)
                yield Line(f"word.{name}", said_as(table[tag][name]), origin)
                break

    def word(self, folder: str, way: tuple[str, ...], what: str, said: str) -> Origin:
        path = built_in() / SHARED / "macros.yaml" if what == "shared" else Path(folder) / "block.yaml"
        name = self.loader.name(path)
        if not path.is_relative_to(self.loader.root):
            name = "/".join(("<built-in>", *path.parts[-2:]))
        return Origin("words", said, place(find(read_yaml(path, name).root, way)[0]))


def _keys(tables: Mapping[str, Mapping[str, str]]) -> list[str]:
    return list(dict.fromkeys(word for table in tables.values() for word in table))


def _scalars(node: Node, way: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], str]]:
    for key, value in items(node):
        yield from _scalars(value, (*way, key.value))
    for number, entry in enumerate(entries(node)):
        yield from _scalars(entry, (*way, number))
    if (text := scalar(node)) is not None:
        yield way, text


def _made(made: Any, name: str) -> Any:
    return made.get(name) if isinstance(made, Mapping) else getattr(made, name, None)


def _dotted(way: tuple[str | int, ...]) -> str:
    """`products[0].caption`."""
    return "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in way).removeprefix(".")
