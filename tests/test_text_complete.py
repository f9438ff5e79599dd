"""Every text that an author wrote is read once, in the HTML and in the text part, in the same order.

Each text gets a mark of its own in front, so that it can be found wherever it went. Sources: WCAG 2.2 SC
1.3.2 Meaningful Sequence; RFC 2046 section 5.1.4 (each part of multipart/alternative says the same). HTML is
read by html5lib: comments (vector twins, ghost cells) are no text, nor is what assistive technology skips.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import html5lib
import pytest
from tests.composing import Spot, document, every_sample, mapping, rendered, resolved, rewrite, specs
from tests.workspaces import BRAND, make

from handbill.base.cache import Cache
from handbill.base.source import Doc, Node, child, entries, make_scalar, make_sequence, put
from handbill.loader import Loader

DEMO = Path(__file__).parents[1] / "demo"
BRANDS = sorted(path.parent.name for path in DEMO.glob("brands/*/brand.yaml"))
CAMPAIGNS = sorted(DEMO.glob("campaigns/*.yaml"))
NAMESPACE = "{http://www.w3.org/1999/xhtml}"
MARK = re.compile(r"q\d{3}q")
INVISIBLE = re.compile("[\u00ad\u200b-\u200f\u2060-\u2069]")


@dataclass(frozen=True)
class Written:
    """One text as its author wrote it, with its mark in front."""

    mark: str
    spot: Spot
    text: str

    def pattern(self) -> re.Pattern[str]:
        """What is read: the literal pieces in order; facts may say anything, Markdown's signs are gone."""
        split = r"\$\{[^}]*\}"
        if self.spot.kind == "copy":
            split += r"|\]\([^)]*\)|[*_\[\]\\]+|^\s*(?:-|\d+\.)\s"
        pieces = re.split(split, self.text, flags=re.MULTILINE)
        shown = [re.escape(read(piece)) for piece in pieces if read(piece)]
        opening = " ?" if read(pieces[0]) else ".{0,120}?"  # a fact may come first
        return re.compile(re.escape(self.mark) + opening + ".{0,120}?".join(shown))


def read(text: str) -> str:
    """Words and single spaces."""
    return " ".join(INVISIBLE.sub("", text).split())


class Marker:
    """Puts marks in front of texts, links and choices aside; texts at their limit lose their end."""

    def __init__(self) -> None:
        self.written: list[Written] = []

    def __call__(self, spot: Spot, text: str) -> str:
        # A quote is the customer's: it must stand in the review as it is.
        if spot.kind == "link" or spot.way[-1] == "quote" or not text.strip():
            return text
        mark = f"q{len(self.written):03d}q"
        room = len(text) if spot.most is None or "${" in text else spot.most - len(mark) - 1
        text = text.strip()[:room].rstrip()
        self.written.append(Written(mark, spot, text))
        # A list goes on being one under its mark.
        return f"{mark}\n\n{text}" if text.startswith("- ") else f"{mark} {text}"


def visible(root: Any) -> list[tuple[str, bool]]:
    """Texts that a person meets, in order, and whether each is a picture's: nothing hidden, no comments."""
    body = root.find(f"{NAMESPACE}body")
    assert body is not None
    return list(_texts(body))


def words(shown: list[tuple[str, bool]], pictures: bool = False) -> str:
    """The texts, without those of pictures or those alone."""
    return read("".join(text for text, of_picture in shown if of_picture == pictures))


def _is_read(element: Any) -> bool:
    return (
        isinstance(element.tag, str)
        and element.get("aria-hidden") != "true"
        and "display:none" not in element.get("style", "").replace(" ", "")
        and element.tag not in (f"{NAMESPACE}style", f"{NAMESPACE}script")
    )


def _texts(element: Any) -> Iterator[tuple[str, bool]]:
    if _is_read(element):
        yield " " if element.tag == f"{NAMESPACE}br" else element.text or "", False
        if element.get("alt"):
            yield f" {element.get('alt')} ", True
        for inner in element:
            yield from _texts(inner)
            yield inner.tail or "", False


def hidden(root: Any) -> str:
    """The text of dark twins and other things hidden from assistive technology."""
    return " ".join("".join(one.itertext()) for one in root.iter() if one.get("aria-hidden") == "true")


def check(html: str, text: str, written: list[Written]) -> None:
    """The claim of this file."""
    root = html5lib.parse(html)
    shown = visible(root)
    page = words(shown)
    letter = read(text)
    said = [one for one in written if one.spot.kind != "alt"]
    expected = {one.mark: one.spot.items for one in said}
    for whole in (page, letter):
        marks = MARK.findall(whole)
        assert {mark: marks.count(mark) for mark in expected} == expected
        unread = [one for one in said if not one.pattern().search(whole)]
        assert unread == []
    # What pictures show may be said in the text part, and then stands where they stand.
    spoken = MARK.findall(letter)
    assert [
        mark for mark in MARK.findall("".join(text for text, _of_picture in shown)) if mark in spoken
    ] == spoken
    alternatives = sorted(MARK.findall(words(shown, pictures=True)))
    assert alternatives == sorted(one.mark for one in written if one.spot.kind == "alt")
    assert MARK.findall(hidden(root)) == []


def marked(loader: Loader, doc: Doc, brand: str) -> tuple[Doc, list[Written]]:
    """The campaign with a mark in front of each text."""
    marker, known = Marker(), specs(loader, brand)
    stack = child(doc.root, "stack")
    assert stack is not None
    sections = [
        rewrite(node, known, marker) if child(node, "block") is not None else node for node in entries(stack)
    ]
    return Doc(doc.name, put(doc.root, "stack", make_sequence(sections, stack))), marker.written


@pytest.fixture(scope="module")
def loader() -> Loader:
    return Loader(DEMO, Cache())


@pytest.mark.parametrize("rtl", [False, True], ids=["ltr", "rtl"])
@pytest.mark.parametrize("brand", BRANDS)
def test_samples_say_everything_once(loader: Loader, brand: str, rtl: bool) -> None:
    doc, written = marked(loader, document(brand, every_sample(loader, brand), rtl=rtl), brand)
    assert len(written) > 50
    _made, whole = rendered(resolved(loader, doc))
    check("".join(whole.sample_html), "".join(whole.sample_text), written)


@pytest.mark.parametrize("campaign", CAMPAIGNS, ids=lambda path: path.stem)
def test_campaigns_say_everything_once(loader: Loader, campaign: Path) -> None:
    doc = loader.read(campaign)
    brand = child(doc.root, "brand")
    assert brand is not None
    doc, written = marked(loader, doc, brand.value)
    assert len(written) > 10
    _made, whole = rendered(resolved(loader, doc))
    check("".join(whole.sample_html), "".join(whole.sample_text), written)


def test_rows_of_the_shop_say_everything_once(tmp_path: Path) -> None:
    """Products and reviews: names, words and colours as the files have them."""
    products = "sku,name,kind,price,was,colours,picture,alt,link,copy\n" + "".join(
        f"S-{n},q0{n}1q Pot,pot,4{n},,q0{n}2q red:#aa0000;q0{n}3q blue:#0000aa,one.png,"
        f"q0{n}4q A pot,/{n},q0{n}5q Words.\n"
        for n in range(1, 4)
    )
    reviews = "id,product,name,place,stars,text\n" + "".join(
        f"T-{n},S-{n},q1{n}1q Ada,q1{n}2q Corrin,{n},q1{n}3q It boils.\n" for n in (1, 2)
    )
    root = make(tmp_path, {
        "brands/orrowby/products.csv": products, "brands/orrowby/reviews.csv": reviews,
        "brands/orrowby/brand.yaml": BRAND,
    })  # fmt: skip
    loader = Loader(root, Cache())
    like = document("orrowby", []).root
    stack = [
        put(mapping({"block": "product-stack"}, like), "products", _list(like, "S-1", "S-2", "S-3")),
        put(mapping({"block": "testimonial"}, like), "reviews", _list(like, "T-1", "T-2")),
        mapping({"block": "footer-nav"}, like),
    ]
    _made, whole = rendered(resolved(loader, document("orrowby", stack)))
    html, text = "".join(whole.sample_html), "".join(whole.sample_text)
    shown = visible(html5lib.parse(html))
    page = MARK.findall(words(shown))
    labels = [mark for label in re.findall(r'aria-label="([^"]*)"', html) for mark in MARK.findall(label)]
    names = sorted(f"q0{n}{k}q" for n in range(1, 4) for k in (1, 5)) + [
        f"q1{n}{k}q" for n in (1, 2) for k in (3, 1, 2)
    ]
    colours = [f"q0{n}{k}q" for n in range(1, 4) for k in (2, 3)]
    assert page == names
    assert labels == colours  # swatches carry their names for those who do not see them
    assert MARK.findall(words(shown, pictures=True))[:3] == [f"q0{n}4q" for n in range(1, 4)]
    letter = MARK.findall(read(text))
    assert [mark for mark in letter if mark not in colours] == names
    assert [mark for mark in letter if mark in colours] == colours


def _list(like: Node, *texts: str) -> Node:
    return make_sequence([make_scalar(one, like) for one in texts], like)


def test_the_check_can_fail() -> None:
    """Twice, out of order, hidden, left out: each is seen."""
    one, two = (Written(f"q00{n}q", Spot("text", None, ("x",)), "Word") for n in (1, 2))
    good = "<body><p>q001q Word</p><p>q002q Word</p>"
    check(good, "q001q Word\n\nq002q Word", [one, two])
    bad: list[tuple[str, str]] = [
        (good + "<p>q002q Word</p>", "q001q Word q002q Word"),
        (good, "q002q Word q001q Word"),
        (good, "q001q Word"),
        (good.replace("<p>q002q", '<p aria-hidden="true">q002q'), "q001q Word q002q Word"),
        ("<body><p>q001q Wor</p><p>q002q Word</p>", "q001q Wor q002q Word"),
        ("<body><p>q001q Word</p><!-- q002q Word -->", "q001q Word q002q Word"),
    ]
    for html, text in bad:
        with pytest.raises(AssertionError):
            check(html, text, [one, two])
