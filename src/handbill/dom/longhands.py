"""Declarations to longhand values that computing can take. Enters: property and text; leaves: (longhand,
value).

An invalid value yields nothing, so that an earlier valid one stays, as CSS says.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import lru_cache

from handbill.dom.values import BORDER_STYLES, BORDER_WIDTHS, Colour, colour, sides

# A length as written: (number, unit), where unit is px, em, % or ""; or a keyword.
Value = tuple[float, str] | str | Colour | None
Pair = tuple[str, Value]
_SIDES = ("top", "right", "bottom", "left")
_NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)([a-z%]*)\Z")
_PX = {"px": 1.0, "pt": 4 / 3, "pc": 16.0, "in": 96.0, "cm": 96 / 2.54, "mm": 9.6 / 2.54, "q": 2.4 / 2.54,
       "rem": 16.0}  # fmt: skip
_KEYWORDS: dict[str, frozenset[str]] = {
    "display": frozenset(
        [
            "none",
            "inline",
            "block",
            "inline-block",
            "table",
            "inline-table",
            "table-cell",
            "table-row",
            "table-row-group",
            "list-item",
            "table-header-group",
            "table-footer-group",
            "table-column",
            "table-column-group",
            "table-caption",
            "flow-root",
            "flex",
            "inline-flex",
            "grid",
            "inline-grid",
            "contents",
        ]
    ),
    "float": frozenset(("none", "left", "right", "inline-start", "inline-end")),
    "clear": frozenset(("none", "left", "right", "both", "inline-start", "inline-end")),
    "position": frozenset(("static", "relative", "absolute", "fixed", "sticky")),
    "font-style": frozenset(("normal", "italic", "oblique")),
    "text-align": frozenset(
        ["left", "right", "center", "justify", "start", "end", "-center", "-left", "-right"]
    ),
    "text-transform": frozenset(("none", "uppercase", "lowercase", "capitalize", "full-width")),
    "white-space": frozenset(("normal", "nowrap", "pre", "pre-wrap", "pre-line", "break-spaces")),
    "word-break": frozenset(("normal", "break-all", "keep-all", "break-word", "auto-phrase")),
    "overflow-wrap": frozenset(("normal", "break-word", "anywhere")),
    "direction": frozenset(("ltr", "rtl")),
    "visibility": frozenset(("visible", "hidden", "collapse")),
    "overflow": frozenset(("visible", "hidden", "scroll", "auto", "clip")),
    "table-layout": frozenset(("auto", "fixed")),
    "border-collapse": frozenset(("separate", "collapse")),
    "box-sizing": frozenset(("content-box", "border-box")),
    "list-style-type": frozenset(
        [
            "none",
            "disc",
            "circle",
            "square",
            "decimal",
            "lower-alpha",
            "upper-alpha",
            "lower-roman",
            "upper-roman",
            "lower-latin",
            "upper-latin",
        ]
    ),
    "object-fit": frozenset(("fill", "contain", "cover", "none", "scale-down")),
}
_LENGTHS = frozenset(
    [
        "width",
        "height",
        "min-width",
        "min-height",
        "max-width",
        "max-height",
        "margin-top",
        "margin-right",
        "margin-bottom",
        "margin-left",
        "padding-top",
        "padding-right",
        "padding-bottom",
        "padding-left",
        "text-indent",
        "letter-spacing",
        "word-spacing",
        "-cell-padding",
        "-cell-border",
    ]
)
_WORDS = {
    "width": frozenset(("auto",)),
    "height": frozenset(("auto",)),
    "min-width": frozenset(("auto",)),
    "min-height": frozenset(("auto",)),
    "max-width": frozenset(("none",)),
    "max-height": frozenset(("none",)),
    "letter-spacing": frozenset(("normal",)),
    "word-spacing": frozenset(("normal",)),
    **{f"margin-{side}": frozenset(("auto",)) for side in _SIDES},
}
_CONTENT = frozenset(("min-content", "max-content", "fit-content", "stretch", "-webkit-fill-available"))
_VERTICAL = frozenset(["baseline", "sub", "super", "top", "text-top", "middle", "bottom", "text-bottom"])
_WEIGHTS = {"normal": 400.0, "bold": 700.0}
_SIZES = {"xx-small": 9.0, "x-small": 10.0, "small": 13.0, "medium": 16.0, "large": 18.0, "x-large": 24.0,
          "xx-large": 32.0, "xxx-large": 48.0}  # fmt: skip
_GLOBAL = frozenset(("inherit", "initial", "unset", "revert", "revert-layer"))


def expand(pairs: Iterable[tuple[str, str]]) -> tuple[Pair, ...]:
    """Longhands in order."""
    found: list[Pair] = []
    for name, text in pairs:
        found += _one(name, text)
    return tuple(found)


@lru_cache(maxsize=8192)
def _one(name: str, text: str) -> tuple[Pair, ...]:
    value = text if name in ("font-family", "background-image", "background", "font") else text.lower()
    if value.lower() in _GLOBAL:
        return tuple((longhand, value.lower()) for longhand in _longhands(name))
    found = tuple(_read(name, value))
    if not found and (what := _unread(name, value)):
        return ((f"{UNREAD}{name}", what),)
    return found


UNREAD = "-unread "  # opens the name of a pair that says what a layout does without
# Properties that move or size boxes and are not read, with the values of them that do nothing.
_IDLE: dict[str, frozenset[str]] = {
    **dict.fromkeys(
        [
            "transform", "columns", "column-count", "column-width", "aspect-ratio", "line-clamp",
            "-webkit-line-clamp", "translate", "scale", "rotate", "shape-outside", "hyphens",
        ],
        frozenset(("none", "auto", "manual", "1")),
    ),
    "zoom": frozenset(("1", "100%", "normal")),
    "writing-mode": frozenset(("horizontal-tb", "lr-tb", "lr")),
    "font-variant": frozenset(("normal", "none")),
    "font-variant-caps": frozenset(("normal",)),
    "font-stretch": frozenset(("normal", "100%")),
}  # fmt: skip
_WORKED = re.compile(
    r"(?:calc|min|max|clamp|var|env|fit-content|attr)\(|\d(?:vw|vh|vmin|vmax|[sld]v[wh]|r?lh|cq\w+)\b"
)


def _unread(name: str, value: str) -> str:
    """What of a declaration a layout would have to know and does not; nothing for what CSS drops too."""
    if name in _IDLE:
        auto = name == "hyphens" and value == "auto"
        return f"{name}: {value}" if auto or value not in _IDLE[name] else ""
    if name == "display" and value not in ("initial", "revert") and "(" not in value:
        return f"display: {value}"
    sized = name in _LENGTHS or name in _FONT or name in _LOGICAL or name in ("margin", "padding")
    if sized and _WORKED.search(value):
        return f"{name}: {value}"
    return ""


def _longhands(name: str) -> tuple[str, ...]:
    if name in ("margin", "padding"):
        return tuple(f"{name}-{side}" for side in _SIDES)
    if name in ("border", *(f"border-{side}" for side in _SIDES)):
        kinds = _SIDES if name == "border" else (name[7:],)
        return tuple(f"border-{side}-{what}" for side in kinds for what in ("width", "style", "color"))
    if name in ("border-width", "border-style", "border-color"):
        return tuple(f"border-{side}-{name[7:]}" for side in _SIDES)
    if name == "background":
        return "background-color", "background-image"
    return (name,)


_LOGICAL = frozenset(
    f"{what}-{axis}-{edge}"
    for what in ("margin", "padding")
    for axis in ("inline", "block")
    for edge in ("start", "end")
)


def _read(name: str, value: str) -> Iterator[Pair]:
    if name in _LOGICAL:
        if value == "auto" and name.startswith("margin"):
            yield name, value
        elif (number := length(value)) is not None:
            yield name, number
    elif name in _LENGTHS:
        if value in _CONTENT:
            yield f"{UNREAD}{name}", f"{name}: {value}"
        elif value in _WORDS.get(name, ()):
            yield name, value
        elif (number := length(value)) is not None and not (number[0] < 0 and _positive(name)):
            yield name, number
    elif name in _KEYWORDS:
        if value in _KEYWORDS[name]:
            yield name, value
        elif name == "overflow" and value.split() and value.split()[0] in _KEYWORDS[name]:
            yield name, value.split()[0]
    elif name in ("margin", "padding"):
        four = sides(value)
        if four:
            read = [list(_read(f"{name}-{side}", one)) for side, one in zip(_SIDES, four, strict=True)]
            if all(read):
                for pair in read:
                    yield from pair
    elif name.startswith("border"):
        yield from _border(name, value)
    elif name in ("color", "background-color"):
        if value == "currentcolor":
            yield name, "currentcolor"
        elif (read_colour := colour(value)) is not None:
            yield name, read_colour
    elif name in _FONT:
        yield from _font(name, value)
    elif name == "vertical-align":
        if value in _VERTICAL:
            yield name, value
        elif (number := length(value)) is not None:
            yield name, number
    elif name in ("text-decoration", "text-decoration-line"):
        yield (
            "text-decoration",
            " ".join(w for w in value.split() if w in ("underline", "line-through")) or "none",
        )
    elif name in ("background", "background-image"):
        yield from _background(name, value)
    elif name == "opacity":
        found = _NUMBER.match(value)
        if found and found[2] in ("", "%"):
            yield name, (float(found[1]) / (100 if found[2] else 1), "")
    elif name == "word-wrap":
        yield from _read("overflow-wrap", value)
    elif name in ("list-style",):
        for word in value.split():
            yield from _read("list-style-type", word)


_FONT = frozenset(("font-size", "font-weight", "font-family", "line-height", "font"))


def _font(name: str, value: str) -> Iterator[Pair]:
    if name == "font-size":
        if value in ("smaller", "larger"):
            yield name, (1 / 1.2 if value == "smaller" else 1.2, "em")
        elif value in _SIZES:
            yield name, (_SIZES[value], "px")
        elif (number := length(value)) is not None and number[0] >= 0:
            yield name, (number[0] / 100, "em") if number[1] == "%" else number
    elif name == "font-weight":
        if value in _WEIGHTS:
            yield name, (_WEIGHTS[value], "")
        elif value in ("bolder", "lighter"):
            yield name, value
        elif value.isdigit() and 1 <= int(value) <= 1000:
            yield name, (float(value), "")
    elif name == "font-family":
        yield name, value
    elif name == "line-height":
        found = _NUMBER.match(value)
        if value == "normal":
            yield name, value
        elif found and found[2] == "" and float(found[1]) >= 0:
            yield name, (float(found[1]), "")
        elif (number := length(value)) is not None and number[0] >= 0:
            yield name, (number[0] / 100, "em") if number[1] == "%" else number
    else:
        yield from _shorthand(value)


def _shorthand(value: str) -> Iterator[Pair]:
    found = re.match(
        r"((?:\S+\s+)*?)(\d*\.?\d+(?:px|pt|em|rem|%))(?:\s*/\s*(\S+))?\s+(.+)\Z", value.strip(), re.IGNORECASE
    )
    if found is None:
        return
    yield from (("font-style", "normal"), ("font-weight", (400.0, "")), ("line-height", "normal"))
    for word in found[1].lower().split():
        yield from _read("font-style", word)
        yield from _font("font-weight", word)
    yield from _font("font-size", found[2].lower())
    if found[3]:
        yield from _font("line-height", found[3].lower())
    yield "font-family", found[4]


def _border(name: str, value: str) -> Iterator[Pair]:
    if name == "border-spacing":
        numbers = [length(one) for one in value.split()]
        if numbers and numbers[0] is not None and numbers[-1] is not None:
            yield "border-spacing-x", numbers[0]
            yield "border-spacing-y", numbers[-1]
        return
    if name in ("border-width", "border-style", "border-color"):
        four = sides(value) if "(" not in value else [value] * 4
        for side, one in zip(_SIDES, four or (), strict=False):
            yield from _edge(f"border-{side}-{name[7:]}", one)
        return
    parts = name.split("-")
    if len(parts) == 3 and parts[1] in _SIDES:
        yield from _edge(name, value)
    elif name == "border" or (len(parts) == 2 and parts[1] in _SIDES):
        where = _SIDES if name == "border" else (parts[1],)
        words = re.findall(r"[^\s(]+(?:\([^)]*\))?", value)
        for side in where:
            yield f"border-{side}-width", (3.0, "px")
            yield f"border-{side}-style", "none"
            yield f"border-{side}-color", "currentcolor"
            for word in words:
                for what in ("width", "style", "color"):
                    yield from _edge(f"border-{side}-{what}", word)


def _edge(name: str, value: str) -> Iterator[Pair]:
    if name.endswith("-width"):
        if value in BORDER_WIDTHS:
            yield name, (BORDER_WIDTHS[value], "px")
        elif (number := length(value)) is not None and number[0] >= 0 and number[1] != "%":
            yield name, number
    elif name.endswith("-style"):
        if value in BORDER_STYLES:
            yield name, value
    elif value == "currentcolor":
        yield name, value
    elif (read := colour(value)) is not None:
        yield name, read


def _background(name: str, value: str) -> Iterator[Pair]:
    address = re.search(r"url\(\s*(?:'([^']*)'|\"([^\"]*)\"|([^)]*?))\s*\)", value, re.IGNORECASE)
    found = next((one for one in address.groups() if one is not None), "") if address else ""
    yield "background-image", found if address else "none"
    if name == "background":
        rest = re.sub(r"url\([^)]*\)", " ", value)
        known = [one for word in re.findall(r"[^\s(]+(?:\([^)]*\))?", rest) if (one := colour(word.lower()))]
        yield "background-color", known[0] if known else (0, 0, 0, 0.0)


def _positive(name: str) -> bool:
    return not name.startswith(("margin", "letter", "word", "text-indent"))


def length(text: str) -> tuple[float, str] | None:
    found = _NUMBER.match(text)
    if found is None:
        return None
    number, unit = float(found[1]), found[2]
    if unit == "":
        return (0.0, "px") if number == 0 else None
    if unit in ("em", "%"):
        return number, unit
    if unit in ("ex", "ch"):
        return number / 2, "em"
    return (number * _PX[unit], "px") if unit in _PX else None
