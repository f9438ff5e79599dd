"""Lines of text (CSS 2.2, sections 9.4.2, 10.8; CSS Text 3). Enters: inline content; leaves: lines and their
boxes.

Breaks come after white space and where `breaks` allows; a line's height is worked out as Chromium does, with
ascents and descents in whole px and half the leading rounded down above the text.
"""

from __future__ import annotations

from math import floor

from handbill.dom.style import Style
from handbill.dom.tree import Child
from handbill.measure.core import Core, Floats, Frag
from handbill.measure.setter import Setter
from handbill.measure.text import SPACES, fill, side, transformed


class Inline(Core):
    def inline(
        self, content: list[Child], style: Style, width: float, into: Frag, floats: Floats,
        at: tuple[float, float], y: float,
    ) -> float:  # fmt: skip
        """Set inline content in lines `width` px wide from `y` on; the height they take, 0 if there are
        none."""
        if len(content) == 1 and content[0].__class__ is str and not (floats.left or floats.right):
            taken = self._plain(content[0], style, width, into, y)
            if taken is not None:
                return taken
        setter = Setter(self, style, width, into, floats, at, y)
        setter.content(content, style)
        return setter.finish()

    def _plain(self, text: str, style: Style, width: float, into: Frag, y: float) -> float | None:
        """The common case: one text in one font, no floats beside it; None for anything else."""
        if style.white_space != "normal" or style.text_transform == "capitalize" or style.text_indent:
            return None
        font = self.font(style)
        words = self.words(text, style)
        if not words:
            return 0.0
        widths, over, broken = fill(words, font, width, style.wrap)
        if broken:
            return None
        if over > into.over:
            into.over = over
        height = style.line_height if style.line_height is not None else font.normal_height
        align = side(style)
        dx, top = into.dx, y + into.dy
        lines = into.lines
        base = top + font.ascent + floor((height - font.ascent - font.descent) / 2)
        if into.base is None:
            into.base = base
        for one in widths:
            x = dx if align == "left" else dx + (width - one if align == "right" else (width - one) / 2)
            lines.append((x, top, one, height))
            top += height
        into.last_base = base + height * (len(widths) - 1)
        if font.missing and not text.isascii():
            self.missing(font, text)
        return height * len(widths)

    def words(self, text: str, style: Style) -> list[str]:
        """The words of a text as it is shown; white space separates, no-break spaces do not."""
        if style.text_transform != "none":
            text = transformed(text, style)
        return text.split() if text.isascii() else [one for one in SPACES.split(text) if one]
