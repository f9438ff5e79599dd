"""General inline content. Enters: texts, inline boxes, pictures, breaks; leaves: lines and boxes.

A unit is what no line may break in; it goes on the line as a whole. Follows CSS 2.2, sections 9.4.2 and 10.8.
"""

from __future__ import annotations

import re
from math import floor

from handbill.dom.style import Style
from handbill.dom.tree import Child, Element
from handbill.measure.bidi import LEFT, NEUTRAL, RIGHT, kind, ordered
from handbill.measure.breaks import may_break, needs_dictionary, units
from handbill.measure.core import FITS, ROOMY, Core, Floats, Frag, resolve
from handbill.measure.fonts import Sized
from handbill.measure.text import SPACES, merged, side, transformed

_SPACE = "S"  # a space that cannot break; neutral otherwise
_Piece = tuple[float, int, Frag | None, str]


class _Line:
    """One line while it fills: pieces are (width, box index or -1, the atomic fragment or None, kind)."""

    __slots__ = ("filled", "pieces", "width")

    def __init__(self) -> None:
        self.pieces: list[_Piece] = []
        self.width = 0.0
        self.filled = False


class Setter:
    """General inline content: nested inline boxes, pictures, inline blocks, forced breaks, floats beside."""

    def __init__(
        self,
        core: Core,
        style: Style,
        width: float,
        into: Frag,
        floats: Floats,
        at: tuple[float, float],
        y: float,
    ) -> None:
        self.core, self.style, self.full, self.into = core, style, width, into
        self.floats, self.at, self.y = floats, at, y
        self.top = y
        self.dx, self.dy = into.dx, into.dy
        self.boxes: list[tuple[Element, Style, int]] = []
        self.spans: dict[int, list[tuple[float, float, float, float]]] = {}
        self.box = -1
        self.unit: list[_Piece] = []
        self.bidi = style.direction == "rtl"
        self.unit_width = 0.0
        self.gap = 0.0
        self.gap_box = -1
        self.tail = ""
        self.line = _Line()
        self.styles: list[Style] = []
        self.low, self.high = self._free()
        self.indent = style.text_indent
        self.line.width = self.indent
        self.after_break = False

    def _free(self) -> tuple[float, float]:
        if not (self.floats.left or self.floats.right):
            return 0.0, self.full
        height = self.style.line_height or self.core.font(self.style).normal_height
        low, high = self.floats.span(self.at[1] + self.y, height, self.at[0], self.at[0] + self.full)
        return low - self.at[0], high - self.at[0]

    def content(self, children: list[Child], style: Style) -> None:
        for child in children:
            if child.__class__ is str:
                self.text(child, style)
                continue
            element: Element = child  # type: ignore[assignment]
            if element.tag == "br":
                self.newline()
                continue
            own = self.core.styler.below(style, element)
            if own.display == "none" or element.tag == "wbr":
                if element.tag == "wbr":
                    self.commit()
                continue
            if own.odd:
                self.core.odd(own)
            if own.display == "inline" and element.tag != "img":
                self.inline_box(element, own)
            elif own.position in ("absolute", "fixed"):
                continue
            else:
                self.atomic(element, own)

    def inline_box(self, element: Element, style: Style) -> None:
        outer = self.box
        self.boxes.append((element, style, outer))
        self.box = len(self.boxes) - 1
        before, after = self._sides(style)
        if before:
            self.unit.append((before, self.box, None, NEUTRAL))
            self.unit_width += before
        if (
            style.font != self.style.font
            or style.line_height != self.style.line_height
            or (style.vertical_align != "baseline")
        ):
            self.styles.append(style)
        empty = len(self.unit)
        self.content(element.children, style)
        if after:
            if not self.unit and self.line.filled and not self.gap:
                self._put(after, self.box, None, NEUTRAL)
            else:
                self.unit.append((after, self.box, None, NEUTRAL))
                self.unit_width += after
        elif empty == len(self.unit) and not element.children:
            self.unit.append((0.0, self.box, None, NEUTRAL))
        self.box = outer

    def _sides(self, style: Style) -> tuple[float, float]:
        left = (resolve(style.margin[3], self.full) or 0.0) + style.padding[3] + style.border[3]
        right = (resolve(style.margin[1], self.full) or 0.0) + style.padding[1] + style.border[1]
        return (right, left) if self.style.direction == "rtl" else (left, right)

    def text(self, text: str, style: Style) -> None:
        core = self.core
        font = core.font(style)
        if style.white_space in ("pre", "pre-wrap", "pre-line", "break-spaces"):
            self._preserved(text, style, font)
            return
        if style.text_transform != "none":
            text = transformed(text, style)
        pieces = SPACES.split(text)
        wraps = style.white_space != "nowrap"
        last = len(pieces) - 1
        if self.tail and pieces[0] and wraps and self.unit:
            joined = self.tail + pieces[0]
            if may_break(joined, len(self.tail)):
                self.commit()
        for at, word in enumerate(pieces):
            if word:
                self.word(word, style, font, wraps)
            if at < last:
                self._space(style, font, wraps)
        if font.missing and not text.isascii():
            core.missing(font, text)

    def _space(self, style: Style, font: Sized, wraps: bool) -> None:
        if not wraps:
            if self.unit or self.line.filled:
                if not (self.unit and self.unit[-1][3] == _SPACE):
                    self.unit.append((font.space, self.box, None, _SPACE))
                    self.unit_width += font.space
                self.tail = ""
            return
        tail = self.tail
        self.commit()
        self.tail = ""
        if self.gap == 0.0 and self.line.filled:
            self.gap = font.words[tail][1] if tail in font.words else font.space
            self.gap_box = self.box

    def word(self, word: str, style: Style, font: Sized, wraps: bool) -> None:
        found = font.word(word)
        what = LEFT
        if self.bidi or not word.isascii():
            what = kind(word)
            if what == RIGHT:
                self.bidi = True
        if not self.tail and self.gap and word[0] in font.leads:
            self.gap += font.leads[word[0]]
        if style.wrap == 3 or (needs_dictionary(word) and not word.isascii()):
            if style.wrap != 3:
                self.core.note("words of Thai, Lao and Khmer are not looked up; their lines are estimates")
            for width in font.pieces(word):
                self._add(width, what)
                self.commit()
        elif found[2] is None or not wraps:
            if wraps and style.wrap and found[0] > self.high - self.low:
                self._broken(word, what, font)
            else:
                self._add(found[0], what)
        else:
            parts = found[2]
            for number, (part, width) in enumerate(zip(units(word), parts, strict=True)):
                if style.wrap and width > self.high - self.low:
                    self._broken(part, what, font)
                else:
                    self._add(width, what)
                if number < len(parts) - 1:
                    self.commit()
        self.tail = word

    def _broken(self, word: str, what: str, font: Sized) -> None:
        """A word wider than its line: it starts a new line and breaks where it must."""
        self.commit()
        if self.line.filled and self.line.width > self.indent:
            self.finish_line()
        for width in font.pieces(word):
            if width and self.line.width + self.unit_width + width > self.high - self.low + FITS:
                self.commit()
                if self.line.filled:
                    self.finish_line()
            self._add(width, what)

    def _add(self, width: float, what: str) -> None:
        self.unit.append((width, self.box, None, what))
        self.unit_width += width

    def _preserved(self, text: str, style: Style, font: Sized) -> None:
        lines = text.replace("\r\n", "\n").split("\n")
        for number, line in enumerate(lines):
            if number:
                self.newline()
            if style.white_space == "pre-line":
                for at, word in enumerate(re.split("[ \t]+", line)):
                    if at:
                        self._space(style, font, True)
                    if word:
                        self.word(word, style, font, True)
            elif style.white_space == "pre":
                self._add(font.width(line), kind(line)) if line else None
            else:
                for word in re.findall(r"[^ \t]+|[ \t]+", line):
                    self._add(font.width(word), kind(word))
                    if word.isspace():
                        self.commit()

    def atomic(self, element: Element, style: Style) -> None:
        if element.tag == "img":
            frag = self.core.picture(element, style, self.full)
        else:
            frag = self.core.shrunk(element, style, self.full)
        self.commit()
        margins = (resolve(style.margin[1], self.full) or 0.0) + (resolve(style.margin[3], self.full) or 0.0)
        frag.x = resolve(style.margin[3], self.full) or 0.0
        self.unit.append((frag.w + margins, self.box, frag, NEUTRAL))
        self.unit_width += frag.w + margins
        if style.white_space != "nowrap":
            self.commit()
        self.tail = ""

    def newline(self) -> None:
        self.commit()
        self.line.filled = True
        self.finish_line()
        self.after_break = True

    def commit(self) -> None:
        """The unit goes on the line, or on the next one if it does not fit."""
        if not self.unit:
            return
        line, room = self.line, self.high - self.low + FITS
        if line.filled and line.width + self.gap + self.unit_width > room and line.width > self.indent - 1e-9:
            if line.pieces:
                self.finish_line()
            line = self.line
        while (
            (self.floats.left or self.floats.right)
            and not line.pieces
            and (self.unit_width > self.high - self.low + FITS)
        ):
            lower = self.floats.next_bottom(self.at[1] + self.y)
            if lower is None:
                break
            self.y = lower - self.at[1]
            self.low, self.high = self._free()
        over = self.unit_width - self.full
        if over > ROOMY and over > self.into.over:
            self.into.over = over
        if self.gap and line.filled:
            self._put(self.gap, self.gap_box if self.gap_box == self.unit[0][1] else -1, None, NEUTRAL)
        self.gap = 0.0
        for width, box, frag, what in self.unit:
            self._put(width, box, frag, what)
        line.filled = True
        self.unit = []
        self.unit_width = 0.0

    def _put(self, width: float, box: int, frag: Frag | None, what: str) -> None:
        self.line.pieces.append((width, box, frag, what))
        self.line.width += width

    def finish_line(self) -> None:
        line = self.line
        core, style = self.core, self.style
        font = core.font(style)
        height = style.line_height if style.line_height is not None else font.normal_height
        up: float = font.ascent + floor((height - font.ascent - font.descent) / 2)
        down = height - up
        atoms = [piece[2] for piece in line.pieces if piece[2] is not None]
        whole: list[float] = []
        if self.styles or atoms:
            up, down, whole = self._tall(line, atoms, up, down)
        height = max([up + down, *whole])
        align = side(style)
        free = self.high - self.low - line.width
        shift = 0.0 if align == "left" else free if align == "right" else free / 2
        rtl = style.direction == "rtl"
        if free < 0:
            shift = free if rtl else 0.0
        x = self.dx + self.low + shift
        top = self.dy + self.y
        base = top + up
        self.into.lines.append((x, top, line.width, height))
        if self.into.base is None:
            self.into.base = base
        self.into.last_base = base
        pieces = line.pieces
        if self.bidi:
            kinds = [NEUTRAL if one[3] == _SPACE else one[3] for one in pieces]
            pieces = [pieces[at] for at in ordered(kinds, rtl)]
        left = x + (self.indent if not rtl else 0.0)
        after = left
        for width, box, frag, _ in pieces:
            left, after = after, after + width
            if frag is not None:
                own = frag.style
                assert own is not None
                frag.x += left
                frag.y = self._where(frag, own, base, top, height)
                self.into.kids.append(frag)
            while box >= 0:
                _, inner, outer = self.boxes[box]
                sized = core.font(inner)
                raised = self._raised(inner)
                self.spans.setdefault(box, []).append(
                    (left, base - raised - sized.ascent, left + width, base - raised + sized.descent)
                )
                box = outer
        self.y += height
        self.line = _Line()
        self.gap = 0.0
        self.indent = 0.0
        self.after_break = False
        self.low, self.high = self._free()

    def _raised(self, style: Style) -> float:
        align = style.vertical_align
        if isinstance(align, float):
            return align
        size = self.style.font_size
        return {"super": floor(size / 3 + 1), "sub": -floor(size / 5 + 1)}.get(align, 0.0)

    def _tall(
        self, line: _Line, atoms: list[Frag], up: float, down: float
    ) -> tuple[float, float, list[float]]:
        """Height above and below the baseline, and heights of what is only aligned with the line."""
        whole: list[float] = []
        seen: set[int] = set()
        for _, box, _, _ in line.pieces:
            while box >= 0 and box not in seen:
                seen.add(box)
                _, style, box = self.boxes[box]
                font = self.core.font(style)
                height = style.line_height if style.line_height is not None else font.normal_height
                above: float = font.ascent + floor((height - font.ascent - font.descent) / 2)
                if style.vertical_align in ("top", "bottom"):
                    whole.append(height)
                    continue
                raised = self._raised(style)
                up, down = max(up, above + raised), max(down, height - above - raised)
        for frag in atoms:
            style = frag.style
            top, _, bottom, _ = (resolve(one, self.full) or 0.0 for one in style.margin)
            if style.vertical_align in ("top", "bottom"):
                whole.append(frag.h + top + bottom)
                continue
            rise = self._above(frag, style) + top
            up, down = max(up, rise), max(down, frag.h + top + bottom - rise)
        return up, down, whole

    def _above(self, frag: Frag, style: Style) -> float:
        """How far an atomic box rises above the line's baseline, without its margin."""
        base = frag.h + (resolve(style.margin[2], self.full) or 0.0)
        if frag.element is not None and frag.element.tag != "img" and style.overflow == "visible":
            held = frag.base if style.display == "inline-table" else frag.last_base
            if held is not None:
                base = held
        align = style.vertical_align
        if isinstance(align, float):
            return base + align
        if align == "middle":
            return (frag.h + self.core.font(self.style).x_height) / 2
        if align in ("super", "sub"):
            return base + self._raised(style)
        if align == "text-top":
            return self.core.font(self.style).ascent
        if align == "text-bottom":
            return frag.h - self.core.font(self.style).descent
        return base

    def _where(self, frag: Frag, style: Style, base: float, top: float, height: float) -> float:
        margin = resolve(style.margin[0], self.full) or 0.0
        if style.vertical_align == "top":
            return top + margin
        if style.vertical_align == "bottom":
            return top + height - frag.h - (resolve(style.margin[2], self.full) or 0.0)
        return base - self._above(frag, style)

    def finish(self) -> float:
        self.commit()
        held = self.line.filled or any(one[0] for one in self.line.pieces)
        if held and (self.line.pieces or not self.after_break):
            self.finish_line()
        for number, spans in self.spans.items():
            element, style, _ = self.boxes[number]
            frag = Frag(element, style)
            frag.inline = True
            up, down = style.padding[0] + style.border[0], style.padding[2] + style.border[2]
            frag.x, frag.y = min(one[0] for one in spans), min(one[1] for one in spans) - up
            frag.w = max(one[2] for one in spans) - frag.x
            frag.h = max(one[3] for one in spans) + down - frag.y
            frag.lines = [(a, b, c - a, d - b) for a, b, c, d in merged(spans)]
            self.into.kids.append(frag)
        return self.y - self.top
