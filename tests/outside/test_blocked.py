"""Every demo and every block's sample with pictures blocked, in Debian's Chromium: no words are lost.

Sources: HTML Living Standard, 15.4.3 (an img without its picture is its alternative text, in the element's
own style); WCAG 2.2 SC 1.1.1 and 1.4.3 (the alternative is there, and 4.5:1 to its ground).
"""

from __future__ import annotations

from typing import Any

import pytest
from coloraide import Color

from .browser import Reader, View
from .mails import Mail

VIEWS = [View(375), View(1000), View(375, "dark")]
LARGE = 90  # CSS px: a smaller box may grow for the words in it
PICTURES = """() => [...document.images].filter((one) => one.getClientRects().length).map((one) => {
    const style = getComputedStyle(one);
    let ground = one;
    while (ground && /rgba\\(0, 0, 0, 0\\)|transparent/.test(getComputedStyle(ground).backgroundColor))
        ground = ground.parentElement;
    const box = one.getBoundingClientRect();
    return {
        alt: one.alt, face: style.fontFamily, size: parseFloat(style.fontSize), colour: style.color,
        ground: ground ? getComputedStyle(ground).backgroundColor : "rgb(255, 255, 255)",
        width: box.width, height: box.height, over: one.scrollHeight - one.clientHeight,
        beyond: one.scrollWidth - one.clientWidth,
    };
})"""
WORDS = "() => document.body.innerText.replace(/\\s+/g, ' ').trim()"


def seen(mail: Mail, reader: Reader, view: View) -> tuple[list[dict[str, Any]], str]:
    with reader.open(mail.html, mail.pictures, view) as opened:
        return opened.page.evaluate(PICTURES), opened.page.evaluate(WORDS)


@pytest.mark.parametrize("view", VIEWS, ids=str)
def test_nothing_is_lost_when_pictures_are_blocked(shown: Mail, reader: Reader, view: View) -> None:
    usual, words = seen(shown, reader, view)
    blocked, words_then = seen(shown, reader, View(view.width, view.scheme, pictures=False))
    assert words_then == words
    assert [one["alt"] for one in blocked] == [one["alt"] for one in usual]
    assert len(blocked) > 5
    named = [(one, was) for one, was in zip(blocked, usual, strict=True) if one["alt"]]
    for one, was in named:
        if was["height"] >= LARGE and was["width"] >= LARGE:
            assert one["height"] == pytest.approx(was["height"], abs=1), one["alt"]
            assert one["width"] == pytest.approx(was["width"], abs=1), one["alt"]
        assert one["over"] <= 1, one["alt"]
        assert one["beyond"] <= 1, one["alt"]


@pytest.mark.parametrize("view", VIEWS[1:], ids=str)
def test_the_alternative_has_the_brands_type_and_can_be_read(shown: Mail, reader: Reader, view: View) -> None:
    blocked, _words = seen(shown, reader, View(view.width, view.scheme, pictures=False))
    named = [one for one in blocked if one["alt"]]
    faces = {one["face"] for one in named}
    assert len(faces) <= 3, faces  # that of small print, of stars, and of nothing else
    for one in named:
        assert 12 <= one["size"] <= 24, one
        if Color(one["ground"]).alpha() == 1:
            ratio = Color(one["colour"]).contrast(one["ground"], method="wcag21")
            assert ratio >= 4.49, (round(ratio, 2), one)
