"""What is computed for an element: CSS px, shares in tuples of one, words, colours."""

from __future__ import annotations

from typing import Any

from handbill.dom.values import Colour

Sides = tuple[float, float, float, float]
Length = float | tuple[float] | None  # px, (share of the containing block,), None for auto or none
# What a layout asks of every box first: not shown, a plain block or table, inline, atomic in a line, other.
HIDDEN, BLOCK, TABLE, INLINE, ATOMIC, OTHER = range(6)


class Style:
    """Computed values, lengths in CSS px. A percentage is a share in a tuple of one; None is `auto` or
    `none`.

    `line_height` None is `normal`. `margin` holds px, shares or None, in the order top, right, bottom, left;
    `border` is 0 where no border is drawn. `wrap`: 0 words stay whole, 1 break when they must, 2 the same and
    their narrowest width counts so, 3 break anywhere. `text_align` with a leading `-` aligns blocks too.
    `odd` names properties outside what is measured exactly.
    """

    __slots__ = (
        "background_color", "background_image", "border", "border_colors", "border_spacing", "bottom",
        "box_sizing", "cell_border", "cell_padding", "clear", "collapse", "color", "direction",
        "display", "floated", "font", "font_family", "font_size", "font_weight", "height", "in_list",
        "italic", "keep_all", "kids", "kin", "lang", "left", "letter_spacing", "line_factor", "line_height",
        "list_style", "margin", "max_height", "max_width", "min_height", "min_width", "odd", "opacity",
        "overflow", "padding", "percent_padding", "plain_text", "position", "right", "simple", "still",
        "table_fixed", "text_align", "text_decoration", "text_indent", "text_transform", "top",
        "vertical_align", "visible", "way", "white_space", "width", "word_spacing", "wrap",
    )  # fmt: skip

    color: Colour
    background_color: Colour
    background_image: str | None
    border: Sides
    border_colors: tuple[Colour, Colour, Colour, Colour]
    bottom: float
    box_sizing: str
    border_spacing: tuple[float, float]
    cell_border: float
    cell_padding: float | None
    clear: str
    collapse: bool
    direction: str
    display: str
    floated: str
    font: tuple[str, int, bool, float]
    font_family: str
    font_size: float
    font_weight: int
    height: Length
    in_list: bool
    italic: bool
    keep_all: bool
    kids: dict[Any, Style]  # shared by all styles that hand down the same
    kin: dict[Any, Style]  # those that took more from this very one
    lang: str
    left: float
    letter_spacing: float
    line_factor: float | None
    line_height: float | None
    list_style: str
    margin: tuple[Length, Length, Length, Length]
    max_height: Length
    max_width: Length
    min_height: Length
    min_width: Length
    odd: tuple[str, ...]
    opacity: float
    overflow: str
    padding: Sides
    percent_padding: tuple[Length, Length, Length, Length] | None
    plain_text: bool
    position: str
    right: float
    simple: bool
    still: bool
    table_fixed: bool
    text_align: str
    text_decoration: str
    text_indent: float
    text_transform: str
    top: float
    vertical_align: str | float
    visible: bool
    way: int
    white_space: str
    width: Length
    word_spacing: float
    wrap: int
