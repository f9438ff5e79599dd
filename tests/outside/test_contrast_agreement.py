"""The rules of contrast against axe-core in Chromium: the same pairs of colours fail (WCAG 2.2 SC 1.4.3).

Demo mails in the light and in the dark, also with some colours changed so that texts become faint. Text over
pictures is left out: axe-core calls it undecided, and test_contrast.py reads its pixels.
"""

from __future__ import annotations

import random
import re
from pathlib import Path
from typing import Literal, NamedTuple

import pytest
from tests.breaking import CAMPAIGNS, sound

from handbill.colour.srgb import written
from handbill.dom.css import View as Seen
from handbill.preflight.page import Page

from .browser import Reader, View
from .mails import TOOLS

RUN = """() => axe.run(document, {runOnly: {type: "rule", values: ["color-contrast"]},
    resultTypes: ["violations"]}).then((found) => found.violations.flatMap((one) => one.nodes)
    .map((node) => node.any[0].data).map((data) => [data.fgColor, data.bgColor, data.contrastRatio]))"""
COLOUR = re.compile(r"(?<=[:;\"])color:#[0-9a-f]{6}")


def faded(html: str, seed: int) -> str:
    """The mail with some of its text colours drawn anew."""
    drawn = random.Random(seed)

    def change(found: re.Match[str]) -> str:
        return f"color:#{drawn.randrange(1 << 24):06x}" if drawn.random() < 0.3 else found[0]

    head, body = html.split("<body", 1)
    return head + "<body" + COLOUR.sub(change, body)


def ours(html: str, view: Seen) -> set[tuple[str, str]]:
    """Pairs of text colour and ground that fail, away from pictures."""
    return {
        (written(ink.colour), written(ink.ground.colour))
        for ink in Page(html).inks(view).texts
        if not ink.ground.picture and ink.ratio < ink.needed
    }


SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
# Pairs that failed in all shops and schemes together when this was written: 58.
FAINT = 50


class Compared(NamedTuple):
    """What differs between the two in one mail, and the pairs that fail by axe-core."""

    apart: list[str]
    faint: set[tuple[str, str]]


@pytest.fixture(scope="module", name="compared")
def every_mail(reader: Reader, tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], Compared]:
    nothing = tmp_path_factory.mktemp("no-pictures")
    return {
        (brand, scheme): compare(reader, brand, scheme, nothing) for brand in CAMPAIGNS for scheme in SCHEMES
    }


def compare(reader: Reader, brand: str, scheme: Literal["light", "dark"], pictures: Path) -> Compared:
    made = Compared([], set())
    for seed in range(3):
        html = faded(sound(brand).html, seed) if seed else sound(brand).html
        for width in (390, 600):
            with reader.open(html, pictures, View(width, scheme=scheme)) as opened:
                opened.look()  # makes the window as tall as the mail
                opened.page.evaluate((TOOLS / "axe-core" / "axe.min.js").read_text("utf-8"))
                found = opened.page.evaluate(RUN)
            theirs = {(ink, ground) for ink, ground, _ratio in found}
            seen = ours(html, Seen(width, 844, scheme))
            if seen != theirs:
                made.apart.append(f"{width} px, seed {seed}: {seen ^ theirs}")
            made.faint.update(theirs)
    return made


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("brand", CAMPAIGNS)
def test_the_same_pairs_fail(brand: str, scheme: str, compared: dict[tuple[str, str], Compared]) -> None:
    assert compared[brand, scheme].apart == []


def test_there_was_enough_to_compare(compared: dict[tuple[str, str], Compared]) -> None:
    """Agreement on mails where nothing is faint would say nothing."""
    assert sum(len(one.faint) for one in compared.values()) >= FAINT
