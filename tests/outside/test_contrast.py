"""Contrast of every text against the pixels behind it, pictures included, where axe-core cannot decide;
test_dark.py measures the same on dark screens.

Sources: WCAG 2.2 SC 1.4.3 Contrast (Minimum): 4.5, or 3 for text of at least 24 px, or 18.66 px bold; its
terms "relative luminance" and "contrast ratio" for the arithmetic.
"""

from __future__ import annotations

from base64 import b64decode
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Page

from .browser import Reader, View
from .mails import Mail
from .test_harness import NOWHERE, page

WIDTHS = (375, 1000)
# A picture's few stray pixels (a star in a sky) do not make a word unreadable.
STRAY = 0.02
# Each line of each visible text with its colour and size; then the text is made transparent for the picture.
LINES = """() => {
  const lines = [];
  const overPicture = (e) => {
    for (; e && e !== document.documentElement; e = e.parentElement) {
      const style = getComputedStyle(e);
      if (style.backgroundImage !== "none") return true;
      if (!/, 0\\)$|transparent/.test(style.backgroundColor)) return false;
    }
    return false;
  };
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const style = getComputedStyle(node.parentElement);
    if (!node.data.trim() || style.visibility !== "visible" || node.parentElement.closest("style")) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const r of range.getClientRects()) {
      if (r.width < 2 || r.height < 2) continue;
      lines.push({ text: node.data.trim().slice(0, 40), colour: style.color, size: parseFloat(style.fontSize),
        bold: Number(style.fontWeight) >= 700, box: [r.left, r.top, r.right, r.bottom],
        over: overPicture(node.parentElement) });
    }
  }
  for (const e of document.body.querySelectorAll("*")) {
    e.style.setProperty("-webkit-text-fill-color", "transparent", "important");
    e.style.setProperty("text-decoration-color", "transparent", "important");
  }
  return lines;
}"""


@dataclass(frozen=True)
class Contrast:
    """The ratio that all but the stray pixels under a line of text reach, and the one it needs."""

    text: str
    ratio: float
    needed: float
    over: bool = False  # a background picture


@cache
def luminance(colour: tuple[int, int, int]) -> float:
    """WCAG 2.2, "relative luminance"; a fraction from 0 (black) to 1 (white)."""
    linear = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def ratio(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    """WCAG 2.2, "contrast ratio"; from 1 to 21."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def contrast(line: dict[str, Any], picture: Image.Image) -> Contrast:
    numbers = line["colour"].removeprefix("rgb(").removesuffix(")").split(",")
    assert len(numbers) == 3, f"{line['text']}: {line['colour']} is not a plain colour"
    ink = (int(numbers[0]), int(numbers[1]), int(numbers[2]))
    left, top, right, bottom = line["box"]
    ground = picture.crop((int(left), int(top), int(right), int(bottom)))
    counted = ground.getcolors(ground.width * ground.height) or []
    allowance = STRAY * ground.width * ground.height
    worst = 21.0
    for reached, count in sorted((ratio(ink, colour), count) for count, colour in counted):
        worst = reached
        allowance -= count
        if allowance < 0:
            break
    large = line["size"] >= 24 or (line["bold"] and line["size"] >= 18.66)
    return Contrast(line["text"], worst, 3.0 if large else 4.5, line["over"])


def contrasts(reader: Reader, html: str, pictures: Path, view: View) -> list[Contrast]:
    with reader.open(html, pictures, view) as opened:
        opened.look()  # makes the window as tall as the mail
        return lines(opened.page)


def lines(page: Page) -> list[Contrast]:
    """Every line of text on the page, whose text is transparent afterwards."""
    found = page.evaluate(LINES)
    picture = shot(page)
    return [contrast(line, picture) for line in found]


def shot(page: Page) -> Image.Image:
    """The window's pixels, without the time that small files take."""
    session = page.context.new_cdp_session(page)
    data = session.send("Page.captureScreenshot", {"optimizeForSpeed": True})["data"]
    return Image.open(BytesIO(b64decode(data))).convert("RGB")


def test_all_text_stands_out_from_what_is_behind_it(shown: Mail, reader: Reader) -> None:
    """WCAG 2.2 SC 1.4.3. From right to left, copy stands over another part of a picture where it is wide."""
    faint = []
    for view in (View(width) for width in WIDTHS[shown.name.endswith("-rtl") :]):
        found = contrasts(reader, shown.html, shown.pictures, view)
        assert len(found) > 3
        faint += [(str(view), line) for line in found if line.ratio < line.needed]
    assert faint == []


def test_faint_text_on_a_picture_is_seen(reader: Reader) -> None:
    """The values are WCAG 2.2's own ends of the scale: black on white 21, white on white 1."""
    half = "linear-gradient(90deg, #fff 60%, #000 60%)"
    html = page(
        f'<p style="width:200px;background:{half}"><span style="color:#fff">a a a a a</span></p>'
        '<p style="color:#000;background:#fff">plain</p>'
    )
    faint, plain = contrasts(reader, html, NOWHERE, View(320))
    assert (round(faint.ratio, 3), faint.needed) == (1.0, 4.5)
    assert (round(plain.ratio, 3), plain.needed) == (21.0, 4.5)
