"""What the parts of the layout share: fragments, floats, the fonts and pictures of one mail."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal
from urllib.parse import unquote, urlsplit

from handbill.dom.cascade import Styler
from handbill.dom.style import Length, Style
from handbill.dom.tree import Child, Element
from handbill.measure.fonts import Sized, sized
from handbill.measure.platforms import choose

Edge = Literal["low", "middle", "high"]
Line = tuple[float, float, float, float]  # x, y in the block's content box; width, height
INLINE = frozenset(("inline", "inline-block", "inline-table", "inline-flex", "inline-grid"))
ROOMY = 1 / 32  # px that rounding to 1/64 px may cost on both sides of a comparison
FITS = 1 / 64 + 1e-6  # px that Chromium lets a line be too wide by (the epsilon of its layout unit)


_MOST_AGAIN = 500
_MOST_FONTS = 20_000
_FONTS: dict[tuple[str, Edge], dict[Style, Sized]] = {}


class Frag:
    """A box while it is laid out: `x`, `y` of its border box in its parent's, all px.

    `over` is how much wider its content must be than it was given, `base` and `last_base` the distances of
    its first and last baseline from its top, `top` and `bottom` margins after collapsing, `dx`, `dy` where
    its content box starts.
    """

    x = y = w = h = dx = dy = top = bottom = over = 0.0
    base: float | None = None
    last_base: float | None = None
    inline = False  # an inline box, whose lines are pieces of its parent's

    def __init__(self, element: Element | None, style: Style) -> None:
        self.element = element
        self.style = style
        self.kids: list[Frag] = []
        self.lines: list[Line] = []


class Floats:
    """The floats of one block formatting context, in its own coordinates (CSS 2.2, section 9.5.1)."""

    __slots__ = ("left", "lowest", "right", "width")

    def __init__(self, width: float) -> None:
        self.width = width
        self.left: list[tuple[float, float, float]] = []  # top, bottom, edge
        self.right: list[tuple[float, float, float]] = []
        self.lowest = 0.0

    def span(self, y: float, height: float, low: float, high: float) -> tuple[float, float]:
        """The free stretch between floats over a height, within `low` and `high`."""
        bottom = y + max(height, ROOMY)
        for top, end, edge in self.left:
            if top < bottom and end > y and edge > low:
                low = edge
        for top, end, edge in self.right:
            if top < bottom and end > y and edge < high:
                high = edge
        return low, high

    def next_bottom(self, y: float) -> float | None:
        """The next y at which a float ends."""
        return min((end for _, end, _ in (*self.left, *self.right) if end > y + ROOMY), default=None)

    def clear(self, side: str, y: float) -> float:
        for name, held in (("left", self.left), ("right", self.right)):
            if side in (name, "both"):
                y = max([y, *(end for _, end, _ in held)])
        return y

    def place(
        self, side: str, width: float, height: float, y: float, low: float, high: float
    ) -> tuple[float, float]:
        """Where a float of this size comes to stand; it is kept."""
        y = max([y, *(top for top, _, _ in (*self.left, *self.right))])
        while True:
            free = self.span(y, height, low, high)
            if width <= free[1] - free[0] + ROOMY:
                break
            lower = self.next_bottom(y)
            if lower is None:
                break
            y = lower
        x = free[0] if side == "left" else free[1] - width
        if width > 0 and height > 0:
            if side == "left":
                self.left.append((y, y + height, x + width))
            else:
                self.right.append((y, y + height, x))
        self.lowest = max(self.lowest, y + height)
        return x, y


class Core:
    """One layout of one mail."""

    def __init__(
        self, styler: Styler, pictures: Mapping[str, tuple[int, int]], platform: str, edge: Edge,
        markup: bytes | None = None,
    ) -> None:  # fmt: skip
        """`markup` is the mail's HTML where its elements' places are exact and its rules ask for nothing
        beyond single elements, so that equal markup in equal styles is laid out equally."""
        self.styler = styler
        self.markup = markup
        self.sheet = (styler.sheet, platform, edge)
        self.pictures = pictures
        self.platform = platform
        self.edge = edge
        self.notes: dict[str, None] = {}
        self.banded = False
        self.count_again = 0
        self.asked: dict[str, tuple[float, float] | None] = {}  # pictures, and what they were found to be
        self._fonts: dict[Style, Sized] = _FONTS.setdefault(self.sheet[1:], {})
        if len(self._fonts) > _MOST_FONTS:
            self._fonts.clear()
        self._intrinsic: dict[Element, tuple[float, float]] = {}

    def font(self, style: Style) -> Sized:
        found = self._fonts.get(style)
        if found is None:
            (twin, low, high), _ = choose(style.font_family, self.platform)
            factor = low if self.edge == "low" else high if self.edge == "high" else (low + high) / 2
            found = self._fonts[style] = sized(
                twin, style.font_weight, style.italic, style.font_size, style.letter_spacing,
                style.word_spacing, factor, low != high,
            )  # fmt: skip
        if found.banded:
            self.banded = True
        return found

    def again(self) -> bool:
        """Whether a table whose content was too wide may be laid out again: only so often in one mail, since
        tables in tables would take twice as long with each level."""
        self.passed(1)
        if not self.may_again(0):
            self.note("tables in tables are too wide so often that some are measured as they first came out")
        return self.may_again(0)

    def passed(self, more: int) -> None:
        self.count_again += more

    def may_again(self, more: int) -> bool:
        return self.count_again + more <= _MOST_AGAIN

    def note(self, text: str) -> None:
        self.notes[text] = None

    def missing(self, font: Sized, text: str) -> None:
        """Note what of a text its font has no glyphs for."""
        for one in sorted(font.missing.intersection(text)):
            self.note(f"no shipped font has {one!r} (U+{ord(one):04X}); its width is estimated")

    def odd(self, style: Style) -> None:
        for one in style.odd:
            self.note(f"measured without {one}")

    def natural(self, element: Element) -> tuple[float, float] | None:
        """A picture's own size in px, sought by its address and by the file name in it."""
        address = element.get("src")
        if address not in self.asked:
            self.asked[address] = self.size(address)
        return self.asked[address]

    def size(self, address: str) -> tuple[float, float] | None:
        """px of the picture at an address."""
        found = self.pictures.get(address) or self.pictures.get(
            unquote(urlsplit(address).path).rpartition("/")[2]
        )
        return (float(found[0]), float(found[1])) if found else None

    # What the parts ask of each other.
    def flow(
        self, children: list[Child], style: Style, width: float, into: Frag, floats: Floats, at: tuple[float,
        float], open_top: bool = False,
    ) -> float:  # fmt: skip
        raise NotImplementedError

    def box(
        self, element: Element, style: Style, width: float, floats: Floats | None, at: tuple[float, float],
        around: Style,
    ) -> Frag:  # fmt: skip
        raise NotImplementedError

    def table(self, element: Element, style: Style, width: float) -> Frag:
        raise NotImplementedError

    def set_table(self, element: Element, style: Style, width: float) -> Frag:
        raise NotImplementedError

    def picture(self, element: Element, style: Style, width: float) -> Frag:
        raise NotImplementedError

    def shrunk(self, element: Element, style: Style, width: float) -> Frag:
        raise NotImplementedError

    def has_block(self, element: Element, style: Style) -> bool:
        raise NotImplementedError

    def content_intrinsic(self, children: list[Child], style: Style) -> tuple[float, float]:
        raise NotImplementedError

    def inline(
        self, content: list[Child], style: Style, width: float, into: Frag, floats: Floats,
        at: tuple[float, float], y: float,
    ) -> float:  # fmt: skip
        raise NotImplementedError

    def intrinsic(self, element: Element, style: Style) -> tuple[float, float]:
        raise NotImplementedError

    def table_intrinsic(self, element: Element, style: Style) -> tuple[float, float]:
        raise NotImplementedError


def resolve(length: Length, against: float) -> float | None:
    """px of a length; None for auto."""
    if length.__class__ is tuple:
        return length[0] * against
    return length  # type: ignore[return-value]


def edges(style: Style, width: float) -> tuple[float, float, float, float]:
    """Padding in px, percentages of the containing block's width."""
    if style.percent_padding is None:
        return style.padding
    top, right, bottom, left = (resolve(one, width) or 0.0 for one in style.percent_padding)
    return top, right, bottom, left


def clamp(value: float, style: Style, against: float, extra: float) -> float:
    """A border-box width held between min-width and max-width; `extra` is padding and border."""
    add = 0.0 if style.box_sizing == "border-box" else extra
    most, least = resolve(style.max_width, against), resolve(style.min_width, against)
    if most is not None and value > most + add:
        value = most + add
    if least is not None and value < least + add:
        value = least + add
    return value
