"""The checks of this folder can fail: each bad mail below has one fault, and the look at it must say so."""

from __future__ import annotations

from pathlib import Path

import pytest

from .browser import Reader, View
from .test_axe import lines, run_axe

NOWHERE = Path(__file__).parent / "no-pictures"
PAGE = '<!DOCTYPE html><html lang="en"><title>x</title><style>{css}</style><body>{body}'
CUT = '<div style="width:200px;overflow:hidden;white-space:nowrap">a line too long for its narrow box</div>'
LID = '<div style="position:absolute;left:0;top:0;width:300px;height:99px;background:#000"></div>'


def page(body: str, css: str = "") -> str:
    return PAGE.format(body=body, css=css)


@pytest.mark.parametrize(
    ("body", "key", "words"),
    [
        (CUT, "clipped", "overflow"),
        (
            '<table><tr><td><div style="width:60px">Unbreakablylongword</div></td></tr></table>',
            "clipped",
            "runs out",
        ),
        ("<p>under</p>" + LID, "covered", "under"),
        ('<p style="display:none">gone</p>', "hidden", "gone"),
        ('<div style="max-height:0;overflow:hidden">gone</div>', "hidden", "gone"),
        ('<p style="opacity:0">gone</p>', "hidden", "gone"),
    ],
)
def test_a_fault_is_seen(reader: Reader, body: str, key: str, words: str) -> None:
    with reader.open(page(body), NOWHERE, View(320)) as opened:
        found = opened.look()[key]
    assert len(found) == 1
    assert words in found[0]


def test_a_sound_mail_has_none(reader: Reader) -> None:
    with reader.open(
        page('<table width="100%"><tr><td>Good morning</td></tr></table>'), NOWHERE, View(320)
    ) as opened:
        seen = opened.look()
    assert seen["visible"] == ["Good morning"]
    assert seen["clipped"] == seen["covered"] == seen["hidden"] == []


def test_scrolling_sideways_is_seen(reader: Reader) -> None:
    with reader.open(page('<div style="width:600px">wide</div>'), NOWHERE, View(320)) as opened:
        scroll, window = opened.look()["overflow"]
    assert (scroll > 600, window) == (True, 320)


def test_scheme_styles_and_refusals_take_effect(reader: Reader) -> None:
    html = page(
        '<p>day</p><img src="https://elsewhere.test/a.png" alt="a">',
        "@media (prefers-color-scheme: dark) { p { color: rgb(1, 2, 3) } }",
    )
    colour = "getComputedStyle(document.querySelector('p')).color"
    with reader.open(html, NOWHERE, View(320, scheme="dark")) as opened:
        assert opened.page.evaluate(colour) == "rgb(1, 2, 3)"
        assert opened.refused == ["https://elsewhere.test/a.png"]
    with reader.open(html, NOWHERE, View(320, scheme="dark", styles=False)) as opened:
        assert opened.page.evaluate(colour) == "rgb(0, 0, 0)"


def test_axe_sees_violations_and_small_targets(reader: Reader) -> None:
    """WCAG 2.2 SC 1.1.1, 1.4.3 and 2.5.8."""
    html = page(
        '<img src="a.png"><p style="color:#bbb">faint</p>'
        '<p><a href="/1" style="display:block;font-size:6px;line-height:6px">one</a>'
        '<a href="/2" style="display:block;font-size:6px;line-height:6px">two</a></p>'
    )
    found = run_axe(reader, html, NOWHERE, View(375))
    assert {rule for rule, *_ in lines(found["violations"])} >= {"image-alt", "color-contrast", "target-size"}
