"""The mail in a real layout engine (Debian's Chromium) at the widths, schemes and faults that readers have.

Sources: WCAG 2.2 SC 1.4.10 Reflow (no scrolling in two dimensions at 320 CSS px), SC 1.4.4 Resize Text (no
loss of content), SC 2.5.5 Target Size (Enhanced, 44 by 44 CSS px), SC 1.1.1 (text where no picture shows).
That readers block pictures and drop <style> is common practice.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
import yaml

from .browser import Reader, View
from .mails import ROOT, Mail

WIDTHS = (320, 375, 600, 1000)
VIEWS = (
    *(View(width) for width in WIDTHS),
    View(375, scheme="dark"),
    View(1000, scheme="dark"),
    *(View(width, pictures=False) for width in WIDTHS),
    View(320, styles=False),
    View(320, styles=False, pictures=False),
)
FILLER = re.compile("[\\s\u00ad\u034f\u200b-\u200f\u2007\u2060-\u2069\u2800\ufeff]+")


def declared(mail: Mail) -> dict[str, Any]:
    source = yaml.load(
        (ROOT / "demo" / "campaigns" / f"{mail.folder.parent.name}.yaml").read_text("utf-8"),
        Loader=yaml.BaseLoader,
    )
    assert isinstance(source, dict)
    return source


def literal_pieces(value: Any, keys: tuple[str, ...]) -> list[str]:
    """The parts of the declared texts under `keys` that no fact and no markup touches."""
    pieces: list[str] = []
    if isinstance(value, dict):
        for key, inner in value.items():
            if key in keys and isinstance(inner, str):
                pieces += re.split(r"\$\{[^}]*\}|[*_`\[\]()<>\\\n]+", inner)
            else:
                pieces += literal_pieces(inner, keys)
    elif isinstance(value, list):
        for inner in value:
            pieces += literal_pieces(inner, keys)
    return [piece.strip() for piece in pieces if piece.strip()]


def squeezed(texts: list[str]) -> str:
    return FILLER.sub("", "".join(texts))


@pytest.mark.parametrize("view", VIEWS, ids=str)
def test_fits_the_window_and_shows_all_its_text(shown: Mail, reader: Reader, view: View) -> None:
    """WCAG 2.2 SC 1.4.10 and 1.4.4."""
    with reader.open(shown.html, shown.pictures, view) as opened:
        seen = opened.look()
        refused = opened.refused
    scroll, window = seen["overflow"]
    assert scroll <= window, f"scrolls sideways: {scroll} px of content in {window} px"
    assert seen["clipped"] == []
    assert seen["covered"] == []
    # A web font is refused on purpose: most readers load none.
    assert [url for url in refused if not url.endswith((".woff", ".woff2"))] == []


@pytest.mark.parametrize("view", VIEWS[1:], ids=str)
def test_every_way_of_showing_it_shows_the_same_text(shown: Mail, reader: Reader, view: View) -> None:
    """WCAG 2.2 SC 1.4.10: reflow without loss of content; SC 1.1.1 for the views without pictures."""
    with reader.open(shown.html, shown.pictures, VIEWS[0]) as opened:
        at_first = opened.look()["visible"]
    with reader.open(shown.html, shown.pictures, view) as opened:
        now = opened.look()["visible"]
    assert set(at_first) == set(now)


@pytest.mark.parametrize("view", [View(375), View(375, pictures=False), View(320, styles=False)], ids=str)
def test_the_declared_copy_can_be_read(shown: Mail, reader: Reader, view: View) -> None:
    """What the author wrote is text on the page, not in a picture (WCAG 2.2 SC 1.4.5 Images of Text)."""
    pieces = literal_pieces(declared(shown)["stack"], ("headline", "copy", "title", "label"))
    assert len(pieces) > 5
    with reader.open(shown.html, shown.pictures, view) as opened:
        seen = squeezed(opened.look()["visible"])
    assert [piece for piece in pieces if FILLER.sub("", piece) not in seen] == []


@pytest.mark.parametrize("view", [View(375), View(1000), View(320, styles=False)], ids=str)
def test_only_the_preheader_is_hidden(shown: Mail, reader: Reader, view: View) -> None:
    """Filters take hidden text for spam (common practice); the preheader is the one exception."""
    with reader.open(shown.html, shown.pictures, view) as opened:
        seen = opened.look()
    hidden = [text for text in seen["hidden"] if text not in seen["visible"]]
    assert len(hidden) <= 1, hidden
    start = re.split(r"\$\{", declared(shown).get("preheader", ""))[0]
    assert all(FILLER.sub("", text).startswith(FILLER.sub("", start)) for text in hidden)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("styles", [True, False], ids=["styles", "no styles"])
def test_buttons_are_big_enough_to_hit(shown: Mail, reader: Reader, width: int, styles: bool) -> None:
    """WCAG 2.2 SC 2.5.5 Target Size (Enhanced): 44 by 44 CSS px."""
    buttons = [
        re.split(r"\$\{", section["button"]["label"])[0].strip()
        for section in declared(shown)["stack"]
        if isinstance(section.get("button"), dict)
    ]
    assert buttons
    assert buttons[0], "the first section with a button gives its label as plain words"
    with reader.open(shown.html, shown.pictures, View(width, styles=styles)) as opened:
        links = opened.page.evaluate(
            """() => [...document.links].map((a) => [a.innerText.replace(/\\s+/g, " ").trim(),
                a.getBoundingClientRect().width, a.getBoundingClientRect().height])"""
        )
    sizes = [
        (text, wide, high) for text, wide, high in links if any(text.startswith(b) for b in buttons if b)
    ]
    assert sizes, [text for text, *_ in links]
    assert sizes[0][0].startswith(buttons[0])
    assert [size for size in sizes if size[1] < 44 or size[2] < 44] == []
