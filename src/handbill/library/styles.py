"""Styles worked out. Enters: resolved rules and a house style; leaves: finished attributes and head rules.

An element carries a phone's styles, the head what wider and dark screens change, under short classes named by
content. All is made when a library is loaded, for every combination of choices and tone that can occur.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from hashlib import sha256
from typing import Any

from handbill.base.errors import Fault, Mistake, Place, nearest
from handbill.base.frozen import dataclass, field
from handbill.brand.style import HouseStyle
from handbill.library.cascade import ClassSet, Resolved
from handbill.library.tokens import DARK, NARROW, TYPE, WIDE, WORD, Declaration, substitute

_DEFAULTS = {
    "img": "display:block;border:0;outline:none;text-decoration:none",
    "p": "margin:0",
    "h": "margin:0",
    "ul": "margin:0",
    "ol": "margin:0",
}
_CELLS = frozenset({"td", "th", "table", "body"})
_PARAGRAPHS = frozenset({"p", "h", "div", "ul", "ol", "li"})


@dataclass(frozen=True, slots=True)
class Sheets:
    """The resolved declarations of every class set: as they are, on phones, on dark and on narrow screens.

    A phone's declarations stand in the element; a narrow screen's do not, so that a reader which drops the
    head shows what wide ones show.
    """

    base: Mapping[ClassSet, Resolved]
    phone: Mapping[ClassSet, Resolved]
    dark: Mapping[ClassSet, Resolved]
    narrow: Mapping[ClassSet, Resolved]


@dataclass(slots=True)
class Registry:
    """What a whole library shares: look-up tables by name, and the head rules by short class."""

    tables: dict[str, Any] = field(default_factory=dict)
    rules: dict[str, tuple[str, str]] = field(default_factory=dict)  # class -> (media, declarations)
    digits: int = 4  # of a short class, at least
    _names: dict[str, str] = field(default_factory=dict)  # table content -> its name
    _classes: dict[tuple[str, str], str] = field(default_factory=dict)  # a head rule -> its class

    def __post_init__(self) -> None:
        self._classes.update((rule, name) for name, rule in self.rules.items())

    def table(self, content: Any) -> str:
        """The name of a table with this content: out of any template's reach, for it opens with `_`."""
        key = repr(content)
        if key not in self._names:
            self._names[key] = f"_s{len(self._names)}"
            self.tables[self._names[key]] = content
        return self._names[key]

    def rule(self, media: str, declarations: str) -> str:
        """The class under which `declarations` stand in the head; named by content, so it never moves."""
        if (known := self._classes.get((media, declarations))) is not None:
            return known
        prop, _, value = declarations.partition(":")
        plain = re.fullmatch(r"#([0-9a-f]{6})", value)
        if media == DARK and plain and prop in ("color", "background-color"):
            name = f"{'c' if prop == 'color' else 'b'}{plain.group(1)}"
        else:
            digest = sha256(f"{media}|{declarations}".encode()).hexdigest()
            name = next(
                candidate
                for size in range(self.digits, 64)
                if self.rules.get(candidate := media[0] + digest[:size], (media, declarations))
                == (media, declarations)
            )
        self.rules[name] = (media, declarations)
        self._classes[media, declarations] = name
        return name


class Styles:
    """Attributes for class sets in one house style. Faults become `mistakes` at their places."""

    def __init__(
        self, house: HouseStyle, measures: Mapping[str, tuple[str, str]], registry: Registry, sheets: Sheets
    ) -> None:
        self.house = house
        self.measures = measures
        self.registry = registry
        self.sheets = sheets
        self.mistakes: list[Mistake] = []

    def value(self, text: str, tone: str, at: Place, *, dark: bool = False, phone: bool = False) -> str:
        """`text` with every `var(--name)` replaced."""

        def answer(name: str) -> str:
            for measures in (self.measures, self.house.measures):
                if name in measures:
                    return measures[name][phone]
            if name in self.house.colours[tone]:
                return self.house.colours[tone][name][dark]
            known = [*self.measures, *self.house.measures, *self.house.colours[tone]]
            raise Fault(f"unknown var(--{name})", nearest=nearest(name, known))

        try:
            return substitute(text, answer)
        except Fault as fault:
            self.mistakes.append(fault.at(at))
            return ""

    def declared(
        self, resolved: Iterable[Declaration], tone: str, *, dark: bool = False, phone: bool = False
    ) -> dict[str, list[str]]:
        """Values by property, in cascade order; several where a rule gives a fallback."""
        result: dict[str, list[str]] = {}
        for one in resolved:
            if one.role and f"{one.role}-face" not in self.house.measures:
                roles = [name.removesuffix("-face") for name in self.house.measures if name.endswith("-face")]
                self.mistakes.append(
                    Mistake(
                        one.place,
                        "",
                        f"{TYPE}: no type role {one.role}",
                        "one of " + ", ".join(roles),
                        nearest(one.role, roles),
                    )
                )
                continue
            value = self.value(one.value, tone, one.place, dark=dark, phone=phone)
            result.setdefault(one.name, []).append(value)
        return result

    def widened(self, wide: Mapping[str, list[str]], narrow: Mapping[str, list[str]], at: Place) -> list[str]:
        """What screens of 600 px and more change. Styles in the element are those of a phone: a reader that
        drops the head is most often one, and a phone's layout is whole on a desktop too."""
        changed = [
            f"{name}:{value}"
            for name, values in wide.items()
            if values != narrow.get(name) and not name.startswith("mso-")
            for value in values
        ]
        for name in narrow.keys() - wide.keys():
            if name not in _INITIAL:
                expected = f"{name} outside @media (--phone) as well"
                self.mistakes.append(Mistake(at, "", f"{name} is set for phones alone", expected))
        changed += [f"{name}:{_INITIAL[name]}" for name in narrow if name not in wide and name in _INITIAL]
        return changed

    def head(
        self,
        shape: str,
        classes: ClassSet,
        tone: str,
        at: Place,
        light: Mapping[str, list[str]],
        wide_only: Mapping[str, str],
        settled: Collection[str],
    ) -> list[str]:
        """The short classes whose rules stand in the head; `settled` properties are the same everywhere."""
        wide = self.declared(self.sheets.base.get(classes, ()), tone)
        wide = {name: values for name, values in wide.items() if name not in settled}
        wide.update({name: [value] for name, value in wide_only.items()})
        dark = self.declared(self.sheets.dark.get(classes, ()), tone, dark=True)
        names = []
        widened = self.widened(wide, light, at)
        if widened:
            names.append(self.registry.rule(WIDE, ";".join(_short(widened))))
        margins = _margins(wide) if shape in _PARAGRAPHS else ""
        if margins:
            names.append(self.registry.rule(WORD, margins))
        narrow = self.declared(self.sheets.narrow.get(classes, ()), tone, phone=True)
        if changed := [f"{name}:{value}" for name, values in narrow.items() for value in values]:
            names.append(self.registry.rule(NARROW, ";".join(changed)))
        for name, values in dark.items():
            if name not in settled and values != wide.get(name) and not name.startswith("mso-"):
                rule = ";".join(f"{name}:{value}" for value in values)
                names.append(self.registry.rule(DARK, rule))
        return names

    def attributes(
        self,
        shape: str,
        classes: ClassSet,
        tone: str,
        at: Place,
        *,
        literal: str = "",
        left_open: bool = False,
        wide_only: Mapping[str, str] | None = None,
        before: Mapping[str, str] | None = None,
        after: Mapping[str, str] | None = None,
    ) -> str:
        """`class`, `bgcolor`, `valign` and `style` of one element; `before` and `after` stand around its own.

        `literal` closes the style as it is; a style that is `left_open` goes on in the template.
        """
        light = self.declared(self.sheets.phone.get(classes, ()), tone, phone=True)
        settled = dict(after or {})
        light = {name: values for name, values in light.items() if name not in settled}
        head = self.head(shape, classes, tone, at, light, wide_only or {}, settled)
        style = dict(pair.split(":", 1) for pair in _DEFAULTS.get(shape, "").split(";") if pair)
        declarations = [
            f"{name}:{value}"
            for name, value in {**style, **(before or {})}.items()
            if name not in light and name not in settled
        ]
        declarations += [
            f"{name}:{value}"
            for name, values in light.items()
            for value in values
            if _needed(shape, name, value, values)
        ]
        declarations += [f"{name}:{value}" for name, value in settled.items()]
        text = ";".join(filter(None, (*_short(declarations), literal.strip().rstrip(";"))))
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
_SIDES = ("top", "right", "bottom", "left")
_PADDINGS = tuple(f"padding-{side}" for side in _SIDES)
_INLINE = frozenset({"span", "a", "strong", "em"})
_NEUTRAL = {
    ("text-transform", "none"),
    ("letter-spacing", "normal"),
    ("font-style", "normal"),
    ("border-radius", "0px"),
}


def _needed(shape: str, name: str, value: str, values: Sequence[str]) -> bool:
    """Whether a declaration says more than the default; inside a line it may undo what the line inherits."""
    return shape in _INLINE or len(values) > 1 or (name, value) not in _NEUTRAL


def _margins(wide: Mapping[str, Sequence[str]]) -> str:
    """Paddings as a margin, for word-processor-based readers: they read padding on cells alone, margins of
    0 and more everywhere (support data, css-padding and css-margin). Empty where there is nothing to say."""
    asked = [wide.get(name, ("0",))[-1] for name in _PADDINGS]
    if all(value in ("0", "0px") for value in asked):
        return ""
    given = _four_sides(wide.get("margin", ("0",))[-1])
    own = [wide.get(f"margin-{side}", (value,))[-1] for side, value in zip(_SIDES, given, strict=True)]
    values = [_number(one) + _number(other) for one, other in zip(asked, own, strict=True)]
    return "margin:" + " ".join(f"{value:g}px" if value else "0" for value in values)


def _four_sides(shorthand: str) -> list[str]:
    """Top, right, bottom, left of a shorthand (CSS Box Model 3, section 3.2)."""
    values = shorthand.split()
    order = {1: (0, 0, 0, 0), 2: (0, 1, 0, 1), 3: (0, 1, 2, 1)}.get(len(values), (0, 1, 2, 3))
    return [values[at] for at in order]


def _number(value: str) -> float:
    """px of a length; what is no such length (`auto`, a percent) is nothing to that engine."""
    found = re.fullmatch(r"([\d.]+)(?:px)?", value)
    return float(found[1]) if found else 0.0


def _short(declarations: list[str]) -> list[str]:
    """Four paddings as one declaration: shorter, and every reader knows it."""
    sides: dict[str, str] = {}
    for one in declarations:
        name, _, value = one.partition(":")
        if name in _PADDINGS:
            sides[name] = "0" if value == "0px" else value
    if len(sides) < 4:
        return declarations
    top, right, bottom, left = (sides[name] for name in _PADDINGS)
    if right != left:
        text = f"{top} {right} {bottom} {left}"
    elif top != bottom:
        text = f"{top} {right} {bottom}"
    else:
        text = f"{top} {right}" if top != right else top
    out: list[str] = []
    for one in declarations:
        if one.partition(":")[0] not in _PADDINGS:
            out.append(one)
        elif f"padding:{text}" not in out:
            out.append(f"padding:{text}")
    return out
