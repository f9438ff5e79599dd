"""How wide a line of text will be. Enters: text and a CSS font stack; leaves: a width in CSS px.

Widths are sums of advances (no kerning) of fonts that share them with the web-safe families: Liberation
Sans, Serif and Mono for Arial, Times New Roman and Courier New, Gelasio for Georgia (fontconfig's
`30-metric-aliases.conf`). `advances.json` is written by `tests/make_advances.py`.
"""

from __future__ import annotations

import json
import math
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

from handbill.base.frozen import dataclass
from handbill.base.letters import clusters
from handbill.brand.style import HouseStyle

# Family name, lower case, to (table, factor on its widths). Factors other than 1 are from memory and on the
# wide side: a button that is a little too wide still holds its label.
_FAMILIES: dict[str, tuple[str, float]] = {
    **dict.fromkeys(("arial", "helvetica", "helvetica neue", "arimo", "liberation sans"), ("sans", 1.0)),
    **dict.fromkeys(("sans-serif", "system-ui", "ui-sans-serif", "-apple-system"), ("sans", 1.0)),
    **dict.fromkeys(("times new roman", "times", "tinos", "liberation serif"), ("serif", 1.0)),
    **dict.fromkeys(("serif", "ui-serif"), ("serif", 1.0)),
    **dict.fromkeys(("courier new", "courier", "cousine", "liberation mono"), ("mono", 1.0)),
    **dict.fromkeys(("monospace", "ui-monospace"), ("mono", 1.0)),
    **dict.fromkeys(("georgia", "gelasio"), ("georgia", 1.0)),
    "verdana": ("sans", 1.2),
    "tahoma": ("sans", 1.05),
    "trebuchet ms": ("sans", 1.05),
}
_UNKNOWN_STACK = ("sans", 1.0)
_CJK_EM = 1.0  # a full-width character fills its square
_HALF_WIDTH_EM = 0.5
_PICTOGRAPH_EM = 1.4  # from memory: the widest of the systems' colour emoji fonts


@dataclass(frozen=True, slots=True)
class _Face:
    units: int
    widths: dict[str, int]
    other: int


def text_width(
    text: str, *, family: str, size: float, bold: bool = False, letter_spacing: float = 0.0
) -> float:
    """The width in CSS px of `text` on one line at `size` px, `letter_spacing` px after every character.

    `family` is a CSS font stack; the first name in it that has a table here counts, Arial's if none has.
    Outside the tables (Latin, punctuation, currency): combining and control characters are 0 wide, full-width
    ones 1 em, half-width ones 0.5 em, wide pictographs 1.4 em, spaces 0.25 em, all others the mean of the
    face's Greek and Cyrillic letters. White space is not collapsed: give the line as it will show.
    """
    table, factor = _pick(family)
    face = _face(table + "-bold" if bold else table)
    units = 0.0
    shown = 0
    for character in text if text.isascii() else _drawn(text):
        known = face.widths.get(character)
        advance = _by_class(character, face) if known is None else known
        units += advance
        shown += advance > 0
    return units * factor * size / face.units + shown * letter_spacing


def button_width(
    label: str,
    *,
    family: str,
    size: float,
    bold: bool = False,
    letter_spacing: float = 0.0,
    padding: int,
    slack: float = 0.04,
) -> int:
    """The px a button needs for `label` on one line, rounded up, with `padding` px on either side.

    `slack` is the share added to the text's width, since phones and desktops set it in other fonts (0.04 is
    common practice).
    """
    width = text_width(label, family=family, size=size, bold=bold, letter_spacing=letter_spacing)
    return math.ceil(round(width * (1 + slack), 6)) + 2 * padding


def button_in_house(label: str, house: HouseStyle, arrow: bool) -> int:
    """The px of a button in the house's type, with the arrow after its label where the house puts one."""
    tracking = house.measures["button-tracking"][0].removesuffix("px")
    return button_width(
        label + (" →" if arrow else ""),
        family=house.measures["button-face"][0],
        size=float(house.measures["button-size"][0].removesuffix("px")),
        bold=house.measures["button-weight"][0] == "700",
        letter_spacing=0.0 if tracking == "normal" else float(tracking),
        padding=house.px("button-inset"),
    )


@lru_cache(maxsize=256)
def _pick(stack: str) -> tuple[str, float]:
    for name in stack.split(","):
        found = _FAMILIES.get(" ".join(name.strip().strip("'\"").lower().split()))
        if found is not None:
            return found
    return _UNKNOWN_STACK


def _drawn(text: str) -> Iterator[str]:
    """The characters that are drawn by themselves: of a joined emoji, a flag or one with a tone the first."""
    for piece in clusters(text):
        joined = len(piece) > 1 and unicodedata.category(piece[0]) in ("So", "Sk")
        yield from piece[0] if joined else piece


def _by_class(character: str, face: _Face) -> float:
    if character in "\t\n\r\f":
        return face.widths[" "]
    category = unicodedata.category(character)
    if category in ("Mn", "Me", "Cf", "Cc"):
        return 0.0
    wide = unicodedata.east_asian_width(character)
    if wide in ("W", "F"):
        return (_PICTOGRAPH_EM if category == "So" else _CJK_EM) * face.units
    if wide == "H":
        return _HALF_WIDTH_EM * face.units
    return face.units / 4 if category == "Zs" else face.other


@lru_cache(maxsize=1)
def _tables() -> dict[str, _Face]:
    data = json.loads(Path(__file__).with_suffix(".json").read_text(encoding="utf-8"))
    characters = [chr(code) for first, last in data["runs"] for code in range(first, last + 1)]
    faces: dict[str, _Face] = {}
    for name, face in data["faces"].items():
        widths = {
            character: width for character, width in zip(characters, face["widths"], strict=True) if width
        }
        faces[name] = _Face(data["units"], widths, face["other"])
    return faces


def _face(name: str) -> _Face:
    return _tables()[name]
