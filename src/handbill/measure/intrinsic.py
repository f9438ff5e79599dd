"""Narrowest and widest content (CSS Sizing 3, section 5). Enters: an element; leaves: px with its margins."""

from __future__ import annotations

from handbill.dom.style import Style
from handbill.dom.tree import Child, Element
from handbill.measure.core import INLINE, Core, resolve
from handbill.measure.text import transformed


class Intrinsic(Core):
    def intrinsic(self, element: Element, style: Style) -> tuple[float, float]:
        found = self._intrinsic.get(element)
        if found is None:
            found = self._intrinsic[element] = self._outer(element, style)
        return found

    def _outer(self, element: Element, style: Style) -> tuple[float, float]:
        margins = sum(one for one in (style.margin[1], style.margin[3]) if isinstance(one, float))
        pad, border = style.padding, style.border
        extra = pad[1] + pad[3] + border[1] + border[3]
        if element.tag == "img":
            least, most = self._picture(element, style)
        elif style.display in ("table", "inline-table"):
            least, most = self.table_intrinsic(element, style)
            return least + margins, most + margins
        elif isinstance(style.width, float):
            least = most = max(style.width - (extra if style.box_sizing == "border-box" else 0.0), 0.0)
        else:
            least, most = self.content_intrinsic(element.children, style)
        less = extra if style.box_sizing == "border-box" else 0.0
        if isinstance(style.max_width, float) and element.tag != "img":
            least, most = min(least, style.max_width - less), min(most, style.max_width - less)
        if isinstance(style.min_width, float):
            least, most = max(least, style.min_width - less), max(most, style.min_width - less)
        return least + extra + margins, most + extra + margins

    def _picture(self, element: Element, style: Style) -> tuple[float, float]:
        natural = self.natural(element)
        most = style.width if isinstance(style.width, float) else natural[0] if natural else 0.0
        if style.width is None and isinstance(style.height, float) and natural and natural[1]:
            most = style.height * natural[0] / natural[1]
        if isinstance(style.max_width, float):
            most = min(most, style.max_width)
        flexible = isinstance(style.width, tuple) or isinstance(style.max_width, tuple)
        return (0.0 if flexible else most), most

    def content_intrinsic(self, children: list[Child], style: Style) -> tuple[float, float]:
        """Of what stands in a box, without its padding."""
        least = most = 0.0
        floats = 0.0
        line = _Row()
        for child in children:
            if child.__class__ is str:
                self._text(child, style, line)
                continue
            own = self.styler.below(style, child)  # type: ignore[arg-type]
            element: Element = child  # type: ignore[assignment]
            if own.display == "none" or own.position in ("absolute", "fixed"):
                continue
            if own.floated != "none":
                low, high = self.intrinsic(element, own)
                if own.clear != "none":
                    most, floats = max(most, floats), 0.0
                least, floats = max(least, low), floats + high
            elif element.tag == "br":
                line.end()
            elif own.display in INLINE and not (
                own.display == "inline" and element.tag != "img" and self.has_block(element, own)
            ):
                self._inline(element, own, line)
            else:
                line.end()
                low, high = (
                    self.content_intrinsic(element.children, own)
                    if own.display == "inline"
                    else self.intrinsic(element, own)
                )
                least, most = max(least, low), max(most, high)
        line.end()
        return max(least, line.least), max(most, line.most + floats if line.most else floats)

    def _inline(self, element: Element, style: Style, line: _Row) -> None:
        if style.display != "inline" or element.tag == "img":
            low, high = self.intrinsic(element, style)
            line.cut()
            line.add(low, high)
            line.cut()
            return
        margins = [resolve(one, 0.0) or 0.0 for one in (style.margin[3], style.margin[1])]
        left = margins[0] + style.padding[3] + style.border[3]
        right = margins[1] + style.padding[1] + style.border[1]
        line.add(left, left)
        for child in element.children:
            if child.__class__ is str:
                self._text(child, style, line)
            else:
                own = self.styler.below(style, child)  # type: ignore[arg-type]
                if own.display == "none":
                    continue
                if child.tag == "br":  # type: ignore[union-attr]
                    line.end()
                else:
                    self._inline(child, own, line)  # type: ignore[arg-type]
        line.add(right, right)

    def _text(self, text: str, style: Style, line: _Row) -> None:
        font = self.font(style)
        if style.text_transform != "none":
            text = transformed(text, style)
        if style.white_space in ("pre", "pre-wrap", "pre-line"):
            for number, one in enumerate(text.split("\n")):
                if number:
                    line.end()
                line.add(font.width(one), font.width(one))
            return
        wraps = style.white_space == "normal"
        anywhere = style.wrap >= 2
        if text[0] in " \t\n\r\f":
            line.space(font.space, wraps)
        pieces = text.split() if text.isascii() else [one for one in _split(text) if one]
        gap = 0.0
        for number, word in enumerate(pieces):
            whole, spaced, parts = font.word(word)
            if number:
                if word[0] in font.leads:
                    gap += font.leads[word[0]]
                line.space(gap, wraps)
            if not wraps:
                line.add(whole, whole)
            elif anywhere:
                line.cut()
                line.add(font.narrowest(word), whole)
                line.cut()
            elif parts is None:
                line.add(whole, whole)
            else:
                for at, width in enumerate(parts):
                    if at:
                        line.cut()
                    line.add(width, width)
            gap = spaced
        if pieces and text[-1] in " \t\n\r\f":
            line.space(gap, wraps)


def _split(text: str) -> list[str]:
    return text.replace("\t", " ").replace("\n", " ").replace("\r", " ").replace("\f", " ").split(" ")


class _Row:
    """A line that never breaks, and the units it could break into."""

    __slots__ = ("gap", "least", "most", "unit", "width")

    def __init__(self) -> None:
        self.least = self.most = self.unit = self.width = self.gap = 0.0

    def add(self, low: float, high: float) -> None:
        self.unit += low
        if high:
            self.width += self.gap + high
            self.gap = 0.0

    def space(self, width: float, wraps: bool) -> None:
        if self.width and not self.gap:
            self.gap = width
        if wraps:
            self.cut()
        else:
            self.unit += width

    def cut(self) -> None:
        self.least = max(self.least, self.unit)
        self.unit = 0.0

    def end(self) -> None:
        self.cut()
        self.most = max(self.most, self.width)
        self.width = self.gap = 0.0
