"""What phones, webmails and people do to a mail, done in Chromium: links made of dates, classes renamed,
`display:none` dropped, text grown to twice its size, words in the order of the accessibility tree.

These are models of what readers do (common practice), not the readers. Sources: WCAG 2.2 SC 1.4.4 Resize Text
(200 %), SC 1.3.2 Meaningful Sequence; Core-AAM 1.2 for the tree.
"""

from __future__ import annotations

import re
from typing import Any

import html5lib

from .browser import Reader, View
from .mails import Mail
from .test_layout import FILLER, squeezed

DETECTED = """() => {
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), found = [];
    for (let n = walker.nextNode(); n; n = walker.nextNode())
        if (/\\d/.test(n.data) && !n.parentElement.closest("style, a")) found.push(n);
    return found.map((n) => {
        const parent = n.parentElement, a = document.createElement("a");
        a.setAttribute("x-apple-data-detectors", "true"); a.href = "x-apple-data-detectors://0";
        n.replaceWith(a); a.append(n);
        const [mine, its] = [getComputedStyle(a), getComputedStyle(parent)];
        return [n.data.trim().slice(0, 40), ["color", "fontSize", "fontFamily", "fontWeight", "lineHeight"]
            .filter((one) => mine[one] !== its[one])
            .concat(mine.textDecorationLine === "none" ? [] : ["underline"])];
    });
}"""
# Twice the size of every text and its line, in px as computed; the boxes around them stay as they are.
TWICE = """() => {
    const all = [...document.body.querySelectorAll("*")].map((e) => [e, getComputedStyle(e)])
        .map(([e, s]) => [e, parseFloat(s.fontSize), parseFloat(s.lineHeight)]);
    for (const [e, size, line] of all) {
        e.style.setProperty("font-size", `${size * 2}px`, "important");
        if (line) e.style.setProperty("line-height", `${line * 2}px`, "important");
    }
}"""
RENAMED = re.compile(r"\.([a-z]\w*)(?=[^{}]*\{)")


def renamed(html: str) -> str:
    """Every class with a prefix, in rules and markup alike."""
    html = re.sub(
        r"<style\b.*?</style>", lambda style: RENAMED.sub(r".m_7-\1", style[0]), html, flags=re.DOTALL
    )
    return re.sub(
        r'(?<=\sclass=")[^"]+', lambda names: " ".join(f"m_7-{one}" for one in names[0].split()), html
    )


def test_numbers_that_are_made_links_look_as_before(campaign: Mail, reader: Reader) -> None:
    with reader.open(campaign.html, campaign.pictures, View(375)) as opened:
        found = opened.page.evaluate(DETECTED)
    assert found
    assert [one for one in found if one[1]] == []


def test_renamed_classes_change_nothing(campaign: Mail, reader: Reader) -> None:
    other = renamed(campaign.html)
    assert other.count("m_7-") > 50
    for view in (View(1000), View(375, scheme="dark")):
        shots = []
        for html in (campaign.html, other):
            with reader.open(html, campaign.pictures, view) as opened:
                opened.look()
                shots.append(opened.page.screenshot())
        assert shots[0] == shots[1], str(view)


def test_the_preheader_stays_hidden_without_display_none(campaign: Mail, reader: Reader) -> None:
    """The other ways of hiding are enough: no box, nothing seen, nothing moved."""
    html, count = re.subn(r"display:none;(?=max-height:0)", "", campaign.html)
    assert count >= 1
    with reader.open(campaign.html, campaign.pictures, View(375)) as opened:
        before = opened.look()
    with reader.open(html, campaign.pictures, View(375)) as opened:
        after = opened.look()
        height = opened.page.evaluate("document.body.firstElementChild.getBoundingClientRect().height")
    assert height <= 1
    assert after["visible"] == before["visible"]
    assert after["clipped"] == []
    hidden = FILLER.sub("", "".join(after["hidden"]))
    assert FILLER.sub("", campaign.preheader)[:20] in hidden


def test_text_of_twice_the_size_is_whole(campaign: Mail, reader: Reader) -> None:
    for view in (View(375), View(1000)):
        with reader.open(campaign.html, campaign.pictures, view) as opened:
            before = opened.look()
            opened.page.evaluate(TWICE)
            after = opened.look()
        assert sorted(after["visible"]) == sorted(before["visible"]), str(view)
        assert (after["clipped"], after["covered"]) == ([], []), str(view)


def spoken(page: Any) -> str:
    """Texts of the accessibility tree in its order, without the names of links and pictures."""
    nodes = page.context.new_cdp_session(page).send("Accessibility.getFullAXTree")["nodes"]
    known = {node["nodeId"]: node for node in nodes}
    said: list[str] = []

    def walk(node: Any) -> None:
        if node["role"]["value"] == "StaticText" and not node.get("ignored"):
            said.append(node["name"]["value"])
            return
        for one in node.get("childIds", ()):
            walk(known[one])

    walk(nodes[0])
    return squeezed(said).casefold()  # capitals that a style asks for stand in the tree


def test_what_is_read_aloud_is_what_is_seen_and_in_its_order(campaign: Mail, reader: Reader) -> None:
    """SC 1.3.2: words follow each other in the tree as in the source, and none that is seen is missing."""
    with reader.open(campaign.html, campaign.pictures, View(375)) as opened:
        tree = spoken(opened.page)
        seen = opened.look()["visible"]
    at = 0
    lost = []
    for text in seen:
        words = FILLER.sub("", text)
        if not re.search(r"\w", words):  # signs for the eye, which the tree leaves out
            continue
        words = words.casefold()
        found = tree.find(words, at)
        if found < 0:
            lost.append(text)
        else:
            at = found + len(words)
    assert len(seen) > 20
    assert lost == []


def test_one_first_heading_and_no_link_without_words(campaign: Mail) -> None:
    root = html5lib.parse(campaign.html, namespaceHTMLElements=False)
    assert len(list(root.iter("h1"))) == 1
    for link in root.iter("a"):
        words = "".join(link.itertext()).strip() + "".join(one.get("alt", "") for one in link.iter("img"))
        assert words.strip() or link.get("aria-label"), link.get("href")
    assert all(one.get("alt") is not None for one in root.iter("img"))
