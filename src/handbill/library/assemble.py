"""The slow half of building a library, run when the cache misses: read, check, resolve, splice, compile.

Enters: blocks and a house style; leaves: a `Library`, or every mistake in every block.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import CodeType
from typing import Any

from jinja2 import TemplateSyntaxError, nodes

from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.source import Doc, find, key_place, place, read_yaml
from handbill.brand.style import HouseStyle
from handbill.library import cascade
from handbill.library.block import Block, field_at, local_measures
from handbill.library.build import SHARED_PARTS, Library
from handbill.library.css import parse_css, physical
from handbill.library.environment import CELL, FILTERS, make_environment
from handbill.library.find import SHARED, Found, built_in
from handbill.library.lexer import lex
from handbill.library.markup import check_markup
from handbill.library.references import all_fields, check_references
from handbill.library.sandbox import check
from handbill.library.spec import BlockSpec, SharedSpec, choices
from handbill.library.splice import Scope, Splicer, spliced_text
from handbill.library.styles import Registry, Sheets
from handbill.library.tokens import ALL, DARK, NARROW, PHONE, Declaration, Rule
from handbill.models.brand import Brand
from handbill.models.check import validate

GROUND, PAGE = "ground", "page"  # tables that rendering reads
MACROS_HTML, MACROS_TEXT = "macros.html", "macros.txt"
MAX_BYTES = 1 << 18  # of a template or style sheet: a few KB are usual


def assemble(
    found: Sequence[Found],
    brand: Brand,
    brand_doc: Doc,
    house: HouseStyle,
    rtl: bool,
    digest: str,
    root: Path,
    rules: Mapping[str, tuple[str, str]],
) -> Library:
    """Every block of `found`, ready; raises MistakesError with all mistakes of all of them.

    `rules` are there already, under their classes.
    """
    return _Assembly(brand, brand_doc, house, rtl, root, rules).run(found, digest)


class _Assembly:
    def __init__(
        self, brand: Brand, brand_doc: Doc, house: HouseStyle, rtl: bool, root: Path,
        rules: Mapping[str, tuple[str, str]],
    ) -> None:  # fmt: skip
        self.brand = brand
        self.brand_doc = brand_doc
        self.house = house
        self.rtl = rtl
        self.root = root
        # Several libraries may be made beside one and serve the same mail: 48 bits keep their classes apart.
        self.registry = Registry(rules=dict(rules), digits=12 if rules else 4)
        self.environment = make_environment(FILTERS)
        self.mistakes: list[Mistake] = []
        self.codes: dict[str, CodeType] = {}
        self.blocks: dict[str, Block] = {}
        self.macros: dict[str, Any] = {}
        self.text_macros: frozenset[str] = frozenset()

    def run(self, found: Sequence[Found], digest: str) -> Library:
        self.grounds()
        shared_words = self.shared()
        for one in found:
            self.block(one)
        for name in self.brand.blocks:
            if name not in self.blocks:
                where = key_place(self.brand_doc.root, ("blocks", name))
                self.mistakes.append(
                    Mistake(where, f"blocks.{name}", f"no block {name}", nearest=nearest(name, self.blocks))
                )
        if self.mistakes:
            raise MistakesError(self.mistakes)
        return Library(
            self.house, self.blocks, self.registry.tables, self.registry.rules, self.codes, shared_words,
            self.rtl, digest,
        )  # fmt: skip

    def name(self, path: Path) -> str:
        if path.is_relative_to(self.root):
            return path.relative_to(self.root).as_posix()
        return "/".join(("<built-in>", *path.parts[-2:]))

    def grounds(self) -> None:
        """The attributes of the cells that handbill itself lays under sections and under the page."""
        for table, role in ((GROUND, "ground"), (PAGE, "page")):
            self.registry.tables[table] = {
                tone: self.ground(self.house.colour(role, tone), self.house.colour(role, tone, dark=True))
                for tone in self.house.tones
            }

    def ground(self, light: str, dark: str) -> str:
        head = f' class="{self.registry.rule("dark", f"background-color:{dark}")}"' if dark != light else ""
        return f'{head} bgcolor="{light}" style="background-color:{light}"'

    # -- the shared macros

    def shared(self) -> Mapping[str, Mapping[str, str]]:
        folder = built_in() / SHARED
        doc = read_yaml(folder / SHARED_PARTS[0], self.name(folder / SHARED_PARTS[0]))
        spec, wrong = validate(SharedSpec, doc.root)
        if spec is None:
            raise MistakesError(wrong)
        self.macros = spec.macros
        html, css, text = (
            (folder / name).read_text("utf-8") for name in ("macros.html.j2", "macros.css", "macros.txt.j2")
        )
        domains = {
            name: tuple(
                dict.fromkeys(
                    option for macro in spec.macros.values() for option in macro.domains.get(name, ())
                )
            )
            for macro in spec.macros.values()
            for name in macro.domains
        }
        measures = local_measures(spec.measures, {}, self.house)
        scope = Scope(domains, frozenset(spec.macros), spec.dynamic, measures)
        self.html(
            MACROS_HTML,
            html,
            self.name(folder / "macros.html.j2"),
            css,
            self.name(folder / "macros.css"),
            scope,
            shared=True,
        )
        self.text_macros = frozenset(re.findall(r"\{%-?\s*macro\s+(\w+)", text))
        self.text(MACROS_TEXT, text, self.name(folder / "macros.txt.j2"), {}, shared=True)
        return spec.words

    # -- one block

    def block(self, found: Found) -> None:
        path = found.folder / "block.yaml"
        try:
            doc = read_yaml(path, self.name(path))
        except MistakesError as error:
            self.mistakes.extend(error.mistakes)
            return
        spec, wrong = validate(BlockSpec, doc.root)
        self.mistakes.extend(wrong)
        if spec is None:
            return
        if spec.block != found.name:
            self.mistakes.append(
                Mistake(
                    key_place(doc.root, ("block",)),
                    "block",
                    f"block {spec.block} lives in a folder named {found.name}",
                )
            )
        sources = self.sources(found, doc)
        if sources is None:
            return
        measures, defaults = self.given(found.name, spec, doc)
        block = Block(
            found.name,
            str(found.folder),
            found.label,
            spec,
            measures,
            defaults,
            spec.words,
            self.uses(*sources),
        )
        self.mistakes.extend(check_references(block, self.house, doc.root))
        self.blocks[found.name] = block
        scope = Scope(
            choices(spec.fields),
            frozenset(self.macros),
            spec.dynamic,
            measures,
            self.slot_widths(block),
            {name: field.type for name, field in all_fields(spec.fields)},
        )
        html, css, text = sources
        files = [self.name(found.folder / name) for name in ("block.html.j2", "block.css", "block.txt.j2")]
        self.html(f"{found.name}.html", html, files[0], css, files[1], scope)
        if spec.cell:
            flush = dict.fromkeys(("side", "above", "below"), ("0", "0"))
            inner = replace(scope, measures={**measures, **flush}, widths={})
            self.html(f"{found.name}{CELL}", html, files[0], css, files[1], inner)
        self.text(f"{found.name}.txt", text, files[2], scope.types)

    def uses(self, html: str, _css: str, text: str) -> frozenset[str]:
        try:
            trees = [self.environment.parse(source) for source in (html, text)]
        except TemplateSyntaxError:
            return frozenset()  # reported with its line when the template is checked
        return frozenset(name.name for tree in trees for name in tree.find_all(nodes.Name))

    def sources(self, found: Found, doc: Doc) -> tuple[str, str, str] | None:
        texts = []
        for name in ("block.html.j2", "block.css", "block.txt.j2"):
            path = found.folder / name
            try:
                if path.stat().st_size > MAX_BYTES:
                    message = f"the file has more than the {MAX_BYTES:,} bytes allowed"
                    self.mistakes.append(Mistake(Place(self.name(path)), "", message))
                    continue
                texts.append(path.read_text("utf-8"))
            except FileNotFoundError:
                what = {"block.txt.j2": "text form", "block.css": "styles", "block.html.j2": "template"}[name]
                message = f"block {found.name} has no {what}"
                self.mistakes.append(Mistake(place(doc.root), "", message, f"{name} beside block.yaml"))
            except (OSError, UnicodeDecodeError):
                self.mistakes.append(Mistake(Place(self.name(path)), "", "cannot be read as UTF-8"))
        return (texts[0], texts[1], texts[2]) if len(texts) == 3 else None

    def given(
        self, name: str, spec: BlockSpec, doc: Doc
    ) -> tuple[dict[str, tuple[str, str]], dict[str, Any]]:
        """What brand.yaml says of this block: measures it sets anew and defaults of its choices."""
        own = self.brand.blocks.get(name, {})
        measures, defaults = {}, {}
        for key, value in own.items():
            way = ("blocks", name, key)
            field = field_at(spec, tuple(key.split(".")))
            if key in spec.measures:
                measures[key] = value
            elif field is not None and field.type in ("choice", "toggle"):
                if field.type == "choice" and value not in field.options:
                    self.brand_wrong(
                        way,
                        f"{value!r} is not a choice of {key}",
                        "one of " + ", ".join(field.options),
                        nearest(str(value), field.options),
                    )
                defaults[key] = value
            else:
                known = [
                    *spec.measures,
                    *(one for one, field in all_fields(spec.fields) if field.type in ("choice", "toggle")),
                ]
                self.brand_wrong(
                    way,
                    f"block {name} has no measure or choice {key}",
                    "one of " + ", ".join(known),
                    nearest(key, known),
                )
        try:
            return local_measures(spec.measures, measures, self.house), defaults
        except Fault as fault:
            where, _whole = find(self.brand_doc.root, ("blocks", name)) if measures else (doc.root, True)
            self.mistakes.append(fault.at(place(where), f"blocks.{name}"))
            return local_measures({}, {}, self.house), defaults

    def brand_wrong(self, way: tuple[str, ...], message: str, expected: str, near: str) -> None:
        self.mistakes.append(
            Mistake(key_place(self.brand_doc.root, way), ".".join(way), message, expected, near)
        )

    def slot_widths(self, block: Block) -> Mapping[str, Any]:
        try:
            return block.widths(self.house)
        except Fault:
            return {}  # said by check_references

    # -- templates

    def html(
        self, name: str, source: str, file: str, css: str, css_file: str, scope: Scope, shared: bool = False
    ) -> None:
        wrong = check(self.environment, source, file, scope.macros, scope.types, shared=shared)
        rules, css_wrong = parse_css(css, css_file)
        lexed = lex(source, file)
        wrong += [*css_wrong, *check_markup(lexed, shared)]
        splicer = Splicer(lexed, scope, self.house, self.registry, self.environment, shared, self.rtl)
        keys = splicer.keys()
        spliced = splicer.emit(_sheets(rules, keys, self.rtl))
        wrong += splicer.mistakes
        self.finish(name, spliced, file, wrong, scope.macros, scope.types, shared)

    def text(self, name: str, source: str, file: str, types: Mapping[str, str], shared: bool = False) -> None:
        wrong = check(self.environment, source, file, self.text_macros, types, shared=shared)
        self.finish(
            name, spliced_text(source, self.text_macros), file, wrong, self.text_macros, types, shared
        )

    def finish(
        self,
        name: str,
        spliced: str,
        file: str,
        wrong: list[Mistake],
        macros: frozenset[str],
        types: Mapping[str, str],
        shared: bool,
    ) -> None:
        """Compile a template that has nothing wrong, before and after splicing."""
        if not wrong:
            wrong = check(self.environment, spliced, file, macros, types, shared=shared, spliced=True)
        if wrong:
            self.mistakes.extend(wrong)
            return
        if not shared:
            source = MACROS_HTML if name.endswith(".html") else MACROS_TEXT
            spliced = f'{{% from "{source}" import {", ".join(sorted(macros - {"caller"}))} %}}' + spliced
        self.codes[name] = self.environment.compile(spliced, name, file)


def _sheets(rules: Iterable[Rule], keys: set[cascade.ClassSet], rtl: bool) -> Sheets:
    made = [Rule(rule.media, rule.classes, tuple(_physical(rule.declarations, rtl))) for rule in rules]
    base = cascade.resolve([rule for rule in made if rule.media == ALL], keys)

    def resolved(media: str) -> Mapping[cascade.ClassSet, cascade.Resolved]:
        if not any(rule.media == media for rule in made):
            return base
        return cascade.resolve([rule for rule in made if rule.media in (ALL, media)], keys)

    narrow = [rule for rule in made if rule.media == NARROW]
    return Sheets(base, resolved(PHONE), resolved(DARK), cascade.resolve(narrow, keys) if narrow else {})


def _physical(declarations: Iterable[Declaration], rtl: bool) -> Iterable[Declaration]:
    for declaration in declarations:
        yield from physical(declaration, rtl)
