"""Demos, samples and outlines as they are for people who listen to them, in Chromium.

Sources: WCAG 2.2 SC 1.3.2 Meaningful Sequence, 2.4.4 Link Purpose (In Context), 1.1.1 Non-text Content, 1.3.1
Info and Relationships; Core-AAM 1.2 and HTML-AAM 1.0 for the accessibility tree, which Chromium gives out by
its DevTools protocol.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import pytest
from PIL import Image, ImageSequence
from playwright.sync_api import Page

from .browser import Reader
from .letters import Letter
from .mails import Mail
from .measured import stand_in

WIDTHS = (375, 1000)  # a phone's and a desktop's, in CSS px
LINK = re.compile(r"(?:https?://|mailto:|tel:)\S+")
WORD = re.compile(r"[\w%€£$¥]+")
# What is read and looked at, in the order of the file: paragraphs, headings, list items, links of their own,
# pictures. What is not shown has no box.
PIECES = """() => [...document.querySelectorAll("p, h1, h2, h3, h4, li, a, img")]
    .filter((e) => e.tagName === "IMG"
        || [...e.childNodes].some((n) => n.nodeType === Node.TEXT_NODE && n.data.trim()))
    .filter((e) => !(e.tagName === "A" && e.closest("p, h1, h2, h3, h4, li")))
    .map((e) => {
        const range = document.createRange();
        if (e.tagName === "IMG") range.selectNode(e); else range.selectNodeContents(e);
        const r = range.getBoundingClientRect();
        const words = (e.alt || e.innerText || "").trim().slice(0, 40);
        return [e.tagName, words, r.left, r.top, r.right, r.bottom];
    })
    .filter(([, , left, top, right, bottom]) => right - left > 1 && bottom - top > 3)"""
SLACK = 3  # px that lines reach over each other: letters stand out of tight ones


class Told(NamedTuple):
    """A stop in the accessibility tree: `role` is text, image, link or heading, `where` a link's address."""

    role: str
    words: str
    where: str = ""
    level: int = 0


class Piece(NamedTuple):
    """One box on the page, in px."""

    tag: str
    words: str
    left: float
    top: float
    right: float
    bottom: float


class Seen(NamedTuple):
    """One mail as it is told and as it is laid out at each width."""

    letter: Letter
    told: list[Told]
    pieces: dict[int, list[Piece]]


@pytest.fixture(scope="module", name="seen")
def every_mail(letters: list[Letter], reader: Reader) -> list[Seen]:
    found = []
    with reader.bare() as page:
        tree = page.context.new_cdp_session(page)
        for letter in letters:
            page.set_content(stand_in(letter.html, dict(letter.pictures)))
            pieces = {width: laid(page, width) for width in WIDTHS}
            found.append(Seen(letter, told(tree.send("Accessibility.getFullAXTree")["nodes"]), pieces))
    return found


def laid(page: Page, width: int) -> list[Piece]:
    page.set_viewport_size({"width": width, "height": 800})
    return [Piece(*one) for one in page.evaluate(PIECES)]


def told(nodes: list[Any]) -> list[Told]:
    """What a screen reader comes upon, in order."""
    known = {node["nodeId"]: node for node in nodes}
    found: list[Told] = []

    def walk(node: Any) -> None:
        role, name = node["role"]["value"], node.get("name", {}).get("value", "")
        about = {one["name"]: one["value"].get("value") for one in node.get("properties", ())}
        if not node.get("ignored"):
            if role == "StaticText":
                found.append(Told("text", name))
                return
            if role in ("image", "img"):
                found.append(Told("image", name))
                return
            if role in ("link", "heading"):
                found.append(Told(role, name, about.get("url", ""), about.get("level", 0)))
        for one in node.get("childIds", ()):
            walk(known[one])

    walk(nodes[0])
    return found


def words(text: str) -> list[str]:
    return WORD.findall(LINK.sub(" ", text).casefold())  # capitals that a style asks for stand in the tree


def apart(stops: list[Told], text: str) -> str:
    """Where the text part leaves what is told, word for word; it may leave out what names a picture."""
    left = words(text)
    for stop in stops:
        said = words(stop.words)
        if left[: len(said)] == said:
            left = left[len(said) :]
        elif stop.role == "text":
            return f"told {said[:8]}, the text part has {left[:8]}"
    return f"the text part goes on: {left[:8]}" if left else ""


def test_the_text_part_says_what_is_read_aloud_in_its_order(seen: list[Seen]) -> None:
    """SC 1.3.2: both come from one mail, so neither may tell it in another order, add to it or leave out."""
    found = {}
    for one in seen:
        stops = [stop for stop in one.told if stop.role in ("text", "image")]
        assert len(stops) > 20
        if wrong := apart(stops, one.letter.text):
            found[one.letter.name] = wrong
    assert found == {}


def out_of_order(pieces: list[Piece], rtl: bool) -> Iterator[str]:
    """Pieces that the eye meets in another order than the file has them.

    The next one stands below, or beside at the far side, or on top of the next column at that side. A picture
    may stand on either side of its words.
    """
    for one, then in pairwise(pieces):
        beside = then.right <= one.left + SLACK if rtl else then.left >= one.right - SLACK
        overlap = then.left < one.right - SLACK and one.left < then.right - SLACK
        level = min(one.bottom, then.bottom) - max(one.top, then.top) > SLACK
        above = then.top < one.top - SLACK
        picture = "IMG" in (one.tag, then.tag)
        if (above and overlap) or (
            (above or level) and not overlap and not beside and not (level and picture)
        ):
            yield f"{one.words!r} at {one[2:]}, then {then.words!r} at {then[2:]}"


@pytest.mark.parametrize("width", WIDTHS)
def test_the_eye_meets_things_in_the_order_they_are_read(seen: list[Seen], width: int) -> None:
    """SC 1.3.2, technique C27: the order of the file is the visual order."""
    found = {}
    for one in seen:
        assert len(one.pieces[width]) > 10
        if wrong := [*out_of_order(one.pieces[width], one.letter.rtl)]:
            found[one.letter.name] = wrong
    assert found == {}


def test_links_of_one_name_lead_to_one_place(seen: list[Seen]) -> None:
    """SC 2.4.4: a name by itself says where its link leads, link tags aside. None is without one."""
    for one in seen:
        places = defaultdict(set)
        for stop in one.told:
            if stop.role == "link":
                places[stop.words.strip()].add(urlsplit(stop.where)._replace(query="").geturl())
        assert "" not in places, one.letter.name
        assert {name: found for name, found in places.items() if len(found) > 1} == {}, one.letter.name
        assert len(places) > 3


def test_headings_are_one_first_and_no_step_is_left_out(seen: list[Seen]) -> None:
    """SC 1.3.1, techniques H42 and G141: one h1, and no heading more than a level below the one before it."""
    for one in seen:
        levels = [stop.level for stop in one.told if stop.role == "heading"]
        assert levels.count(1) == 1, one.letter.name
        first = levels.index(1)
        steps = [then - before for before, then in pairwise(levels[first:])]
        assert all(step <= 1 for step in steps), (one.letter.name, levels)


def test_pictures_are_told_or_said_to_be_decoration(seen: list[Seen]) -> None:
    """SC 1.1.1: what stands in the tree has a name; the alt text of a linked picture is never empty."""
    linked = re.compile(r"<a\b[^>]*>\s*(?:<span[^>]*>\s*)?<img\b[^>]*\salt=\"([^\"]*)\"")
    silent = 0
    for one in seen:
        assert all(stop.words.strip() for stop in one.told if stop.role == "image"), one.letter.name
        assert len(re.findall(r"<img\b", one.letter.html)) == len(
            re.findall(r"<img\b[^>]* alt=", one.letter.html)
        )
        assert all(alt.strip() for alt in linked.findall(one.letter.html)), one.letter.name
        silent += len(re.findall(r'<img\b[^>]* alt=""', one.letter.html))
    assert silent > 20  # ticks, moods and icons beside their own words


CELLS = [(across, down) for down in range(8) for across in range(8)]


def frames(file: Path) -> list[tuple[float, list[float]]]:
    """The seconds of each frame and the relative luminance of its cells, by Pillow."""
    found = []
    with Image.open(file) as opened:
        for frame in ImageSequence.Iterator(opened):
            cells = frame.convert("RGB").resize((8, 8), Image.Resampling.BOX)
            found.append((frame.info["duration"] / 1000, [luminance(cells.getpixel(at)) for at in CELLS]))
    return found


def luminance(colour: Any) -> float:
    """WCAG 2.2, "relative luminance"."""
    parts = [one / 255 for one in colour]
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def most_flashes(shown: list[tuple[float, list[float]]]) -> int:
    """Flashes in the worst second of any cell: pairs of opposing changes of a tenth, the darker below 0.8."""
    worst = 0
    for cell in range(len(shown[0][1])):
        at, turns, last, up = 0.0, list[float](), shown[0][1][cell], None
        for seconds, cells in shown:
            now = cells[cell]
            if abs(now - last) >= 0.1 and min(now, last) < 0.8:
                if up is not (now > last):
                    turns.append(at)
                up, last = now > last, now
            elif up is (now > last):
                last = now
            at += seconds
        worst = max([worst, *(sum(first <= one < first + 1 for one in turns) // 2 for first in turns)])
    return worst


def test_what_moves_comes_to_rest_and_does_not_flash(campaign: Mail) -> None:
    """SC 2.2.2 Pause, Stop, Hide: at most 5 s, for nobody can stop a picture; SC 2.3.1: three flashes."""
    assert not re.search(r"<(marquee|blink|video|object)\b|@keyframes|animation", campaign.html)
    moving = [*campaign.pictures.glob("*.gif")]
    assert bool(moving) is (".gif" in campaign.html)
    for file in moving:
        shown = frames(file)
        with Image.open(file) as opened:
            again = opened.info.get("loop")  # absent: once; 0: for ever
        assert again != 0, file.name
        assert sum(seconds for seconds, _cells in shown) * (1 + (again or 0)) <= 5, file.name
        assert most_flashes(shown) <= 3, file.name


def test_flashes_are_counted() -> None:
    dark, light = [0.0] * 64, [1.0] * 64
    assert most_flashes([(0.1, dark), (0.1, light)] * 5) == 4  # ten changes in a second less one
    assert most_flashes([(0.5, dark), (0.5, light)] * 5) == 1
    assert most_flashes([(0.02, [n / 50] * 64) for n in range(50)]) == 0  # a fade


def test_what_is_out_of_order_is_found() -> None:
    stops = [Told("text", "One two"), Told("image", "A lamp"), Told("text", "Three")]
    assert apart(stops, "One two\nThree: https://a.example/") == ""
    assert apart(stops, "One two\n[A lamp]\nThree") == ""
    assert "told ['three']" in apart(stops, "One two four Three")
    assert "goes on: ['five']" in apart(stops, "One two Three five")
    assert apart(stops[::-1], "One two Three")
    left, right = Piece("P", "a", 0, 0, 50, 20), Piece("P", "b", 60, 0, 110, 20)
    below, shot = Piece("P", "c", 0, 30, 50, 50), Piece("IMG", "d", 60, 0, 110, 20)
    assert [*out_of_order([left, right, below], False)] == []
    assert [*out_of_order([shot, left, below], False)] == []
    for pieces, rtl in (([right, left], False), ([left, right], True), ([below, left], False)):
        assert len([*out_of_order(pieces, rtl)]) == 1
