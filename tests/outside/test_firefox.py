"""Demos and composed mails in a second engine: Debian's Firefox ESR, by WebDriver BiDi (npm puppeteer-core).

Source: Debian's Chromium, given the same fonts and pictures. Sections are as high within 2 %, or 2 px where
that is more (a thin section of 20 px would allow less than a pixel); both show all the same text, none of it
cut off or covered; neither scrolls sideways at 320 px (WCAG 2.2 SC 1.4.10). Then what readers do to mails is
done to them (common practice): pictures blocked, rules of the head dropped, classes renamed.
"""

from __future__ import annotations

import json
import re
import subprocess
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from itertools import chain
from typing import Any

import pytest
from tests.sheets import Sheet, demos, samples

from handbill.dom import parse

from .browser import LOOK as SEEN
from .browser import NO_BACKGROUNDS, STYLE, Reader
from .changed import renamed
from .mails import ROOT
from .measured import LOAD, LOOK, chromium_boxes, faces, inside, load_fonts

pytestmark = pytest.mark.xdist_group("firefox")  # one browser, one run through all mails
WIDTHS = (320, 800)
NEAR = 0.02
SOURCE = re.compile(r'(?<=src=")data:image/svg[^"]*')
UNSEEN = f"<style>{NO_BACKGROUNDS}</style></head>"
# What readers do, and the width at which it is looked at: without rules, a mail is as on a phone.
DONE: dict[str, tuple[int, Callable[[str], str]]] = {
    "pictures blocked": (800, lambda html: SOURCE.sub("data:,", html).replace("</head>", UNSEEN)),
    "no rules": (320, lambda html: STYLE.sub("", html)),
    "renamed": (800, renamed),
}


@dataclass(frozen=True)
class Both:
    """One mail at one width: [scroll, height, boxes] and what look.js sees, in both engines."""

    sheet: Sheet
    width: int
    fox: tuple[Any, Any]
    chromium: tuple[Any, Any]
    changed: dict[str, tuple[Any, Any]]  # in Firefox, by what was done, where it was done at this width


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
    jobs = [{"inside": inside(sheet), "width": width} for sheet, width in pairs]
    for sheet, width in pairs:
        for at, change in DONE.values():
            if at == width:
                html, *rest = inside(sheet)
                jobs.append({"inside": [change(html), *rest], "width": width})
    answers = iter(in_firefox(jobs))
    fox = [next(answers) for _pair in pairs]
    changed = [
        {name: tuple(next(answers)) for name, (at, _change) in DONE.items() if at == width}
        for _sheet, width in pairs
    ]
    found = []
    with reader.bare() as page:
        page.set_content("<!DOCTYPE html><html><body></body></html>")
        load_fonts(page)
        for (sheet, width), answer, done in zip(pairs, fox, changed, strict=True):
            page.set_viewport_size({"width": width, "height": 844})
            boxes = chromium_boxes(page, sheet)
            page.set_viewport_size({"width": width, "height": int(boxes[1]) + 50})
            seen = page.evaluate(SEEN.read_text("utf-8"))
            found.append(Both(sheet, width, (answer[0], answer[1]), (boxes, seen), done))
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
        assert (fox["clipped"], fox["covered"]) == ([], []), name


def test_it_does_not_scroll_sideways(both: list[Both]) -> None:
    assert [one.sheet.name for one in both if one.fox[0][0] > one.width] == []


@pytest.mark.parametrize("done", DONE)
def test_it_is_whole_after_what_readers_do(both: list[Both], done: str) -> None:
    """The same texts, none cut off or covered, nothing beyond the window; new names change no box at all."""
    looked = [(one, *one.changed[done]) for one in both if done in one.changed]
    assert len(looked) > 10
    for one, boxes, seen in looked:
        name = f"{one.sheet.name}, {done}, at {one.width}"
        lost = Counter(one.fox[1]["visible"]) - Counter(seen["visible"])
        assert lost == Counter(), name
        assert (seen["clipped"], seen["covered"]) == ([], []), name
        assert boxes[0] <= one.width, name
        if done == "renamed":
            assert boxes == one.fox[0], name
