"""The house style as tokens. Enters: a `Brand`; leaves: a `HouseStyle` that answers `var(--name)`.

A token has a value for desktops, perhaps another for phones, and a colour one per tone and scheme. Everything
here is plain data, so that it can be kept in the cache.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from handbill.base.errors import Fault, nearest
from handbill.base.frozen import dataclass
from handbill.brand import defaults

if TYPE_CHECKING:
    from handbill.models.brand import Brand, ColourPair

CARD = 0.06  # share of the title's colour in a card's ground that no one has chosen
BASE = "base"  # the tone of a section that names none
_HEX = re.compile(r"#(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3})$")


@dataclass(frozen=True, slots=True)
class HouseStyle:
    """Tokens of one brand.

    `colours[tone][role]` is (light, dark); `measures[name]` is (desktop, phone) as CSS text.
    """

    colours: Mapping[str, Mapping[str, tuple[str, str]]]
    measures: Mapping[str, tuple[str, str]]
    toned: frozenset[str]
    vector_buttons: bool

    @property
    def tones(self) -> tuple[str, ...]:
        return tuple(self.colours)

    def colour(self, role: str, tone: str, dark: bool = False) -> str:
        """A role's colour in a tone, as #rrggbb."""
        return self.colours[tone][role][dark]

    def px(self, name: str, phone: bool = False) -> int:
        """A measure in CSS px."""
        return round(float(self.measures[name][phone].removesuffix("px")))


def house_style(brand: Brand) -> HouseStyle:
    """Raises StyleFaultsError for unknown roles and for colours that borrow in a circle."""
    faults: list[tuple[tuple[str, ...], Fault]] = []
    colours = _colours(brand, faults)
    measures = _measures(brand, faults)
    if faults:
        raise StyleFaultsError(faults)
    toned = frozenset(
        role for role in defaults.COLOURS if len({tones[role] for tones in colours.values()}) > 1
    )
    return HouseStyle(colours, measures, toned, brand.button.corner > 0)


class StyleFaultsError(Exception):
    """Everything wrong with a house style: the way to each fault inside brand.yaml, and the fault."""

    def __init__(self, faults: list[tuple[tuple[str, ...], Fault]]) -> None:
        super().__init__(f"{len(faults)} faults")
        self.faults = faults


Way = tuple[str, ...]
Faults = list[tuple[Way, Fault]]


def _unknown(kind: str, name: str, known: Any) -> Fault:
    return Fault(
        f"unknown {kind} {name}", expected="one of " + ", ".join(known), nearest=nearest(name, known)
    )


def _colours(brand: Brand, faults: Faults) -> dict[str, dict[str, tuple[str, str]]]:
    from handbill.models.brand import ColourPair

    result: dict[str, dict[str, tuple[str, str]]] = {}
    if brand.tones.get(BASE):
        message = "base is the tone of every section that names none"
        faults.append((("tones", BASE), Fault(message, expected="its colours under colours:")))
    named = {tone: roles for tone, roles in brand.tones.items() if tone != BASE}
    for tone, roles in {BASE: dict[str, ColourPair](), **named}.items():
        plain = {role: ColourPair(light=light, dark=dark) for role, (light, dark) in defaults.COLOURS.items()}
        pairs = dict(plain)
        sources: tuple[tuple[Way, Mapping[str, ColourPair]], ...] = (
            (("colours",), brand.colours),
            (("tones", tone), roles),
        )
        for before, given in sources:
            for role, pair in given.items():
                if role not in defaults.COLOURS:
                    faults.append(((*before, role), _unknown("colour role", role, defaults.COLOURS)))
                    continue
                pairs[role] = pair
        result[tone] = {}
        for role in pairs:
            way: Way = ("tones", tone, role) if role in roles else ("colours", role)
            try:
                result[tone][role] = (_find(role, pairs, False), _find(role, pairs, True))
            except CircleError as circle:
                if role == circle.first:  # every role that borrows from the circle would say it again
                    faults.append((way, circle))
            except Fault as fault:
                faults.append((way, fault))
        if pairs["ground"] != plain["ground"] and pairs["card"] == plain["card"] and not faults:
            result[tone]["card"] = _card(result[tone])  # the plain card would swallow this ground's words
            if pairs["tile"] == plain["tile"]:
                result[tone]["tile"] = result[tone]["card"]
    return result


def _card(roles: Mapping[str, tuple[str, str]]) -> tuple[str, str]:
    """A ground a little nearer to its headings, so that words which stand on the one stand on the other."""

    def mixed(ground: str, title: str) -> str:
        pairs = zip(bytes.fromhex(ground[1:]), bytes.fromhex(title[1:]), strict=True)
        return "#" + bytes(round(under + (over - under) * CARD) for under, over in pairs).hex()

    return (mixed(roles["ground"][0], roles["title"][0]), mixed(roles["ground"][1], roles["title"][1]))


class CircleError(Fault):
    """Colours that borrow from each other; `first` of them by name speaks for all."""

    def __init__(self, members: list[str]) -> None:
        self.first = min(members)
        start = members.index(self.first)
        around = [*members[start:], *members[:start], self.first]
        super().__init__(f"colours borrow in a circle: {' → '.join(around)}")


def _find(role: str, pairs: Mapping[str, ColourPair], dark: bool) -> str:
    seen: list[str] = []
    while True:
        if role in seen:
            raise CircleError(seen[seen.index(role) :])
        seen.append(role)
        pair = pairs[role]
        value = pair.dark if dark and pair.dark is not None else pair.light
        if value.startswith("#"):
            if not _HEX.match(value):
                raise Fault(f"{value!r} is not a colour", expected="six hexadecimal digits such as '#1a2335'")
            full = value if len(value) == 7 else "#" + "".join(2 * digit for digit in value[1:])
            return full.lower()
        if value not in pairs:
            raise _unknown("colour role", value, pairs)
        role = value


def _measures(brand: Brand, faults: Faults) -> dict[str, tuple[str, str]]:
    result: dict[str, tuple[str, str]] = {}
    for table, given, prefix in (
        (defaults.SPACE, brand.space, ""),
        (defaults.CORNERS, brand.corners, "corner-"),
    ):
        values = dict(table)
        for name, measure in given.items():
            if name not in table:
                way = "corners" if prefix else "space"
                faults.append(((way, name), _unknown("measure", name, table)))
                continue
            values[name] = (measure.desktop, measure.desktop if measure.phone is None else measure.phone)
        for name, (desktop, phone) in values.items():
            result[prefix + name] = (f"{desktop}px", f"{phone}px")
    _type_tokens(brand, result, faults)
    _button_tokens(brand, result)
    if brand.logo is not None:
        width = brand.logo.width
        result["logo-width"] = (f"{width}px", f"{brand.logo.width_phone or width}px")
    else:
        result["logo-width"] = ("0", "0")
    return result


def _type_tokens(brand: Brand, result: dict[str, tuple[str, str]], faults: Faults) -> None:
    from handbill.models.brand import TypeRole

    for role in brand.type:
        if role not in defaults.TYPE:
            faults.append((("type", role), _unknown("type role", role, defaults.TYPE)))
    for role, row in defaults.TYPE.items():
        _parent, size, line, weight, style, tracking, phone = row
        own = brand.type.get(role, TypeRole())
        desktop = (own.size or size, own.line or line, tracking if own.tracking is None else own.tracking)
        small = phone if phone is not None and own.size is None else desktop
        narrow = (
            own.phone.size or small[0],
            own.phone.line or small[1],
            small[2] if own.phone.tracking is None else own.phone.tracking,
        )
        face = _face(role, brand)
        result[f"{role}-face"] = (face, face)
        for part, wide, slim in zip(("size", "line", "tracking"), desktop, narrow, strict=True):
            result[f"{role}-{part}"] = (_px(wide), _px(slim))
        underline = own.underline if own.underline is not None else role in defaults.UNDERLINED
        for part, value in (
            ("weight", own.weight or weight),
            ("style", own.style or style),
            ("underline", "underline" if underline else "none"),
            ("capitals", "uppercase" if own.capitals else "none"),
        ):
            result[f"{role}-{part}"] = (value, value)


def _face(role: str, brand: Brand) -> str:
    while True:
        own = brand.type.get(role)
        if own is not None and own.face:
            return own.face.replace('"', "'")
        parent = defaults.TYPE[role][0]
        if not parent:
            return defaults.FACES[role]
        role = parent


def _px(value: float) -> str:
    return "normal" if value == 0 else f"{value:g}px"


def _button_tokens(brand: Brand, result: dict[str, tuple[str, str]]) -> None:
    button = brand.button
    pad, bar, small = (
        max(0, round((height - float(result[f"{role}-line"][0].removesuffix("px"))) / 2))
        for role, height in (
            ("button", button.height),
            ("bar", button.bar_height or button.height),
            ("button-small", button.small_height),
        )
    )
    arc = min(50, round(100 * button.corner / button.height))
    for name, value in (
        ("button-pad", f"{pad}px"),
        ("bar-pad", f"{bar}px"),
        ("bar-inset", f"{button.bar_inset or button.inset}px"),
        ("button-small-pad", f"{small}px"),
        ("button-small-inset", f"{button.small_inset}px"),
        ("button-height", f"{button.height}px"),
        ("button-inset", f"{button.inset}px"),
        ("button-corner", f"{button.corner}px"),
        ("button-arc", f"{arc}%"),
    ):
        result[name] = (value, value)
    result["button-width"] = ("auto", "100%" if button.full_width_on_phone else "auto")
