"""Our boxes against Chromium's, which has the shipped fonts under the names that mails use.

Source: Debian's Chromium, in standards mode. Compared are all sections' heights, all links' places in them
(buttons among them) and the number of lines of every text: in the demos, the blocks' samples in both
directions, every outline in every shop, and 200 generated mails. 1 px may differ, in 1 % of cases; texts with
another number of lines are told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import chain
from typing import Any

import pytest
from playwright.sync_api import Page
from tests.sheets import Sheet, demos, generated, outlined, samples

from handbill.dom import parse
from handbill.measure import Screen, measure

from .browser import Reader
from .measured import chromium_boxes, load_fonts

GENERATED = 200
PX = 1.0
SHARE = 0.99
# Phones' widths are issue numbers of check value H10; 600 and 800 are where the wide rules apply.
WIDTHS = {390: GENERATED, 800: GENERATED, 320: 40, 360: 40, 412: 40, 430: 40, 600: 40}


@dataclass
class Tally:
    """How many were compared, and which differ."""

    sections: int = 0
    links: int = 0
    lines: int = 0
    wrong_sections: list[str] = field(default_factory=list)
    wrong_links: list[str] = field(default_factory=list)
    wrong_lines: list[str] = field(default_factory=list)

    def add(self, name: str, mine: Any, theirs: list[Any], sections: set[int]) -> None:
        places, lined, elements = mine
        top = (0.0, 0.0)  # of the section, here and there: a link's place counts from it
        for element, (tag, x, y, width, height, lines) in zip(elements, theirs, strict=True):
            assert element.tag == tag, name
            own = places.get(element)
            if tag == "tr" and element.start in sections:
                self.sections += 1
                top = (own[1] if own else 0.0, y)
                if own is None or abs(own[3] - height) > PX:
                    self.wrong_sections.append(f"{name}: {own and own[3]} for {height} px at {element}")
            elif tag == "a" and width:
                self.links += 1
                seen = (x, y - top[1] + top[0], width, height)
                if own is None or max(abs(a - b) for a, b in zip(own, seen, strict=True)) > PX:
                    self.wrong_links.append(f"{name}: {own} for {seen} at {element}")
            if lines is not None:
                self.lines += 1
                if lined.get(element) != lines:
                    self.wrong_lines.append(f"{name}: {lined.get(element)} for {lines} lines in {element}")


@pytest.fixture(scope="module")
def page(reader: Reader) -> Iterator[Page]:
    with reader.bare() as page:
        page.set_content("<!DOCTYPE html><html><body></body></html>")
        load_fonts(page)
        yield page


@pytest.fixture(scope="module")
def sheets() -> list[Sheet]:
    return list(chain(demos(), samples(), outlined(), generated(GENERATED)))


def compared(page: Page, sheets: list[Sheet], width: int) -> Tally:
    tally = Tally()
    page.set_viewport_size({"width": width, "height": 844})
    for sheet in sheets:
        scroll, _, theirs = chromium_boxes(page, sheet)
        document = parse(sheet.html.encode())
        layout = measure(document, Screen(width), pictures=sheet.pictures)
        assert layout.width == pytest.approx(scroll, abs=PX), f"{sheet.name} at {width}"
        lined = {element: len({round(y) for _, y, _, _ in lines}) for element, lines in layout.lined}
        elements = [one for one in document.body.iter() if one is not document.body]
        starts = {section.start for section in document.sections}
        tally.add(f"{sheet.name} at {width}", (layout.places, lined, elements), theirs, starts)
    return tally


@pytest.mark.parametrize("width", WIDTHS)
def test_boxes_are_where_chromium_puts_them(page: Page, sheets: list[Sheet], width: int) -> None:
    fixed = len(sheets) - GENERATED
    tally = compared(page, sheets[: fixed + WIDTHS[width]], width)
    assert tally.sections > 500
    assert tally.links > 1000
    for wrong in (*tally.wrong_sections, *tally.wrong_links[:20], *tally.wrong_lines):
        print(wrong)
    sections = f"{len(tally.wrong_sections)} of {tally.sections:,} sections"
    links = f"{len(tally.wrong_links)} of {tally.links:,} links"
    lines = f"{len(tally.wrong_lines)} of {tally.lines:,} texts with other lines"
    print(f"at {width}, off by more than {PX:g} px: {sections}, {links}; {lines}")
    assert len(tally.wrong_sections) <= tally.sections * (1 - SHARE)
    assert len(tally.wrong_links) <= tally.links * (1 - SHARE)
    assert len(tally.wrong_lines) <= tally.lines * (1 - SHARE)


def test_a_difference_is_seen(page: Page, sheets: list[Sheet]) -> None:
    """The comparison can fail: another line height and another label on our side alone."""
    sheet = next(one for one in sheets if "line-height:29px" in one.html)
    page.set_viewport_size({"width": 390, "height": 844})
    _, _, theirs = chromium_boxes(page, sheet)
    document = parse(sheet.html.replace("line-height:29px", "line-height:40px !important").encode())
    layout = measure(document, Screen(390), pictures=sheet.pictures)
    elements = [one for one in document.body.iter() if one is not document.body]
    tally = Tally()
    tally.add(sheet.name, (layout.places, {}, elements), theirs, {one.start for one in document.sections})
    assert tally.wrong_sections
    assert tally.wrong_lines


LOOSE = (
    '<p style="margin:10px 0 20px">one</p><p style="margin:30px 0">two</p><div '
    'style="margin:5px"><p>three</p></div>',
    '<div style="width:50%;padding:3% 5px;border:3px solid"><p style="margin:0">half as wide</p></div>',
    '<table width="300" border="1" cellpadding="4"><tr><td>a</td><td width="40%">some longer text '
    'here</td></tr></table>',
    '<table><tr><td>one</td><td>two words</td><td>three words here</td></tr><tr><td '
    'colspan=2>across</td><td>x</td></tr></table>',
    '<table width="100%"><tr><td width="30%">a</td><td width="100">b</td><td>c d e</td></tr></table>',
    '<table cellspacing="5" width="250"><tr><td>a</td><td align="right">text that wraps in a narrow '
    'cell</td></tr></table>',
    '<img src="x.png" width="50" height="40" align="left"><p>Text beside a floated picture that is long '
    'enough to go '
    "below it as well, since it needs more than the two or three lines that stand beside it on any "
    "phone.</p>",
    '<p style="font-size:18px;line-height:1.5">Mixed <b style="font-size:30px">sizes</b> and '
    '<sup>super</sup> in it</p>',
    '<p><a style="display:inline-block;padding:12px 24px;border:2px solid" href="#">Button</a> beside '
    'text</p>',
    '<p style="text-align:center">x<img src="x.png" width="20" height="30" '
    'style="vertical-align:middle">y</p>',
    "<ul><li>one</li><li>two<ul><li>three</li></ul></li></ul><ol><li>first</li></ol><blockquote>said</blockquote>",
    '<div style="text-transform:uppercase;letter-spacing:2px">spaced out words that wrap at some width or '
    'other</div>',
    '<p style="white-space:nowrap;overflow:hidden">never wraps even if it is much too long for a narrow '
    'phone of 320</p>',
    "<p>unbroken-words and/or 12/24/36 e-mail? yes!no (brackets)[more] a—b c…d "
    "https://example.org/a/b?c=d&e=f</p>",
    '<div style="overflow-wrap:break-word;width:90px">Donaudampfschifffahrtsgesellschaft kommt</div>',
    '<p style="text-indent:30px">Indented by thirty px and long enough to take more than one line on any '
    'phone.</p>',
    '<div style="min-width:200px;max-width:50%;margin:0 auto"><hr><h1>Head</h1><h4>Small head</h4></div>',
    '<pre style="font:14px Arial">one\n  two</pre><p '
    'style="white-space:pre-line">a\nb</p><address>there</address>',
    '<table align="center" style="width:80%"><tr height="60"><td valign="bottom">low</td><td '
    'valign="top">high</td></tr></table>',
)  # fmt: skip


@pytest.mark.parametrize("markup", LOOSE)
def test_markup_that_is_not_ours(page: Page, markup: str) -> None:
    """What users' own blocks and other mails may hold: heights and places of all elements, within 1 px."""
    html = f'<!DOCTYPE html><html lang="en"><head></head><body style="font:16px Arial">{markup}</body></html>'
    sheet = Sheet("loose", html, {"x.png": (60, 60)})
    for width in (320, 600):
        page.set_viewport_size({"width": width, "height": 844})
        _, _, theirs = chromium_boxes(page, sheet)
        document = parse(html.encode())
        places = measure(document, Screen(width), pictures=sheet.pictures).places
        elements = [one for one in document.body.iter() if one is not document.body]
        for element, (tag, *seen, _) in zip(elements, theirs, strict=True):
            if tag not in ("tbody", "sup") and (seen[2] or seen[3]):
                assert places[element] == pytest.approx(seen, abs=PX), f"{element} at {width}"
