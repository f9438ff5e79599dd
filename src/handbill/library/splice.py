"""Styles spliced into templates. Enters: lexed templates and resolved rules; leaves: Jinja source and tables.

Every element's class attribute becomes finished attributes: `style`, `bgcolor`, and short classes for what
phones and dark screens change. Where the result depends on a choice or on the tone it is a look-up in a table
made here, so that rendering does no style work at all.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from itertools import product
from typing import Any

from handbill.base.errors import Fault, Mistake, Place, nearest
from handbill.brand.style import BASE, HouseStyle
from handbill.library.cascade import ClassSet, Resolved
from handbill.library.css import Declaration
from handbill.library.lexer import URL_ATTRIBUTES, Attribute, Lexed, Out, Raw, Tag

PROSE_KEYS = ("p", "p-last", "a", "ul", "ol", "li", "strong", "em")
MAX_COMBINATIONS = 4000
WIDE, DARK = "wide", "dark"  # what a head rule is for

_VAR = re.compile(r"var\(--([a-z0-9-]+)\)")
_PROSE = re.compile(r"^([\w.]+)\s*\|\s*(prose|inline)\('([a-z][a-z0-9-]*)'\)$")
_CALL = re.compile(r"^([a-z_]\w*)\(")
_NAME = re.compile(r"^[a-z_]\w*(?:\.[a-z_]\w*)*$")
_EITHER = re.compile(r"^'([a-z0-9 -]*)' if (.+?)(?: else '([a-z0-9 -]*)')?$", re.DOTALL)
_DEFAULTS = {
    "img": "display:block;border:0;outline:none;text-decoration:none",
    "p": "margin:0",
    "h": "margin:0",
    "ul": "margin:0",
    "ol": "margin:0",
}
_CELLS = frozenset({"td", "th", "table", "body"})


@dataclass(frozen=True, slots=True)
class Sheets:
    """The resolved declarations of every class set: as they are, on phones, on dark screens."""

    base: Mapping[ClassSet, Resolved]
    phone: Mapping[ClassSet, Resolved]
    dark: Mapping[ClassSet, Resolved]


@dataclass(slots=True)
class Registry:
    """What a whole library shares: look-up tables by name, and the head rules by short class."""

    tables: dict[str, Any] = field(default_factory=dict)
    rules: dict[str, tuple[str, str]] = field(default_factory=dict)  # class -> (media, declarations)

    def table(self, content: Any) -> str:
        name = f"s{len(self.tables)}"
        self.tables[name] = content
        return name

    def rule(self, media: str, declarations: str) -> str:
        """The class under which `declarations` stand in the head; named by content, so it never moves."""
        prop, _, value = declarations.partition(":")
        plain = re.fullmatch(r"#([0-9a-f]{6})", value)
        if media == DARK and plain and prop in ("color", "background-color"):
            name = f"{'c' if prop == 'color' else 'b'}{plain.group(1)}"
        else:
            digest = sha256(f"{media}|{declarations}".encode()).hexdigest()
            name = next(
                candidate
                for size in range(4, 64)
                if self.rules.get(candidate := media[0] + digest[:size], (media, declarations))
                == (media, declarations)
            )
        self.rules[name] = (media, declarations)
        return name


def substitute(value: str, answer: Callable[[str], str]) -> str:
    """Every `var(--name)` in `value` replaced; `answer` raises Fault for a name it does not know."""
    while "var(" in value:
        found = _VAR.search(value)
        if found is None:
            raise Fault(f"{value!r} has a var() handbill cannot read", expected="var(--name)")
        value = value[: found.start()] + answer(found.group(1)) + value[found.end() :]
    return value


@dataclass(slots=True)
class Scope:
    """What a template may refer to: choice domains by name, macros, dynamic properties, local measures."""

    domains: Mapping[str, tuple[str, ...]]
    macros: frozenset[str]
    dynamic: Mapping[str, tuple[str, ...]]
    measures: Mapping[str, tuple[str, str]]
    widths: Mapping[str, Any] = field(default_factory=dict)


class Splicer:
    """Two passes over one template: `keys` tells which class sets occur, `emit` writes the new source."""

    def __init__(
        self,
        lexed: Lexed,
        scope: Scope,
        house: HouseStyle,
        registry: Registry,
        shared: bool = False,
        rtl: bool = False,
    ) -> None:
        self.start, self.end = ("right", "left") if rtl else ("left", "right")
        self.shared = shared  # the shared macros may set any property, and addresses
        self.lexed = lexed
        self.scope = scope
        self.house = house
        self.registry = registry
        self.mistakes: list[Mistake] = list(lexed.mistakes)

    def wrong(self, line: int, column: int, message: str, expected: str = "", close: str = "") -> None:
        self.mistakes.append(Mistake(Place(self.lexed.file, line, column), "", message, expected, close))

    # -- first pass

    def keys(self) -> set[ClassSet]:
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

    def combinations(self, attribute: Attribute) -> tuple[list[str], list[tuple[tuple[str, ...], ClassSet]]]:
        """The expressions of a class attribute and, for each combination of their values, the class set."""
        literal: list[str] = []
        expressions: list[str] = []
        domains: list[tuple[str, ...]] = []
        for part in attribute.value or ():
            if isinstance(part, Raw):
                if part.text.lstrip().startswith("{%"):
                    self.wrong(
                        attribute.line,
                        attribute.column,
                        "statements cannot stand in a class attribute",
                        "{{ 'name' if condition else 'other' }}",
                    )
                    continue
                literal.extend(part.text.split())
                continue
            domain = self.domain(part)
            if domain and part.expression not in expressions:
                expressions.append(part.expression)
                domains.append(domain)
        total = 1
        for domain in domains:
            total *= len(domain)
        if total * len(self.house.tones) > MAX_COMBINATIONS:
            self.wrong(attribute.line, attribute.column, "too many combinations of choices on one element")
            return [], []
        combos = []
        for values in product(*domains):
            names = [*literal, *(name for value in values for name in value.split())]
            combos.append((tuple(values), frozenset(names)))
        return expressions, combos

    def domain(self, part: Out) -> tuple[str, ...] | None:
        either = _EITHER.match(part.expression)
        if either:
            return (either.group(1), either.group(3) or "")
        if _NAME.match(part.expression):
            last = part.expression.rpartition(".")[2]
            if last == "tone":
                return self.house.tones
            if last in self.scope.domains:
                return self.scope.domains[last]
        else:
            last = part.expression
        self.wrong(
            part.line,
            part.column,
            f"class depends on {part.expression!r}, which is not a choice",
            "a choice of this block, or {{ 'name' if condition else 'other' }}",
            nearest(last, self.scope.domains),
        )
        return None

    # -- second pass

    def emit(self, sheets: Sheets) -> str:
        out: list[str] = []
        for token in self.lexed.tokens:
            if isinstance(token, Raw):
                out.append(token.text)
            elif isinstance(token, Out):
                out.append(self.text(token, sheets))
            else:
                out.append(self.tag(token, sheets))
        return "".join(out)

    def text(self, token: Out, sheets: Sheets) -> str:
        call = _CALL.match(token.expression)
        if call and call.group(1) in self.scope.macros:
            return f"{{{{ {token.expression} }}}}"
        prose = _PROSE.match(token.expression)
        if prose:
            value, form, stem = prose.groups()
            table = {
                tone: {key: self.prose(stem, key, tone, sheets, token) for key in PROSE_KEYS}
                for tone in self.house.tones
            }
            return f"{{{{ {value}|_{form}({self.registry.table(table)}[tone]) }}}}"
        return f"{{{{ ({token.expression})|_h }}}}"

    def prose(self, stem: str, key: str, tone: str, sheets: Sheets, token: Out) -> str:
        classes = frozenset({f"{stem}-{key}"})
        if key == "p-last" and not sheets.base.get(classes):
            classes = frozenset({f"{stem}-p"})
            extra = {"margin": "0"}
        else:
            extra = {"margin": "0"} if key in ("p", "ul", "ol") else {}
        return " " + self.attributes(
            key.removesuffix("-last"),
            classes,
            tone,
            sheets,
            (token.line, token.column),
            after=extra if key == "p-last" else {},
            before=extra,
        )

    def tag(self, tag: Tag, sheets: Sheets) -> str:
        shape = "h" if tag.name.startswith("h{{") else tag.name
        attribute = tag.get("class")
        expressions, combos = self.combinations(attribute) if attribute else ([], [((), frozenset())])
        widths = self.slot_widths(tag)
        dynamic = "" if widths else self.dynamic_style(tag, combos)
        literal_style = "" if dynamic or widths else (style.literal() if (style := tag.get("style")) else "")
        spot = (attribute.line, attribute.column) if attribute else (tag.line, tag.column)
        table: dict[tuple[str, ...], dict[str, str]] = {
            combo: {
                tone: self.attributes(
                    shape,
                    classes,
                    tone,
                    sheets,
                    spot,
                    literal=literal_style,
                    left_open=bool(dynamic),
                    wide_only=widths,
                )
                for tone in self.house.tones
            }
            for combo, classes in combos
        }
        pieces = [f"<{tag.name}"]
        if shape == "table" and tag.get("role") is None:
            pieces.append(' role="presentation" border="0" cellpadding="0" cellspacing="0"')
        for part in tag.parts:
            if isinstance(part, Raw):
                pieces.append(part.text if part.text.startswith("{") else f" {part.text}")
            elif part.name not in ("class", "style"):
                pieces.append(self.attribute(part))
        pieces.append(self.lookup(expressions, table))
        if dynamic:
            pieces.append(f'{dynamic}"')
        if tag.newlines:
            pieces.append("{#" + "\n" * tag.newlines + "#}")
        return "".join(pieces) + tag.closing

    def lookup(self, expressions: list[str], table: dict[tuple[str, ...], dict[str, str]]) -> str:
        """The finished attributes: a constant where nothing varies, else a look-up along what does."""
        values = {text for tones in table.values() for text in tones.values()}
        if len(values) <= 1:
            text = next(iter(values), "")
            return f" {text}" if text else ""
        toned = any(len(set(tones.values())) > 1 for tones in table.values())
        names = [*expressions, "tone"] if toned and "tone" not in expressions else list(expressions)
        nested: dict[str, Any] = {}
        for combo, tones in table.items():
            steps = list(combo)
            if "tone" in expressions:
                leaves = [(steps, tones[combo[expressions.index("tone")]])]
            elif toned:
                leaves = [([*steps, tone], text) for tone, text in tones.items()]
            else:
                leaves = [(steps, tones[BASE])]
            for way, text in leaves:
                level = nested
                for step in way[:-1]:
                    level = level.setdefault(step, {})
                level[way[-1]] = f" {text}" if text else ""
        keys = "".join(f"[{name}]" for name in names)
        return f"{{{{ {self.registry.table(nested)}{keys} }}}}"

    def attribute(self, part: Attribute) -> str:
        if part.value is None:
            return f" {part.name}"
        context = "_u" if part.name in URL_ATTRIBUTES else "_a"
        out = [f' {part.name}="']
        for piece in part.value:
            if isinstance(piece, Out):
                out.append(f"{{{{ ({piece.expression})|{context} }}}}")
            elif "var(--" in piece.text:
                tones = {
                    tone: self.value(piece.text, tone, (part.line, part.column)) for tone in self.house.tones
                }
                if len(set(tones.values())) == 1:
                    out.append(tones[BASE])
                else:
                    out.append(f"{{{{ {self.registry.table(tones)}[tone] }}}}")
            elif part.name in URL_ATTRIBUTES and piece.text.strip() and not piece.text.startswith("{%"):
                self.wrong(
                    part.line,
                    part.column,
                    f"{part.name} holds a fixed address",
                    "a field, such as {{ button.link }}",
                )
            elif part.name == "align":
                out.append({"start": self.start, "end": self.end}.get(piece.text, piece.text))
            else:
                out.append(piece.text)
        return "".join(out) + '"'

    def widened(
        self, wide: Mapping[str, list[str]], narrow: Mapping[str, list[str]], spot: tuple[int, int]
    ) -> list[str]:
        """What screens of 600 px and more change. Styles in the element are those of a phone: a reader that
        drops the head is most often one, and a phone's layout is whole on a desktop too."""
        changed = [
            f"{name}:{values[-1]}"
            for name, values in wide.items()
            if values != narrow.get(name) and not name.startswith("mso-")
        ]
        for name in narrow.keys() - wide.keys():
            if name not in _INITIAL:
                expected = f"{name} outside @media (--phone) as well"
                self.wrong(*spot, f"{name} is set for phones alone", expected)
        changed += [f"{name}:{_INITIAL[name]}" for name in narrow if name not in wide and name in _INITIAL]
        return changed

    def slot_widths(self, tag: Tag) -> dict[str, str]:
        """A style attribute that only holds widths the compiler made: `max-width:{{ width.row.words }}px`."""
        style = tag.get("style")
        if style is None or not style.value:
            return {}
        text = ""
        for part in style.value:
            if isinstance(part, Raw):
                text += part.text
                continue
            value: Any = self.scope.widths if part.expression.startswith("width.") else None
            for step in part.expression.split(".")[1:]:
                value = value.get(step) if isinstance(value, Mapping) else None
            if not isinstance(value, int):
                return {}
            text += str(value)
        pairs = (pair.partition(":") for pair in text.split(";") if pair.strip())
        return {name.strip(): value.strip() for name, _, value in pairs}

    def dynamic_style(self, tag: Tag, combos: Sequence[tuple[Any, ClassSet]]) -> str:
        """An author-chosen style that is appended last; only declared properties, or widths the compiler made."""
        style = tag.get("style")
        if style is None or style.value is None or all(isinstance(part, Raw) for part in style.value):
            return ""
        allowed = {
            name for _combo, classes in combos for one in classes for name in self.scope.dynamic.get(one, ())
        }
        text = "".join(
            part.text
            if isinstance(part, Raw)
            else f"{{{{ ({part.expression})|{'_u' if part.expression.endswith('.src') else '_a'} }}}}"
            for part in style.value
        )
        if self.shared:
            return text.strip().rstrip(";")
        for declaration in re.sub(r"\{\{.*?\}\}|\{%.*?%\}", "X", text).split(";"):
            name = declaration.partition(":")[0].strip()
            if name and name not in allowed | {"width", "max-width", "height"}:
                self.wrong(
                    style.line,
                    style.column,
                    f"{name} is not declared dynamic for this element",
                    "dynamic: in block.yaml, or a class",
                )
        return text.strip().rstrip(";")

    # -- values

    def value(
        self, text: str, tone: str, spot: tuple[int, int], *, dark: bool = False, phone: bool = False
    ) -> str:
        def answer(name: str) -> str:
            if name in self.scope.measures:
                return self.scope.measures[name][phone]
            if name in self.house.measures:
                return self.house.measures[name][phone]
            if name in self.house.colours[tone]:
                return self.house.colours[tone][name][dark]
            known = [*self.scope.measures, *self.house.measures, *self.house.colours[tone]]
            raise Fault(f"unknown var(--{name})", nearest=nearest(name, known))

        try:
            return substitute(text, answer)
        except Fault as fault:
            self.wrong(*spot, fault.message, fault.expected, fault.nearest)
            return ""

    def declared(
        self, resolved: Iterable[Declaration], tone: str, *, dark: bool = False, phone: bool = False
    ) -> dict[str, list[str]]:
        result: dict[str, list[str]] = {}
        for one in resolved:
            at = (one.place.line, one.place.column)
            file, self.lexed.file = self.lexed.file, one.place.file
            value = self.value(one.value, tone, at, dark=dark, phone=phone)
            self.lexed.file = file
            result.setdefault(one.name, []).append(value)
        return result

    def attributes(
        self,
        shape: str,
        classes: ClassSet,
        tone: str,
        sheets: Sheets,
        spot: tuple[int, int],
        *,
        literal: str = "",
        left_open: bool = False,
        wide_only: Mapping[str, str] | None = None,
        before: Mapping[str, str] | None = None,
        after: Mapping[str, str] | None = None,
    ) -> str:
        wide = self.declared(sheets.base.get(classes, ()), tone)
        wide.update({name: [value] for name, value in (wide_only or {}).items()})
        light = self.declared(sheets.phone.get(classes, ()), tone, phone=True)
        dark = self.declared(sheets.dark.get(classes, ()), tone, dark=True)
        head: list[str] = []
        widened = self.widened(wide, light, spot)
        if widened:
            head.append(self.registry.rule(WIDE, ";".join(_short(widened))))
        for name, values in dark.items():
            if values != wide.get(name) and not name.startswith("mso-"):
                head.append(self.registry.rule(DARK, f"{name}:{values[-1]}"))
        style = dict(pair.split(":", 1) for pair in _DEFAULTS.get(shape, "").split(";") if pair)
        declarations = [
            f"{name}:{value}" for name, value in {**style, **(before or {})}.items() if name not in light
        ]
        declarations += [
            f"{name}:{value}"
            for name, values in light.items()
            for value in values
            if _needed(shape, name, value, values)
        ]
        declarations += [f"{name}:{value}" for name, value in (after or {}).items()]
        declarations = _short(declarations)
        text = ";".join(filter(None, (*declarations, literal.strip().rstrip(";"))))
        pieces = []
        if head:
            pieces.append(f'class="{" ".join(head)}"')
        if shape in _CELLS and "background-color" in light:
            colour = light["background-color"][-1]
            if colour.startswith("#"):
                pieces.append(f'bgcolor="{colour}"')
        if shape == "td" and "vertical-align" in light:
            pieces.append(f'valign="{light["vertical-align"][-1]}"')
        if left_open:  # the template goes on with what the author chose
            pieces.append(f'style="{text};' if text else 'style="')
        elif text:
            pieces.append(f'style="{text}"')
        return " ".join(pieces)


# What a property goes back to on wide screens when only phones set it.
_INITIAL = {
    "max-width": "none", "width": "auto", "height": "auto", "display": "inline",
    "padding-top": "0", "padding-right": "0", "padding-bottom": "0", "padding-left": "0", "margin": "0",
}  # fmt: skip
_INLINE = frozenset({"span", "a", "strong", "em"})
_NEUTRAL = {
    ("text-transform", "none"),
    ("letter-spacing", "normal"),
    ("font-style", "normal"),
}


def _needed(shape: str, name: str, value: str, values: Sequence[str]) -> bool:
    """Whether a declaration says more than the default; inside a line it may undo what the line inherits."""
    return shape in _INLINE or len(values) > 1 or (name, value) not in _NEUTRAL


def _short(declarations: list[str]) -> list[str]:
    """Four paddings as one declaration: shorter, and every reader knows it."""
    sides = {}
    for one in declarations:
        name, _, value = one.partition(":")
        if name in ("padding-top", "padding-right", "padding-bottom", "padding-left"):
            sides[name.removeprefix("padding-")] = value
    if len(sides) < 4:
        return declarations
    top, right, bottom, left = (
        sides[side].replace("0px", "0") if sides[side] == "0px" else sides[side]
        for side in ("top", "right", "bottom", "left")
    )
    if right == left:
        text = f"{top} {right} {bottom}" if top != bottom else (f"{top} {right}" if top != right else top)
    else:
        text = f"{top} {right} {bottom} {left}"
    out: list[str] = []
    for one in declarations:
        if one.startswith("padding-") and one.partition(":")[0].removeprefix("padding-") in sides:
            if f"padding:{text}" not in out:
                out.append(f"padding:{text}")
        else:
            out.append(one)
    return out
