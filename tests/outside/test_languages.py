"""Sections of both directions, and Japanese lines, in a real layout engine (Debian's Chromium).

Sources: CSS Writing Modes 3 section 2.1 for what mirrors; UAX #14 (classes CL, CP, EX) for signs that open no
line. Boxes are compared with boxes and line ends asked of the engine, so no font of a script is needed.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.composing import document, resolved, write

from handbill.base.letters import clusters
from handbill.base.source import child, entries, parse_yaml

from .browser import Reader, View
from .mails import ROOT, Mail, compile_campaign, demo

STACK = """\
stack:
  - block: product-stack
    dir: WAY
    title: Going fast
    button: {label: "Get the ${product.kind}"}
    products: [K-210, S-110]
  - {block: copy, dir: WAY, headline: Words, copy: "Some.\\n\\n- One\\n- Two", button: {label: On, link: /on}}
"""
BOXES = """(way) => [...document.querySelectorAll(`td[dir=${way}]`)].flatMap(
    (cell) => [...cell.querySelectorAll("td, p, h1, h2, h3, li, img, a")].map((e) => {
        const r = e.getBoundingClientRect();
        return [r.left, r.right, r.width];
    })).filter((box) => box[2] > 0)"""
OPENING = """() => {
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), found = [];
    for (let node; (node = walk.nextNode());) {
        let top = null;
        for (let at = 0; at < node.length; at++) {
            const range = document.createRange();
            range.setStart(node, at);
            range.setEnd(node, at + 1);
            const r = range.getBoundingClientRect();
            if (!r.width || r.height < 5) continue;
            if (top !== null && r.top > top + 4) found.push(node.data[at]);
            top = r.top;
        }
    }
    return found;
}"""
NEVER_FIRST = set("。、，．）」』】！？")  # small kana may: UAX #14 leaves class CJ to the engine


def both(way: str, other: str, out: Path) -> Mail:
    """One mail that is `other` with sections that are `way`, by their own word."""
    sections = entries(child(parse_yaml(STACK.replace("WAY", way).encode(), "x.yaml").root, "stack"))
    doc = document("orrowby", sections, rtl=other == "rtl", name=f"{way}-in-{other}")
    return Mail(write(demo(), resolved(demo(), doc), out), (), "")


@pytest.mark.parametrize("view", [View(375), View(1000)], ids=str)
def test_a_section_from_right_to_left_is_the_mirror_image(reader: Reader, tmp_path: Path, view: View) -> None:
    found = []
    for way, other in (("ltr", "rtl"), ("rtl", "ltr")):
        mail = both(way, other, tmp_path)
        with reader.open(mail.html, mail.pictures, view) as opened:
            found.append(opened.page.evaluate(BOXES, way))
            assert opened.page.evaluate("document.documentElement.scrollWidth") <= view.width
    left, right = found
    assert len(left) == len(right) > 15
    for (start, end, _w), (other_start, other_end, _v) in zip(left, right, strict=True):
        assert abs(view.width - end - other_start) <= 1
        assert abs(view.width - start - other_end) <= 1
    assert any(abs(start - other) > 20 for (start, *_), (other, *_) in zip(left, right, strict=True))


@pytest.mark.parametrize("view", [View(320), View(375), View(1000)], ids=str)
def test_no_japanese_line_opens_with_a_closing_sign(reader: Reader, tmp_path: Path, view: View) -> None:
    mail = compile_campaign(ROOT / "demo" / "campaigns" / "winter-last-call-ja.yaml", tmp_path)
    with reader.open(mail.html, mail.pictures, view) as opened:
        opening = opened.page.evaluate(OPENING)
    assert len(opening) > 3
    assert not NEVER_FIRST & set(opening)


# Words that stand on more than one line, where they have no place to break of their own.
BROKEN = """() => {
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), found = [];
    for (let node; (node = walk.nextNode());) {
        for (const word of node.data.matchAll(/[^\\s\u00ad\u200b\u2011-\u2014/-]+/g)) {
            const range = document.createRange();
            range.setStart(node, word.index);
            range.setEnd(node, word.index + word[0].length);
            const lines = [...range.getClientRects()].filter((r) => r.height > 5).map((r) => r.top);
            if (Math.max(...lines) > Math.min(...lines) + 4) found.push(word[0]);
        }
    }
    return [found, Math.max(...document.body.innerText.split(/\\s+/).map((one) => one.length))];
}"""


@pytest.mark.parametrize("view", [View(320), View(375), View(320, styles=False), View(1000)], ids=str)
def test_long_words_stay_whole(reader: Reader, tmp_path: Path, view: View) -> None:
    """SC 1.4.10 at 320 px: German words of up to 30 letters fit; a house's type is set for its languages."""
    mail = compile_campaign(ROOT / "demo" / "campaigns" / "the-lamp-is-lit-de.yaml", tmp_path)
    with reader.open(mail.html, mail.pictures, view) as opened:
        broken, longest = opened.page.evaluate(BROKEN)
        assert opened.page.evaluate("document.documentElement.scrollWidth") <= view.width
    assert longest >= 25
    assert broken == []


NAMED = """\
stack:
  - block: copy
    dir: WAY
    headline: On
    copy: "BEFORE ${recipient.first_name}, 12 AFTER"
    button: {label: On, link: /on}
"""
# Middles of the given words across the page, in px from the left.
MIDDLES = """(words) => words.map((word) => {
    const walk = document.createTreeWalker(document.querySelector("[role=article] p"), NodeFilter.SHOW_TEXT);
    for (let node; (node = walk.nextNode());) {
        const at = node.data.indexOf(word);
        if (at < 0) continue;
        const range = document.createRange();
        range.setStart(node, at);
        range.setEnd(node, at + word.length);
        const r = range.getBoundingClientRect();
        return (r.left + r.right) / 2;
    }
    return NaN;
})"""


@pytest.mark.parametrize(
    ("way", "name", "words"),
    [("ltr", "דנה", ("To", "12", "lamps")), ("ltr", "Maud", ("To", "12", "lamps")),
     ("rtl", "Maud", ("אל", "12", "מנורות")), ("rtl", "דנה", ("אל", "12", "מנורות"))],
)  # fmt: skip
def test_a_name_of_either_script_moves_nothing_beside_it(
    reader: Reader, tmp_path: Path, way: str, name: str, words: tuple[str, str, str]
) -> None:
    """UAX #9: without an isolate a number after a name of the other direction goes to its other side."""
    text = NAMED.replace("WAY", way).replace("BEFORE", words[0]).replace("AFTER", words[2])
    sections = entries(child(parse_yaml(text.encode(), "x.yaml").root, "stack"))
    doc = document("orrowby", sections, rtl=way == "rtl", name=f"named-{way}")
    html = Mail(write(demo(), resolved(demo(), doc), tmp_path), (), "").html
    assert html.count('<span dir="auto">Maud</span>') == 1
    html = html.replace('<span dir="auto">Maud</span>', f'<span dir="auto">{name}</span>')
    with reader.open(html, tmp_path, View(1000)) as opened:
        first, number, last = opened.page.evaluate(MIDDLES, list(words))
        (middle,) = opened.page.evaluate(MIDDLES, [name])
    order = [first, middle, number, last]
    assert order == sorted(order, reverse=way == "rtl")
    bare = html.replace(f'<span dir="auto">{name}</span>', name)
    with reader.open(bare, tmp_path, View(1000)) as opened:
        moved = [*opened.page.evaluate(MIDDLES, [words[0], name, words[1], words[2]])]
    assert (moved != sorted(moved, reverse=way == "rtl")) is ((way == "ltr") is (name == "דנה"))


SIGNS = (
    "👩‍👩‍👧‍👦 👋🏽 🇮🇪🇩🇪 1️⃣ ❤️‍🔥 🏴󠁧󠁢󠁳󠁣󠁴󠁿 🧑🏿‍🚀", "café cafe\u0301", "日の出まで。ｶﾞｷﾞ が か\u3099", "각 한글",
    "ที่นี่ น้ำ", "שָׁלוֹם", "السَّلامُ", "Zwölf Boxkämpfer", "☀️☁︎ ★☆ ©️ ™", "👨‍🌾👩🏻‍🌾 🐈‍⬛ 👁️‍🗨️", "e\u0301\u0323 a\r\nb",
)  # fmt: skip
SEGMENTED = """(texts) => texts.map((text) =>
    [...new Intl.Segmenter("en", {granularity: "grapheme"}).segment(text)].map((one) => one.segment))"""


def test_signs_are_counted_as_the_engine_does(reader: Reader) -> None:
    """UAX #29 by ICU, which Chromium gives out as Intl.Segmenter (ECMA-402)."""
    with reader.bare() as page:
        theirs = page.evaluate(SEGMENTED, list(SIGNS))
    assert [[*clusters(text)] for text in SIGNS] == theirs
