"""Computed styles. Enters: a look, its parent's style and the rules that match; leaves: a `Style`.

Follows the cascade (CSS Cascade 4: browser's defaults, attributes, rules by specificity and order, `style`,
then the important ones) and inheritance. Equal looks under parents that hand down the same are one object,
kept across mails.
"""

from __future__ import annotations

from operator import attrgetter
from typing import Any, Final

from handbill.dom.css import Declarations, declarations
from handbill.dom.defaults import SHEET, hints
from handbill.dom.longhands import UNREAD, Pair, Value, expand
from handbill.dom.style import ATOMIC, BLOCK, HIDDEN, INLINE, OTHER, TABLE, Length, Style
from handbill.dom.tree import Look
from handbill.dom.values import Colour

BLACK: Colour = (0, 0, 0, 1.0)
CLEAR: Colour = (0, 0, 0, 0.0)
_INHERITED = (
    "color", "font_family", "font_size", "font_weight", "italic", "line_height", "line_factor",
    "letter_spacing", "word_spacing", "text_align", "text_transform", "white_space", "wrap", "keep_all",
    "direction", "visible", "list_style", "border_spacing", "collapse", "cell_padding", "cell_border",
    "text_indent", "lang",
)  # fmt: skip
# Elements with a size of their own that nothing here knows.
_REPLACED = frozenset((
    "input", "button", "select", "textarea", "svg", "math", "video", "audio", "iframe", "object", "embed",
    "canvas", "meter", "progress", "ruby", "marquee",
))  # fmt: skip
_LISTS = frozenset(("ul", "ol", "menu", "dir"))
_SIDES = ("top", "right", "bottom", "left")
_AFFECTED: Final = ("flex", "inline-flex", "grid", "inline-grid", "contents")


def _initial() -> Style:
    style = Style()
    style.color = BLACK
    style.font_family, style.font_size, style.font_weight, style.italic = "", 16.0, 400, False
    style.line_height = style.line_factor = None
    style.letter_spacing = style.word_spacing = style.text_indent = 0.0
    style.text_align, style.text_transform, style.white_space = "start", "none", "normal"
    style.wrap, style.keep_all, style.direction, style.visible = 0, False, "ltr", True
    style.list_style, style.border_spacing, style.collapse = "disc", (0.0, 0.0), False
    style.cell_padding, style.cell_border, style.lang = None, 0.0, ""
    style.in_list = False
    return _rest(style, {}, {}, "inline")


_MOST_STYLES = 40_000
_made = 0
_initial_style: Style | None = None


def root_style() -> Style:
    """What the root inherits from. A fresh one is taken when too many styles hang on the old one."""
    global _initial_style, _made
    if _initial_style is None or _made > _MOST_STYLES:
        _HANDED.clear()
        _initial_style, _made = _initial(), 0
    return _initial_style


_EXPANDED: dict[str, tuple[tuple[Pair, ...], tuple[Pair, ...]]] = {}


def _expanded(body: Declarations) -> tuple[tuple[Pair, ...], tuple[Pair, ...]]:
    found = _EXPANDED.get(body.text)
    if found is None:
        if len(_EXPANDED) > _MOST_STYLES:
            _EXPANDED.clear()
        found = _EXPANDED[body.text] = expand(body.normal), expand(body.important)
    return found


def computed(parent: Style, look: Look, matched: tuple[Declarations, ...], key: Any) -> Style:
    """The style of a look below a parent; the parent keeps it by `key`."""
    global _made
    _made += 1
    keep = parent.kids
    layers = [_expanded(declarations(SHEET.get(look.tag, "")))[0]]
    if parent.in_list and look.tag in _LISTS:
        layers.append(_expanded(declarations("margin-top:0;margin-bottom:0"))[0])
    if look.hints:
        layers.append(_expanded(declarations(hints(look)))[0])
    own = _expanded(declarations(look.style)) if look.style else ((), ())
    sheets = [_expanded(body) for body in matched]
    layers += [normal for normal, _ in sheets]
    layers.append(own[0])
    layers += [important for _, important in sheets]
    layers.append(own[1])
    values: dict[str, Value] = {}
    direction = look.hints.get("dir", parent.direction).lower()
    for layer in layers:
        for name, value in layer:
            if name == "direction" and isinstance(value, str):
                direction = value
    for layer in layers:
        for name, value in layer:
            values[_physical(name, direction) if "-inline-" in name or "-block-" in name else name] = value
    for name, value in list(values.items()):
        if isinstance(value, str) and value in ("inherit", "initial", "unset", "revert", "revert-layer"):
            del values[name]
            if value == "inherit" and name not in _TEXT:
                if name != "vertical-align":
                    keep = parent.kin
                values[name] = _from_parent(parent, name)
            elif value == "initial" and name in _TEXT:
                values[name] = _INITIAL_TEXT.get(name)
    style = Style()
    for name in _INHERITED:
        setattr(style, name, getattr(parent, name))
    _text(style, parent, values)
    style.in_list = parent.in_list or look.tag in _LISTS
    if look.tag == "table" and style.text_align.startswith("-"):
        style.text_align = "start"  # browsers let this alignment of blocks end at tables
    if "lang" in look.hints:
        style.lang = look.hints["lang"]
    keep[key] = _rest(style, values, look.hints, "inline", parent, look.tag)
    return style


_HANDED: dict[tuple[object, ...], dict[Any, Style]] = {}
_handed = attrgetter(*_INHERITED, "in_list", "vertical_align")  # cells ask for the last


def _physical(name: str, direction: str) -> str:
    """A logical side as the physical one (CSS Logical Properties 1, for horizontal lines)."""
    start, end = ("right", "left") if direction == "rtl" else ("left", "right")
    for logical, side in (
        ("inline-start", start),
        ("inline-end", end),
        ("block-start", "top"),
        ("block-end", "bottom"),
    ):
        name = name.replace(logical, side)
    return name


_TEXT = frozenset((
    "color", "font-family", "font-size", "font-weight", "font-style", "line-height", "letter-spacing",
    "word-spacing", "text-align", "text-transform", "white-space", "word-break", "overflow-wrap",
    "direction", "visibility", "list-style-type", "border-spacing-x", "border-spacing-y",
    "border-collapse", "text-indent", "-cell-padding", "-cell-border",
))  # fmt: skip
_INITIAL_TEXT: dict[str, Value] = {
    "color": BLACK, "font-size": (16.0, "px"), "font-weight": (400.0, ""), "font-style": "normal",
    "line-height": "normal", "letter-spacing": "normal", "text-align": "start", "white-space": "normal",
    "text-transform": "none", "word-break": "normal", "overflow-wrap": "normal", "direction": "ltr",
}  # fmt: skip


def _from_parent(parent: Style, name: str) -> Value:
    if name == "vertical-align":
        if parent.display in ("table", "inline-table"):
            return "middle"  # what the row group between them, which the tree leaves out, would say
        held = parent.vertical_align
        return (held, "px") if isinstance(held, float) else held
    if name == "background-color":
        return parent.background_color
    if name == "display":
        return parent.display
    size = getattr(parent, name.replace("-", "_"), None)
    if isinstance(size, float):
        return size, "px"
    return (size[0] * 100, "%") if isinstance(size, tuple) and len(size) == 1 else None


def px(value: Value, em: float) -> Length:
    """A length as px or a share; None for words."""
    if not isinstance(value, tuple) or len(value) != 2:
        return None
    number, unit = value
    return (number / 100,) if unit == "%" else number * em if unit == "em" else number


def _text(style: Style, parent: Style, values: dict[str, Value]) -> None:
    """The inherited properties."""
    given = values.get
    size = px(given("font-size"), parent.font_size)
    if isinstance(size, float):
        style.font_size = size
    weight = given("font-weight")
    if weight == "bolder":
        style.font_weight = 400 if parent.font_weight < 350 else 700 if parent.font_weight < 550 else 900
    elif weight == "lighter":
        style.font_weight = 100 if parent.font_weight < 550 else 400 if parent.font_weight < 750 else 700
    elif isinstance(weight, tuple):
        style.font_weight = int(weight[0])
    if isinstance(family := given("font-family"), str):
        style.font_family = family
    if slant := given("font-style"):
        style.italic = slant != "normal"
    line = given("line-height")
    if line == "normal":
        style.line_height = style.line_factor = None
    elif isinstance(line, tuple) and len(line) == 2:
        style.line_factor = line[0] if line[1] == "" else None
        style.line_height = line[0] * style.font_size if line[1] in ("", "em") else line[0]
    elif style.line_factor is not None:
        style.line_height = style.line_factor * style.font_size
    for name, slot in (("letter-spacing", "letter_spacing"), ("word-spacing", "word_spacing")):
        if (spacing := given(name)) is not None:
            found = px(spacing, style.font_size)
            setattr(style, slot, found if isinstance(found, float) else 0.0)
    colour = given("color")
    if isinstance(colour, tuple) and len(colour) == 4:
        style.color = colour
    for name, slot in (
        ("text-align", "text_align"), ("text-transform", "text_transform"), ("white-space", "white_space"),
        ("direction", "direction"), ("list-style-type", "list_style"),
    ):  # fmt: skip
        if isinstance(word := given(name), str):
            setattr(style, slot, word)
    if (shown := given("visibility")) is not None:
        style.visible = shown == "visible"
    if (joined := given("border-collapse")) is not None:
        style.collapse = joined == "collapse"
    breaks, overflow = given("word-break"), given("overflow-wrap")
    if breaks is not None or overflow is not None:
        style.wrap = (
            3 if breaks == "break-all" else 2 if breaks == "break-word" or overflow == "anywhere"
            else 1 if overflow == "break-word" else parent.wrap if breaks is None or (overflow is None and not
            isinstance(breaks, str)) else 0
        )  # fmt: skip
        style.keep_all = breaks == "keep-all"
    across, down = (
        px(given("border-spacing-x"), style.font_size),
        px(given("border-spacing-y"), style.font_size),
    )
    if isinstance(across, float) and isinstance(down, float):
        style.border_spacing = across, down
    if isinstance(border_spacing := px(given("border-spacing"), style.font_size), float):
        style.border_spacing = border_spacing, border_spacing
    if isinstance(indent := px(given("text-indent"), style.font_size), float):
        style.text_indent = indent


def _rest(
    style: Style,
    values: dict[str, Value],
    given_hints: dict[str, str],
    display: str,
    parent: Style | None = None,
    tag: str = "",
) -> Style:
    """The properties that are not inherited, and what is worked out from them."""
    given, em = values.get, style.font_size
    shown = given("display")
    style.display = shown if isinstance(shown, str) else display
    floats = given("float")
    style.floated = {"inline-start": "left", "inline-end": "right"}.get(str(floats), str(floats or "none"))
    style.clear = str(given("clear") or "none")
    style.position = str(given("position") or "static")
    if style.floated != "none" or style.position in ("absolute", "fixed"):
        style.display = {"inline": "block", "inline-block": "block", "inline-table": "table",
                         "table-cell": "block"}.get(style.display, style.display)  # fmt: skip
    for name in ("width", "height", "min_width", "max_width", "min_height", "max_height"):
        setattr(style, name, px(given(name.replace("_", "-")), em))
    padding = [px(given(f"padding-{side}"), em) or 0.0 for side in _SIDES]
    if tag in ("td", "th") and parent is not None and parent.cell_padding is not None:
        fixed = {name for name, _ in _own_padding(values)}
        padding = [
            p if f"padding-{s}" in fixed else parent.cell_padding
            for p, s in zip(padding, _SIDES, strict=True)
        ]
    style.percent_padding = tuple(padding) if any(isinstance(one, tuple) for one in padding) else None  # type: ignore[assignment]
    style.padding = tuple(one if isinstance(one, float) else 0.0 for one in padding)  # type: ignore[assignment]
    style.margin = tuple(
        None if given(f"margin-{side}") == "auto" else px(given(f"margin-{side}"), em) or 0.0
        for side in _SIDES
    )  # type: ignore[assignment]
    if tag == "table":
        inner, edge = px(given("-cell-padding"), em), px(given("-cell-border"), em)
        style.cell_padding = inner if isinstance(inner, float) else None
        style.cell_border = edge if isinstance(edge, float) else 0.0
    _borders(style, values, tag)
    back = given("background-color")
    style.background_color = (
        style.color
        if back == "currentcolor"
        else back
        if isinstance(back, tuple) and len(back) == 4
        else CLEAR
    )
    image = given("background-image")
    style.background_image = image if isinstance(image, str) and image != "none" else None
    opacity = given("opacity")
    style.opacity = float(opacity[0]) if isinstance(opacity, tuple) else 1.0
    style.overflow = str(given("overflow") or "visible")
    style.box_sizing = str(given("box-sizing") or "content-box")
    style.table_fixed = given("table-layout") == "fixed"
    line = given("text-decoration")
    style.text_decoration = line if isinstance(line, str) else "none"
    align = given("vertical-align")
    held = px(align, em)
    if isinstance(held, float):
        style.vertical_align = held
    elif isinstance(held, tuple):
        style.vertical_align = held[0] * (style.line_height or em * 1.2)
    else:
        style.vertical_align = align if isinstance(align, str) else "baseline"
    style.font = (style.font_family, style.font_weight, style.italic, style.font_size)
    style.plain_text = style.white_space in ("normal", "nowrap") and style.text_transform == "none"
    handed = (style.display in ("table", "inline-table"), *_handed(style))
    style.kids, style.kin = _HANDED.setdefault(handed, {}), {}
    unread = [str(value) for name, value in values.items() if name.startswith(UNREAD) and value]
    if tag in _REPLACED:
        unread.append(f"the size of <{tag}>")
    style.odd = (*_odd(style), *unread)
    _summary(style)
    return style


def _summary(style: Style) -> None:
    """`way` is one of the numbers above; `left` to `bottom` are padding and border together, `simple` says
    that a block is as wide as it can be and as tall as what it holds."""
    top, right, bottom, left = (a + b for a, b in zip(style.padding, style.border, strict=True))
    style.left, style.right, style.top, style.bottom = left, right, top, bottom
    free = style.floated == "none" and style.position in ("static", "relative") and not style.odd
    display = style.display
    style.way = OTHER
    if display == "none":
        style.way = HIDDEN
    elif free and style.clear == "none":
        if display in ("block", "list-item"):
            style.way = BLOCK
        elif display == "table":
            style.way = TABLE
        elif display == "inline":
            style.way = INLINE
        elif display in ("inline-block", "inline-table"):
            style.way = ATOMIC
    sizes = (style.width, style.height, style.min_width, style.max_width, style.min_height, style.max_height)
    style.still = all(one.__class__ is float for one in style.margin)
    style.simple = (
        style.way == BLOCK
        and style.percent_padding is None
        and style.still
        and all(one is None for one in sizes)
        and style.overflow == "visible"
    )


def _own_padding(values: dict[str, Value]) -> list[tuple[str, Value]]:
    """Paddings that do not come from the browser's own 1 px for cells."""
    return [
        (name, value) for name, value in values.items() if name.startswith("padding") and value != (1.0, "px")
    ]


def _borders(style: Style, values: dict[str, Value], tag: str) -> None:
    widths, colours = [], []
    for side in _SIDES:
        drawn = values.get(f"border-{side}-style", "none") not in ("none", "hidden", None)
        width = px(values.get(f"border-{side}-width", (3.0, "px")), style.font_size)
        # A border's width is snapped down to whole px, but never to none (CSS Backgrounds 3, section 4.3).
        snapped = (
            0.0 if not drawn or not isinstance(width, float) else width if width < 1 else float(int(width))
        )
        widths.append(max(snapped, 1.0) if snapped > 0 else 0.0)
        tint = values.get(f"border-{side}-color")
        colours.append(tint if isinstance(tint, tuple) and len(tint) == 4 else style.color)
    style.border = tuple(widths)  # type: ignore[assignment]
    if tag in ("td", "th") and style.cell_border and not any(widths):
        style.border = (style.cell_border,) * 4
    style.border_colors = tuple(colours)  # type: ignore[assignment]


def _odd(style: Style) -> list[str]:
    found = []
    if style.display in _AFFECTED:
        found.append(f"display: {style.display}")
    if style.position not in ("static", "relative"):
        found.append(f"position: {style.position}")
    if style.collapse and any(style.border):
        found.append("border-collapse: collapse with borders")
    if style.keep_all:
        found.append("word-break: keep-all")
    return found
