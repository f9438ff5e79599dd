"""Demos and composed mails in a second engine: Debian's Firefox ESR, by WebDriver BiDi (npm puppeteer-core).

Source: Debian's Chromium, given the same fonts and pictures. Sections are as high within 2 %, or 2 px where
that is more (a thin section of 20 px would allow less than a pixel); both show all the same text, none of it
cut off; neither scrolls sideways at 320 px (WCAG 2.2 SC 1.4.10).
"""

from __future__ import annotations

import json
import subprocess
from collections import Counter
from dataclasses import dataclass
from itertools import chain
from typing import Any

import pytest
from tests.sheets import Sheet, demos, samples

from handbill.dom import parse

from .browser import LOOK as SEEN
from .browser import Reader
from .mails import ROOT
from .measured import LOAD, LOOK, chromium_boxes, faces, inside, load_fonts

WIDTHS = (320, 800)
NEAR = 0.02


@dataclass(frozen=True)
class Both:
    """One mail at one width: [scroll, height, boxes] and what look.js sees, in both engines."""

    sheet: Sheet
    width: int
    fox: tuple[Any, Any]
    chromium: tuple[Any, Any]


def in_firefox(jobs: list[dict[str, Any]]) -> list[Any]:
    order = {"load": LOAD, "faces": faces(), "look": LOOK, "seen": SEEN.read_text("utf-8"), "jobs": jobs}
    done = subprocess.run(
        ["node", "tests/tools/firefox.mjs"],
        input=json.dumps(order),
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=240,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["version"].lower().startswith("firefox"), told["version"]
    assert isinstance(told["answers"], list)
    return told["answers"]


@pytest.fixture(scope="module")
def both(reader: Reader) -> list[Both]:
    shown = list(chain(demos(), samples()))
    pairs = [(sheet, width) for width in WIDTHS for sheet in shown]
    fox = in_firefox([{"inside": inside(sheet), "width": width} for sheet, width in pairs])
    found = []
    with reader.bare() as page:
        page.set_content("<!DOCTYPE html><html><body></body></html>")
        load_fonts(page)
        for (sheet, width), answer in zip(pairs, fox, strict=True):
            page.set_viewport_size({"width": width, "height": 844})
            boxes = chromium_boxes(page, sheet)
            page.set_viewport_size({"width": width, "height": int(boxes[1]) + 50})
            seen = page.evaluate(SEEN.read_text("utf-8"))
            found.append(Both(sheet, width, (answer[0], answer[1]), (boxes, seen)))
    return found


def heights(sheet: Sheet, boxes: Any) -> list[float]:
    """Heights of the sections' rows, px."""
    document = parse(sheet.html.encode())
    starts = {section.start for section in document.sections}
    elements = [one for one in document.body.iter() if one is not document.body]
    rows = zip(elements, boxes[2], strict=True)
    return [box[4] for element, box in rows if element.tag == "tr" and element.start in starts]


def test_sections_are_as_high(both: list[Both]) -> None:
    wrong = []
    for one in both:
        mine, theirs = (heights(one.sheet, boxes) for boxes, _seen in (one.fox, one.chromium))
        assert len(mine) == len(theirs) > 3
        wrong += [
            f"{one.sheet.name} at {one.width}, section {at}: {fox} px, Chromium {other} px"
            for at, (fox, other) in enumerate(zip(mine, theirs, strict=True), 1)
            if abs(fox - other) > max(other * NEAR, 2)
        ]
    assert wrong == []


def test_the_same_text_is_seen(both: list[Both]) -> None:
    for one in both:
        fox, chromium = one.fox[1], one.chromium[1]
        name = f"{one.sheet.name} at {one.width}"
        assert Counter(fox["visible"]) == Counter(chromium["visible"]), name
        assert len(fox["visible"]) > 20, name
        # What lies over what is Chromium's to say: Firefox takes a point above a tight line for that line.
        assert fox["clipped"] == [], name


def test_it_does_not_scroll_sideways(both: list[Both]) -> None:
    assert [one.sheet.name for one in both if one.fox[0][0] > one.width] == []
