"""Campaigns from outlines. Enters: an outline and a brand; leaves: the text of a campaign ready to fill.

An outline is a campaign that speaks of the sample shop (S-1, T-1, sample-wide.jpg). Those names give way to
the brand's own products, reviews and pictures; what the brand has nothing for is commented out. Every other
character stays as it was written, comments included.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.frozen import dataclass
from handbill.base.source import Doc, Node, child, entries, items, parse_yaml, place, scalar
from handbill.brand.parts import BrandParts
from handbill.catalogue import load_products, load_reviews
from handbill.library.find import SHARED, built_in
from handbill.loader import Loader
from handbill.pictures.source import Source, inspect
from handbill.pipeline import render, resolve_doc

TO_WRITE = "To write: what this picture shows"
SUFFIXES = (".jpg", ".jpeg", ".png", ".gif")
SCENE = 0.75  # width to height: narrower pictures are portraits of things, not scenes
LEAST = 600  # px: what a mail shows across; a smaller file is an icon or a logo
_SKU, _REVIEW, _PICTURE = (
    re.compile(r"S-\d+"),
    re.compile(r"T-\d+"),
    re.compile(r"sample-[a-z]+\.(?:jpg|png)"),
)
_SCALAR = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'(?:[^']|'')*'|[^\s,}\]#]+")


@dataclass(frozen=True, slots=True)
class Stock:
    """What a brand has to show: SKUs and review ids in the order they are taken, scenes the largest first.

    A scene is (file, its dark twin or "", alt text or ""). `reduced` are SKUs with an earlier price, `said`
    the products that reviews speak of, by review id.
    """

    products: Sequence[str]
    reduced: Sequence[str]
    reviews: Sequence[str]
    said: Mapping[str, str]
    scenes: Sequence[tuple[str, str, str]]


@dataclass(frozen=True, slots=True)
class Draft:
    """A campaign's text, and what of the outline the brand had nothing for."""

    text: str
    missing: tuple[str, ...]


def outlines(loader: Loader) -> dict[str, Path]:
    """Every outline by name; the workspace's own hide those built in. Raises MistakesError for links."""
    found: dict[str, Path] = {}
    for folder in (loader.root / loader.workspace.library / "outlines", built_in() / SHARED / "outlines"):
        for path in sorted(folder.glob("*.yaml")):
            if path.is_symlink():
                raise MistakesError(
                    [Mistake(Place(loader.name(path)), "", "is a link", "a real file or folder")]
                )
            found.setdefault(path.stem, path)
    return dict(sorted(found.items()))


def about(path: Path) -> str:
    """The outline's first line, which says what it is for."""
    first = path.read_text("utf-8").partition("\n")[0]
    return first.removeprefix("#").strip().partition(": ")[2] or first.removeprefix("#").strip()


def pick(known: Mapping[str, Path], name: str) -> Path:
    """The outline called `name`. Raises MistakesError with the nearest spelling."""
    if name not in known:
        expected = "one of " + ", ".join(known)
        raise MistakesError(
            [Mistake(Place("outlines"), "", f"no outline {name}", expected, nearest(name, known))]
        )
    return known[name]


def stock(loader: Loader, parts: BrandParts) -> Stock:
    """Raises MistakesError for a catalogue with mistakes."""
    brand, folder, root = parts.brand, parts.files.folders[0], loader.root
    products: list[Any] = []
    reviews: list[Any] = []
    node = parts.files.root.root
    if brand.products is not None:
        rows = load_products(
            brand.products, folder, root, brand.currency, loader.cache, at=child(node, "products")
        )
        products = [*map(rows.pick, rows.keys())]
    if brand.reviews is not None:
        said = load_reviews(brand.reviews, folder, root, loader.cache, at=child(node, "reviews"))
        reviews = [*map(said.pick, said.keys())]
    # whoever was given something or works for the shop may be shown, but should not be the first choice
    trusted = [one for one in reviews if one.verified and not one.relationship]
    chosen = trusted or [one for one in reviews if one.verified] or reviews
    shown = sorted(products, key=lambda one: not one.picture)
    return Stock(
        products=[one.sku for one in shown],
        reduced=[one.sku for one in shown if one.was is not None],
        reviews=[one.id for one in chosen],
        said={one.id: one.product for one in chosen},
        scenes=_scenes(loader, parts, products),
    )


def _scenes(loader: Loader, parts: BrandParts, products: Sequence[Any]) -> list[tuple[str, str, str]]:
    """Pictures large enough to open a mail; where there is none, the products' own."""
    rows = {Path(one.picture).name: one for one in products if one.picture}
    brand = parts.brand
    own: set[str | None] = {item.icon for item in (*brand.social, *brand.navigation) if item.icon}
    if brand.logo is not None:
        own |= {brand.logo.for_light, brand.logo.for_dark}
    sized: list[tuple[int, int, str]] = []
    names: set[str] = set()
    for folder in parts.files.folders:
        for path in sorted((folder / "pictures").glob("*.*")):
            if path.suffix.lower() not in SUFFIXES or path.is_symlink() or path.name in names | own:
                continue
            names.add(path.name)
            source = _source(path, loader)
            if source and source.width >= LEAST and source.width >= SCENE * source.height:
                sized.append((source.width, source.height, path.name))
    sized.sort(key=lambda one: (-one[0], -one[1], one[2]))
    twins = {name: twin for name in names if (twin := _twin(name)) in names}
    dark = set(twins.values())
    free = [name for _width, _height, name in sized if name not in rows and name not in dark]
    scenes = [(name, twins.get(name, ""), "") for name in free]
    # the last product's first: outlines show the first ones themselves
    return scenes or [(row.picture, "", row.alt or row.name) for row in reversed(rows.values())]


def _twin(name: str) -> str:
    stem, _dot, suffix = name.rpartition(".")
    return f"{stem}-dark.{suffix}"


def _source(path: Path, loader: Loader) -> Source | None:
    try:
        return inspect(path, loader.cache)
    except Fault:  # no picture that mail can be made from: none to open with either
        return None


def draft(text: str, name: str, campaign: str, brand: str, has: Stock) -> Draft:
    """An outline's `text` made `campaign` of `brand`; `name` is the outline's, for messages.

    Raises MistakesError when the outline is no YAML or holds no stack.
    """
    root = parse_yaml(text.encode(), name).root
    stack = child(root, "stack")
    if not entries(stack):
        raise MistakesError([Mistake(Place(name), "stack", "the stack holds no section", "- block: name")])
    return _Draft(text, root, has).run(campaign, brand)


def fit(loader: Loader, doc: Doc) -> None:
    """Compile a campaign in memory. Raises MistakesError with everything that keeps it from compiling."""
    render(resolve_doc(loader, doc))


class _Draft:
    """Collects changes of a text by line and column, and makes them from the end backwards."""

    def __init__(self, text: str, root: Node, has: Stock) -> None:
        self.lines = text.splitlines()
        self.root = root
        self.has = has
        self.changes: dict[tuple[int, int], str] = {}
        self.dropped: set[int] = set()
        self.missing: list[str] = []

    def run(self, campaign: str, brand: str) -> Draft:
        for key, value in (("campaign", campaign), ("brand", brand)):
            node = child(self.root, key)
            if node is not None:
                self.change(node, value)
        uses = list(_uses(child(self.root, "stack")))
        names = {name for name, _node, _parent in uses}
        table = self.table(names)
        stack = entries(child(self.root, "stack"))
        for number, section in enumerate(stack):
            last = self.last_line(stack, number)
            self.section(section, last, table)
        for (line, column), value in sorted(self.changes.items(), reverse=True):
            whole = self.lines[line]
            found = _SCALAR.match(whole, column)
            end = found.end() if found else column
            self.lines[line] = whole[:column] + value + whole[end:]
        for line in self.dropped:
            bare = self.lines[line].lstrip()
            if bare and not bare.startswith("#"):
                indent = len(self.lines[line]) - len(bare)
                start = min(indent, 2)
                self.lines[line] = self.lines[line][:start] + "# " + self.lines[line][start:]
        return Draft("\n".join(self.lines) + "\n", tuple(self.missing))

    def change(self, node: Node, value: str) -> None:
        at = place(node)
        self.changes[at.line - 1, at.column - 1] = value

    def table(self, names: set[str]) -> dict[str, str]:
        """The brand's name for each of the sample shop's, as far as it has any."""
        has = self.has
        offer = child(self.root, "offer")
        markdown = scalar(child(offer, "kind")) == "markdown"
        products = list(has.products)
        if any(_REVIEW.fullmatch(name) for name in names):
            spoken = [has.said[one] for one in has.reviews if has.said[one] in products]
            products = list(dict.fromkeys([*spoken, *products]))
        if markdown:
            products = [*(one for one in products if one in has.reduced),
                        *(one for one in products if one not in has.reduced)]  # fmt: skip
        skus = sorted((name for name in names if _SKU.fullmatch(name)), key=_number)
        table = dict(zip(skus, products, strict=False))
        first = list(table.values()) or products
        reviews = sorted(
            has.reviews, key=lambda one: first.index(has.said[one]) if has.said[one] in first else len(first)
        )
        wanted = sorted((name for name in names if _REVIEW.fullmatch(name)), key=_number)
        table.update(zip(wanted, reviews, strict=False))
        return table

    def section(self, section: Node, last: int, table: Mapping[str, str]) -> None:
        """Put the brand's names into one section, or comment out what it has nothing for."""
        first = place(section).line - 1
        lists: dict[int, list[bool]] = {}
        lacking: set[str] = set()
        scenes = iter(self.has.scenes)
        for name, node, parent in _uses(section):
            if _PICTURE.fullmatch(name):
                scene = next(scenes, None)
                if scene is None:
                    lacking.add("picture")
                else:
                    self.picture(node, parent, scene)
                continue
            own = table.get(name)
            line = place(node).line - 1
            kept = lists.setdefault(id(parent), [])
            kept.append(own is not None)
            if own is not None:
                self.change(node, _quoted(own))
            elif self.lines[line].lstrip().startswith("- "):
                self.dropped.add(line)
            else:
                kept.append(False)
                lacking.add("product" if _SKU.fullmatch(name) else "review")
            if not any(kept):
                lacking.add("product" if _SKU.fullmatch(name) else "review")
            else:
                lacking.discard("product" if _SKU.fullmatch(name) else "review")
        if lacking:
            self.dropped.update(range(first, last))
            what = " and no ".join(sorted(lacking))
            block = scalar(child(section, "block")) or scalar(child(section, "standing")) or "a section"
            self.missing.append(f"{block} is commented out: this shop has no {what} to show yet")

    def picture(self, node: Node, parent: Node, scene: tuple[str, str, str]) -> None:
        file, dark, alt = scene
        inline = "{" in self.lines[place(node).line - 1]
        self.change(node, _quoted(file) + (f", dark: {_quoted(dark)}" if dark and inline else ""))
        written = child(parent, "alt")
        if written is not None and file != scalar(node):  # the sample's own picture is described already
            self.change(written, _quoted(alt or TO_WRITE, always=True))
            if not alt:
                self.missing.append(f"{file}: its alt text is to be written (line {place(written).line})")

    def last_line(self, stack: Sequence[Node], number: int) -> int:
        """The line after a section's last, before the comments that open the next one."""
        if number + 1 == len(stack):
            return len(self.lines)
        line = place(stack[number + 1]).line - 1
        while line > 0 and (
            not self.lines[line - 1].strip() or self.lines[line - 1].lstrip().startswith("#")
        ):
            line -= 1
        return line


def _uses(node: Node | None, parent: Node | None = None) -> Iterator[tuple[str, Node, Node]]:
    """The sample shop's names below `node`, each with the node around it."""
    text = scalar(node)
    if node is not None and parent is not None and text is not None:
        if any(pattern.fullmatch(text) for pattern in (_SKU, _REVIEW, _PICTURE)):
            yield text, node, parent
        return
    for _key, value in items(node):
        # an entry written as a mapping belongs to its list
        yield from _uses(value, node if parent is None or _key.value not in ("sku", "id") else parent)
    for entry in entries(node):
        yield from _uses(entry, node)


def _number(name: str) -> int:
    return int(name.partition("-")[2])


def _quoted(value: str, always: bool = False) -> str:
    """As a YAML scalar that stays whole in any place."""
    if not always and re.fullmatch(r"[A-Za-z0-9][\w./-]*", value, re.ASCII):
        return value
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
