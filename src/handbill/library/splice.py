"""Styles spliced into templates. Enters: a lexed template and its rules; leaves: Jinja source and tables.

Every element's class attribute becomes finished attributes. Where a choice or the tone decides, they are
looked up in a table made here, so that rendering does no style work. Every output gets its context's filter.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from typing import Any

from jinja2 import Environment, TemplateSyntaxError, nodes

from handbill.base.errors import Fault, Mistake, Place, nearest
from handbill.base.frozen import dataclass, field
from handbill.brand.style import BASE, HouseStyle
from handbill.library.cascade import ClassSet
from handbill.library.lexer import URL_ATTRIBUTES, Attribute, Lexed, Out, Raw, Tag
from handbill.library.styles import Registry, Sheets, Styles

PROSE_KEYS = ("p", "p-last", "a", "ul", "ol", "li", "strong", "em")
MAX_COMBINATIONS = 4000  # of choices and tones on one element

_PROSE = re.compile(r"^([\w.]+)\s*\|\s*(prose|inline)\('([a-z][a-z0-9-]*)'\)$")
_CALL = re.compile(r"^([a-z_]\w*)\(")
_SIZES = frozenset({"width", "max-width", "height"})  # what a style attribute may hold, from the compiler
_SIZE = re.compile(r"width(?:\.\w+)+|(?:\w+\.)+(?:width|height)")
_CLASS = re.compile(r"[a-z][a-z0-9-]*")
Combos = list[tuple[tuple[str, ...], ClassSet]]


@dataclass(slots=True)
class Scope:
    """What a template may refer to.

    `domains` holds the values of every choice by name, `types` each field's type by dotted name, `widths` the
    slots in px.
    """

    domains: Mapping[str, tuple[str, ...]]
    macros: frozenset[str]
    dynamic: Mapping[str, tuple[str, ...]]
    measures: Mapping[str, tuple[str, str]]
    widths: Mapping[str, Any] = field(default_factory=dict)
    types: Mapping[str, str] = field(default_factory=dict)

    def named(self, kind: str) -> frozenset[str]:
        """The last steps of the names of all fields of a type."""
        return frozenset(name.rpartition(".")[2] for name, one in self.types.items() if one == kind)


class Splicer:
    """Two passes over one template: `keys` tells which class sets occur, `emit` writes the new source."""

    def __init__(
        self,
        lexed: Lexed,
        scope: Scope,
        house: HouseStyle,
        registry: Registry,
        environment: Environment,
        shared: bool = False,
        rtl: bool = False,
    ) -> None:
        self.aligns = {"start": "right" if rtl else "left", "end": "left" if rtl else "right"}
        self.shared = shared  # the shared macros may set any property, and addresses
        self.lexed = lexed
        self.scope = scope
        self.house = house
        self.registry = registry
        self.environment = environment
        self.mistakes: list[Mistake] = list(lexed.mistakes)
        self.styles = Styles(house, scope.measures, registry, Sheets({}, {}, {}, {}))

    def wrong(self, at: Tag | Out | Attribute, message: str, expected: str = "", close: str = "") -> None:
        self.mistakes.append(Mistake(self.place(at), "", message, expected, close))

    def place(self, at: Tag | Out | Attribute) -> Place:
        return Place(self.lexed.file, at.line, at.column)

    # -- first pass

    def keys(self) -> set[ClassSet]:
        """Every class set that an element may carry, copy's own elements included."""
        found: set[ClassSet] = set()
        for token in self.lexed.tokens:
            if isinstance(token, Tag):
                attribute = token.get("class")
                if attribute is not None:
                    found.update(classes for _combo, classes in self.combinations(attribute)[1])
            elif isinstance(token, Out):
                prose = _PROSE.match(token.expression)
                if prose:
                    found.update(frozenset({f"{prose.group(3)}-{key}"}) for key in PROSE_KEYS)
        return found

    def combinations(self, attribute: Attribute) -> tuple[list[str], Combos]:
        """A class attribute's expressions and, for each combination of their values, the class set."""
        literal: list[str] = []
        expressions: list[str] = []
        domains: list[tuple[str, ...]] = []
        before = ""
        for part in attribute.value or ():
            if isinstance(part, Raw):
                if part.text.startswith("{"):
                    expected = "{{ 'name' if condition else 'other' }}"
                    self.wrong(attribute, "statements cannot stand in a class attribute", expected)
                    continue
                if before == "}" and not part.text[0].isspace():
                    self.wrong(attribute, "an expression is a whole class name", "spaces around it")
                literal.extend(part.text.split())
                before = part.text[-1]
                continue
            if before and not before.isspace():
                self.wrong(attribute, "an expression is a whole class name", "spaces around it")
            before = "}"
            domain = self.domain(part)
            if domain and part.expression not in expressions:
                expressions.append(part.expression)
                domains.append(domain)
        for name in literal:
            if not _CLASS.fullmatch(name):
                self.wrong(attribute, f"{name!r} is not a class name", "lower-case letters, digits, hyphens")
                return [], []
        total = len(self.house.tones)
        for domain in domains:
            total *= len(domain)
        if total > MAX_COMBINATIONS:
            self.wrong(attribute, "too many combinations of choices on one element", "two elements")
            return [], []
        combos: Combos = []
        for values in product(*domains):
            names = [*literal, *(name for value in values for name in value.split())]
            combos.append((tuple(values), frozenset(names)))
        return expressions, combos

    def domain(self, part: Out) -> tuple[str, ...] | None:
        """All values that an expression in a class attribute can take, None when that is not known."""
        try:
            body = self.environment.parse(f"{{{{ {part.expression} }}}}").body
            node = body[0].nodes[0] if body and isinstance(body[0], nodes.Output) else None
            if isinstance(node, nodes.CondExpr) and node.expr2 is None:
                part.expression = f"{part.expression} else ''"
                node.expr2 = nodes.Const("")
            return tuple(dict.fromkeys(self.values(node)))
        except TemplateSyntaxError:
            return None  # said when the template is checked
        except Fault as fault:
            self.wrong(part, fault.message, fault.expected, fault.nearest)
            return None

    def values(self, node: nodes.Node | None) -> Iterator[str]:
        """Raises Fault for anything but a choice, the tone, a word, or one of these by a condition."""
        if isinstance(node, nodes.Const) and isinstance(node.value, str):
            if all(_CLASS.fullmatch(name) for name in node.value.split()):
                yield from (node.value,)
                return
        elif isinstance(node, nodes.CondExpr) and node.expr2 is not None:
            yield from self.values(node.expr1)
            yield from self.values(node.expr2)
            return
        name = ""
        if isinstance(node, nodes.Name | nodes.Getattr):
            name = node.name if isinstance(node, nodes.Name) else node.attr
            if name == "tone":
                yield from self.house.tones
                return
            if name in self.scope.domains:
                yield from self.scope.domains[name]
                return
        raise Fault(
            f"class depends on {name or 'a value'}, which is not a choice",
            expected="a choice of this block, or {{ 'name' if condition else 'other' }}",
            nearest=nearest(name, self.scope.domains) if name else "",
        )

    # -- second pass

    def emit(self, sheets: Sheets) -> str:
        """The new source, line for line."""
        self.styles = Styles(self.house, self.scope.measures, self.registry, sheets)
        out: list[str] = []
        for token in self.lexed.tokens:
            if isinstance(token, Raw):
                out.append(token.text)
            elif isinstance(token, Out):
                out.append(self.text(token) + ("{#" + "\n" * token.breaks + "#}" if token.breaks else ""))
            else:
                out.append(self.tag(token))
        self.mistakes += self.styles.mistakes
        return "".join(out)

    def text(self, token: Out) -> str:
        call = _CALL.match(token.expression)
        if call and call.group(1) in self.scope.macros:
            return f"{{{{ {token.expression} }}}}"
        prose = _PROSE.match(token.expression)
        if prose:
            value, form, stem = prose.groups()
            table = {
                tone: {key: self.prose(stem, key, tone, token) for key in PROSE_KEYS}
                for tone in self.house.tones
            }
            return f"{{{{ {value}|_{form}({self.registry.table(table)}[tone]) }}}}"
        if "|" in token.expression or token.expression.rpartition(".")[2] in self.scope.named("copy"):
            name = token.expression.partition("|")[0].strip()
            self.wrong(token, "copy needs the name of its styles", f"{{{{ {name}|prose('name') }}}}")
        return f"{{{{ ({token.expression})|_h }}}}"

    def prose(self, stem: str, key: str, tone: str, token: Out) -> str:
        classes = frozenset({f"{stem}-{key}"})
        extra = {"margin": "0"} if key in ("p", "p-last", "ul", "ol") else {}
        if key == "p-last" and not self.styles.sheets.base.get(classes):
            classes = frozenset({f"{stem}-p"})
        elif key == "p-last":
            extra = {}
        return " " + self.styles.attributes(
            key.removesuffix("-last"),
            classes,
            tone,
            self.place(token),
            after=extra if key == "p-last" else {},
            before=extra,
        )

    def tag(self, tag: Tag) -> str:
        level = tag.name.startswith("h{{")
        shape = "h" if level else tag.name
        attribute = tag.get("class")
        expressions, combos = self.combinations(attribute) if attribute else ([], [((), frozenset())])
        widths, literal, dynamic = self.style(tag, combos)
        at = self.place(attribute or tag)
        table: dict[tuple[str, ...], dict[str, str]] = {
            combo: {
                tone: self.styles.attributes(
                    shape, classes, tone, at, literal=literal, left_open=bool(dynamic), wide_only=widths
                )
                for tone in self.house.tones
            }
            for combo, classes in combos
        }
        pieces = ["<h{{ (" + tag.name[3:].strip("{} ") + ")|_a }}" if level else f"<{tag.name}"]
        if shape == "table" and tag.get("role") is None:
            pieces.append(' role="presentation" border="0" cellpadding="0" cellspacing="0"')
        for part in tag.parts:
            if isinstance(part, Raw):
                pieces.append(part.text)
            elif part.name not in ("class", "style"):
                pieces.append(self.attribute(part))
        pieces.append(self.lookup(expressions, table))
        if dynamic:
            pieces.append(f'{dynamic}"')
        lost = tag.newlines - "".join(pieces).count("\n")
        if lost > 0:
            pieces.append("{#" + "\n" * lost + "#}")
        return "".join(pieces) + tag.closing

    def lookup(self, expressions: list[str], table: Mapping[tuple[str, ...], Mapping[str, str]]) -> str:
        """The finished attributes: a constant where nothing varies, else a look-up along what does."""
        values = {text for tones in table.values() for text in tones.values()}
        if len(values) <= 1:
            text = next(iter(values), "")
            return f" {text}" if text else ""
        toned = any(len(set(tones.values())) > 1 for tones in table.values())
        names = [*expressions, "tone"] if toned and "tone" not in expressions else list(expressions)
        nested: dict[str, Any] = {}
        for combo, tones in table.items():
            if "tone" in expressions:
                leaves = [(list(combo), tones[combo[expressions.index("tone")]])]
            elif toned:
                leaves = [([*combo, tone], text) for tone, text in tones.items()]
            else:
                leaves = [(list(combo), tones[BASE])]
            for way, text in leaves:
                level = nested
                for step in way[:-1]:
                    level = level.setdefault(step, {})
                level[way[-1]] = f" {text}" if text else ""
        keys = "".join(f"[{name}]" for name in names)
        return f"{{{{ {self.registry.table(nested)}{keys} }}}}"

    def by_tone(self, text: str, at: Attribute) -> str:
        """`text` with its `var()` replaced, by tone where that makes a difference."""
        tones = {tone: self.styles.value(text, tone, self.place(at)) for tone in self.house.tones}
        if len(set(tones.values())) == 1:
            return tones[BASE]
        return f"{{{{ {self.registry.table(tones)}[tone] }}}}"

    def attribute(self, part: Attribute) -> str:
        if part.value is None:
            return f" {part.name}"
        context = "_u" if part.name in URL_ATTRIBUTES else "_a"
        out = [f' {part.name}="']
        for piece in part.value:
            if isinstance(piece, Raw):
                text = self.aligns.get(piece.text, piece.text) if part.name == "align" else piece.text
                out.append(self.by_tone(text, part) if "var(--" in text else text)
            elif part.name == "align":
                sides = {value: self.aligns.get(value, value) for value in self.domain(piece) or ()}
                out.append(f"{{{{ {self.registry.table(sides)}[{piece.expression}] }}}}")
            else:
                out.append(f"{{{{ ({piece.expression})|{context} }}}}")
        return "".join(out) + '"'

    # -- style attributes

    def style(self, tag: Tag, combos: Sequence[tuple[Any, ClassSet]]) -> tuple[dict[str, str], str, str]:
        """A style attribute as sizes for wide screens, as literal text, or as text that goes on."""
        style = tag.get("style")
        if style is None or not style.value:
            return {}, "", ""
        sizes = self.sizes(style)
        if sizes:
            return sizes, "", ""
        if self.shared and all(
            isinstance(part, Raw) and not part.text.startswith("{%") for part in style.value
        ):
            return {}, self.styles.value(style.literal(), BASE, self.place(style)), ""
        return {}, "", self.dynamic(style, combos)

    def sizes(self, style: Attribute) -> dict[str, str]:
        """A style that only holds sizes the compiler made: `max-width:{{ width.row.words }}px`."""
        text = ""
        for part in style.value or ():
            if isinstance(part, Raw):
                text += part.text
                continue
            value: Any = self.scope.widths if part.expression.startswith("width.") else None
            for step in part.expression.split(".")[1:]:
                value = value.get(step) if isinstance(value, Mapping) else None
            if not isinstance(value, int):
                return {}
            text += str(value)
        pairs = [pair.partition(":") for pair in text.split(";") if pair.strip()]
        found = {name.strip(): value.strip() for name, _, value in pairs}
        plain = all(re.fullmatch(r"\d+(?:px|%)?", value) for value in found.values())
        return found if plain and found.keys() <= _SIZES else {}

    def dynamic(self, style: Attribute, combos: Sequence[tuple[Any, ClassSet]]) -> str:
        """A style that an author chose, appended last: properties declared `dynamic`, and sizes."""
        allowed = {
            name for _combo, classes in combos for one in classes for name in self.scope.dynamic.get(one, ())
        }
        text, names = "", ""
        for part in style.value or ():
            if isinstance(part, Raw):
                text += part.text
                names += "" if part.text.startswith("{%") else part.text
                continue
            text += f"{{{{ ({part.expression})|{'_u' if part.expression.endswith('.src') else '_a'} }}}}"
            names += "X"
            if not self.shared and not self.chosen(part.expression):
                expected = "a colour or number field, or a width"
                self.wrong(style, f"{part.expression} cannot stand in a style", expected)
        for declaration in () if self.shared else names.split(";"):
            name = declaration.partition(":")[0].strip()
            if name and name not in allowed | _SIZES:
                expected = "dynamic: in block.yaml, or a class"
                self.wrong(style, f"{name} is not declared dynamic for this element", expected)
        if "var(--" in text:
            self.wrong(style, "var() does not stand beside an expression", "a class")
        return text.strip().rstrip(";")

    def chosen(self, expression: str) -> bool:
        """Whether a value is one that models have checked to be a colour or a number."""
        fields = self.scope.named("colour") | self.scope.named("number") | {"colour"}
        return bool(_SIZE.fullmatch(expression)) or expression.rpartition(".")[2] in fields


def spliced_text(source: str, macros: frozenset[str]) -> str:
    """A text template whose every output has the filter of plain text, line for line."""

    def wrap(match: re.Match[str]) -> str:
        whole = match.group()
        if not whole.startswith("{{"):
            return whole
        expression = whole[2:-2].strip("-+ \t\r\n")
        call = _CALL.match(expression)
        if call and call.group(1) in macros:
            return whole
        breaks = whole.count("\n") - expression.count("\n")
        return f"{{{{ ({expression})|_t }}}}" + ("{#" + "\n" * breaks + "#}" if breaks else "")

    return _JINJA.sub(wrap, source)


_JINJA = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.DOTALL)
