"""The slow half of building a library: read, check, resolve, splice, compile. Only runs when the cache misses."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from types import CodeType
from typing import Any

from jinja2 import TemplateSyntaxError
from jinja2.meta import find_undeclared_variables

from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.source import Doc, Node, child, find, key_place, place, read_yaml
from handbill.brand.style import HouseStyle
from handbill.library import cascade
from handbill.library.block import Block, field_at, local_measures, look_up
from handbill.library.build import SHARED_PARTS, Library
from handbill.library.css import ALL, DARK, PHONE, Declaration, Rule, parse_css, physical
from handbill.library.environment import FILTERS, make_environment
from handbill.library.find import SHARED, Found, built_in
from handbill.library.lexer import Lexed, Raw, Tag, lex
from handbill.library.sandbox import check
from handbill.library.spec import BlockSpec, FieldSpec, SharedSpec, choices
from handbill.library.splice import Registry, Scope, Sheets, Splicer
from handbill.models.brand import Brand
from handbill.models.check import validate

GROUND, PAGE = "ground", "page"  # tables that rendering reads
MACROS_HTML, MACROS_TEXT = "macros.html", "macros.txt"
_REFUSED_TAGS = frozenset({"script", "form", "input", "select", "textarea", "iframe", "object", "embed", "link",
                           "meta", "base", "style", "svg", "video", "audio", "applet"})  # fmt: skip
_OUT = re.compile(r"\{\{-?\s*(.*?)\s*-?\}\}", re.DOTALL)
_CALL = re.compile(r"^([a-z_]\w*)\(")


def assemble(
    found: Sequence[Found],
    brand: Brand,
    brand_doc: Doc,
    house: HouseStyle,
    rtl: bool,
    digest: str,
    root: Path,
) -> Library:
    """Every block of `found`, ready; raises MistakesError with all mistakes of all of them."""
    return _Assembly(brand, brand_doc, house, rtl, root).run(found, digest)


class _Assembly:
    def __init__(self, brand: Brand, brand_doc: Doc, house: HouseStyle, rtl: bool, root: Path) -> None:
        self.brand = brand
        self.brand_doc = brand_doc
        self.house = house
        self.rtl = rtl
        self.root = root
        self.registry = Registry()
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
        self.text(MACROS_TEXT, text, self.name(folder / "macros.txt.j2"), shared=True)
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
        self.check_slots(block, doc)
        self.blocks[found.name] = block
        domains = choices(spec.fields)
        scope = Scope(domains, frozenset(self.macros), spec.dynamic, measures, self.slot_widths(block))
        html, css, text = sources
        files = [self.name(found.folder / name) for name in ("block.html.j2", "block.css", "block.txt.j2")]
        self.html(f"{found.name}.html", html, files[0], css, files[1], scope)
        self.text(f"{found.name}.txt", text, files[2])

    def uses(self, html: str, _css: str, text: str) -> frozenset[str]:
        try:
            trees = [self.environment.parse(source) for source in (html, text)]
        except TemplateSyntaxError:
            return frozenset()  # reported with its line when the template is checked
        return frozenset(name for tree in trees for name in find_undeclared_variables(tree))

    def sources(self, found: Found, doc: Doc) -> tuple[str, str, str] | None:
        texts = []
        for name in ("block.html.j2", "block.css", "block.txt.j2"):
            try:
                texts.append((found.folder / name).read_text("utf-8"))
            except FileNotFoundError:
                what = {"block.txt.j2": "text form", "block.css": "styles", "block.html.j2": "template"}[name]
                self.mistakes.append(
                    Mistake(
                        place(doc.root), "", f"block {found.name} has no {what}", f"{name} beside block.yaml"
                    )
                )
            except (OSError, UnicodeDecodeError):
                self.mistakes.append(
                    Mistake(Place(self.name(found.folder / name)), "", "cannot be read as UTF-8")
                )
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
                    *(one for one, field in _all_fields(spec.fields) if field.type in ("choice", "toggle")),
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
            return {}  # reported by check_slots

    def check_slots(self, block: Block, doc: Doc) -> None:
        try:
            widths = block.widths(self.house)
        except Fault as fault:
            self.mistakes.append(fault.at(place(child(doc.root, "slots") or doc.root), "slots"))
            return
        for name, field in _all_fields(block.spec.fields):
            for slot in _leaves(field.slot):
                try:
                    block.pixels(slot, self.house) if slot.startswith("var(") else look_up(
                        slot, widths, "slot"
                    )
                except Fault as fault:
                    self.mistakes.append(
                        fault.at(_field_place(doc.root, name, "slot"), f"fields.{name}.slot")
                    )

    # -- templates

    def html(
        self, name: str, source: str, file: str, css: str, css_file: str, scope: Scope, shared: bool = False
    ) -> None:
        wrong = check(self.environment, source, file, scope.macros, shared=shared)
        rules, css_wrong = parse_css(css, css_file)
        lexed = lex(source, file)
        wrong += [*css_wrong, *_markup(lexed, file, shared)]
        splicer = Splicer(lexed, scope, self.house, self.registry, shared, self.rtl)
        keys = splicer.keys()
        spliced = splicer.emit(_sheets(rules, keys, self.rtl))
        wrong += splicer.mistakes
        if wrong:
            self.mistakes.extend(wrong)
            return
        if not shared:
            spliced = f'{{% from "{MACROS_HTML}" import {", ".join(sorted(self.macros))} %}}' + spliced
        self.codes[name] = self.compile(spliced, name, file)

    def text(self, name: str, source: str, file: str, shared: bool = False) -> None:
        wrong = check(self.environment, source, file, self.text_macros, shared=shared)
        if wrong:
            self.mistakes.extend(wrong)
            return

        def wrap(match: re.Match[str]) -> str:
            call = _CALL.match(match.group(1))
            if call and call.group(1) in self.text_macros:
                return match.group()
            breaks = match.group().count("\n")
            return f"{{{{ ({match.group(1)})|_t }}}}" + ("{#" + "\n" * breaks + "#}" if breaks else "")

        wrapped = _OUT.sub(wrap, source)
        if not shared:
            wrapped = f'{{% from "{MACROS_TEXT}" import {", ".join(sorted(self.text_macros))} %}}' + wrapped
        self.codes[name] = self.compile(wrapped, name, file)

    def compile(self, source: str, name: str, file: str) -> CodeType:
        return self.environment.compile(source, name, file)


def _sheets(rules: Iterable[Rule], keys: set[cascade.ClassSet], rtl: bool) -> Sheets:
    made = [Rule(rule.media, rule.classes, tuple(_physical(rule.declarations, rtl))) for rule in rules]
    by = {
        media: cascade.resolve([rule for rule in made if rule.media in (ALL, media)], keys)
        for media in (ALL, PHONE, DARK)
    }
    return Sheets(by[ALL], by[PHONE], by[DARK])


def _physical(declarations: Iterable[Declaration], rtl: bool) -> Iterable[Declaration]:
    for declaration in declarations:
        yield from physical(declaration, rtl)


def _markup(lexed: Lexed, file: str, shared: bool) -> Iterable[Mistake]:
    for token in lexed.tokens:
        if not isinstance(token, Tag):
            continue
        where = Place(file, token.line, token.column)
        if token.name in _REFUSED_TAGS:
            yield Mistake(where, "", f"<{token.name}> is not allowed in a block")
        for part in token.parts:
            if not isinstance(part, Raw):
                spot = Place(file, part.line, part.column)
                text = "".join(piece.text if isinstance(piece, Raw) else "" for piece in part.value or ())
                if part.name.startswith("on"):
                    yield Mistake(spot, "", f"{part.name} is not allowed: mail runs no script")
                elif not shared and re.search(r"url\(|@import|javascript:", text, re.IGNORECASE):
                    yield Mistake(spot, "", f"an address in {part.name}", "the shared background macro")


def _all_fields(fields: Mapping[str, FieldSpec], prefix: str = "") -> Iterable[tuple[str, FieldSpec]]:
    for name, field in fields.items():
        yield prefix + name, field
        yield from _all_fields(field.of, f"{prefix}{name}.")


def _leaves(value: Any) -> Iterable[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _leaves(inner)


def _field_place(root: Node, name: str, key: str) -> Place:
    way: list[str] = []
    for step in name.split("."):
        way += ["of" if way else "fields", step]
    return place(find(root, (*way, key))[0])
