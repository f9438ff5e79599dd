"""Mails where nothing is laid out: w3m (Debian), a text-mode browser that knows no CSS, and the text part.

Everything an author wrote is read there, and in order. What hides things elsewhere hides nothing here: the
preheader is seen, and a picture's dark twin speaks again beside it.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import html5lib
import pytest
from tests.composing import document, every_sample, rendered, resolved
from tests.test_text_complete import MARK, Written, marked, read

from handbill.base.source import Doc, child, scalar

from .mails import BRANDS, CAMPAIGNS, demo

WIDE = "2000"  # columns, so that a paragraph in a table's cell is one line and cells do not mix
TOGETHER = (
    8  # sections in one mail of samples: w3m leaves out what lies beyond twenty tables beside each other
)


def dump(html: str) -> str:
    """What w3m shows."""
    done = subprocess.run(
        ["w3m", "-dump", "-T", "text/html", "-I", "UTF-8", "-O", "UTF-8", "-cols", WIDE],
        input=html.encode(),
        capture_output=True,
        timeout=60,
        check=True,
    )
    return done.stdout.decode()


def side_by_side(html: str) -> Iterator[str]:
    """Marks in rows of several cells: w3m shows such cells line by line, beside each other."""
    for row in html5lib.parse(html, namespaceHTMLElements=False).iter("tr"):
        if len(row.findall("td")) > 1:
            yield from MARK.findall(" ".join(_said(row)))


def _said(element: Any) -> Iterator[str]:
    yield element.get("alt", "")
    yield element.text or ""
    for inner in element:
        yield from _said(inner)
        yield inner.tail or ""


def once(marks: list[str]) -> list[str]:
    """A dark twin repeats its picture's words right behind it."""
    return [mark for at, mark in enumerate(marks) if mark not in marks[:at]]


def unread(shown: str, written: list[Written]) -> list[Written]:
    return [one for one in written if not one.pattern().search(read(shown))]


def check(doc: Doc, brand: str) -> None:
    loader = demo()
    doc, written = marked(loader, doc, brand)
    _made, whole = rendered(resolved(loader, doc))
    html, text = "".join(whole.sample_html), "".join(whole.sample_text)
    shown = dump(html)
    said = [one for one in written if one.spot.kind != "alt"]
    assert len(said) > 5

    assert unread(shown, written) == []  # alt texts too
    assert unread(text, said) == []

    beside = set(side_by_side(html))
    spoken = [mark for mark in MARK.findall(text) if mark not in beside]
    assert once([mark for mark in MARK.findall(shown) if mark in set(spoken)]) == once(spoken)
    assert spoken


@pytest.mark.parametrize("campaign", CAMPAIGNS, ids=lambda path: path.stem)
def test_demos_are_read_whole_and_in_order(campaign: Path) -> None:
    doc = demo().read(campaign)
    check(doc, scalar(child(doc.root, "brand")) or "")


@pytest.mark.parametrize(("brand", "rtl"), [*((brand, False) for brand in BRANDS), (BRANDS[0], True)])
def test_samples_are_read_whole_and_in_order(brand: str, rtl: bool) -> None:
    sections = every_sample(demo(), brand)
    foot = sections[-1]
    for at in range(0, len(sections) - 1, TOGETHER):
        check(document(brand, [*sections[at : at + TOGETHER], foot], rtl=rtl), brand)


def test_words_that_are_missing_or_out_of_order_are_found() -> None:
    html = "<p>q001q One</p><table><tr><td>q002q Two</td><td>q003q Three</td></tr></table>"
    assert MARK.findall(dump(html)) == ["q001q", "q002q", "q003q"]
    assert set(side_by_side(html)) == {"q002q", "q003q"}
    assert "q004q" not in dump(html + "<!-- q004q -->")
    assert re.search("One\n.*Two.*Three", dump(html), re.DOTALL)
