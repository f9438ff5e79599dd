"""Plain text in lines. Enters: words and a width; leaves: the widths of the lines they take."""

from __future__ import annotations

import re

from handbill.dom.style import Style
from handbill.measure.core import FITS
from handbill.measure.fonts import Sized

SPACES = re.compile("[ \t\n\r\f]+")


def fill(words: list[str], font: Sized, width: float, wrap: int) -> tuple[list[float], float, bool]:
    """Line widths; how much too wide the widest word is; whether a word has to be broken anywhere."""
    known, leads = font.words, font.leads
    limit = width + FITS
    lines: list[float] = []
    line, gap, over = -1.0, 0.0, 0.0
    for word in words:
        found = known.get(word) or font.word(word)
        whole = found[0]
        if line < 0:
            total = whole
        else:
            total = line + gap + whole
            if word[0] in leads:
                total += leads[word[0]]
        if total <= limit:
            line = total
        elif found[2] is None:
            if line >= 0:
                lines.append(line)
            line = whole
            if whole > limit:
                if wrap:
                    return lines, over, True
                over = max(over, whole - width)
        else:
            if line >= 0:
                line += gap
            for part in found[2]:
                if line < 0:
                    line = part
                elif line + part <= limit:
                    line += part
                else:
                    if line > gap or lines:
                        lines.append(line)
                    line = part
                if part > limit:
                    if wrap:
                        return lines, over, True
                    over = max(over, part - width)
        gap = found[1]
    lines.append(line)
    return lines, over, False


def side(style: Style) -> str:
    align = style.text_align.lstrip("-")
    if align in ("start", "justify"):
        return "right" if style.direction == "rtl" else "left"
    if align == "end":
        return "left" if style.direction == "rtl" else "right"
    return align


def transformed(text: str, style: Style) -> str:
    """CSS Text 3, section 2.1, with Unicode's full case mapping and Turkic i."""
    if style.text_transform == "uppercase":
        if style.lang[:2].lower() in ("tr", "az"):
            text = text.replace("i", "İ").replace("ı", "I")
        return text.upper()
    if style.text_transform == "lowercase":
        return text.lower()
    if style.text_transform == "capitalize":
        return re.sub(r"(?<!\w)\w", lambda found: found[0].upper(), text)
    return text


def merged(spans: list[tuple[float, float, float, float]]) -> list[tuple[float, float, float, float]]:
    """Pieces of an inline box on one line, joined."""
    found: list[tuple[float, float, float, float]] = []
    for one in spans:
        if found and found[-1][1] == one[1]:
            last = found[-1]
            found[-1] = (min(last[0], one[0]), one[1], max(last[2], one[2]), one[3])
        else:
            found.append(one)
    return found
