"""What phones, webmails and people do to a mail, done in Chromium: links made of dates, classes renamed,
`display:none` dropped, text grown to twice its size, words in the order of the accessibility tree, fingers.

These are models of what readers do (common practice), not the readers. Sources: WCAG 2.2 SC 1.4.4 Resize Text
(200 %), SC 1.3.2 Meaningful Sequence, SC 2.5.8 Target Size (Minimum); Core-AAM 1.2 for the tree; CSS Mobile
Text Size Adjustment 1. A mail is loaded once, and put back after each.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import Any

import html5lib
from playwright.sync_api import Page

from .browser import Reader, Shown, View
from .changed import renamed
from .mails import Mail
from .test_contrast import shot
from .test_harness import NOWHERE, page
from .test_layout import FILLER, squeezed

PHONE, DESKTOP = 375, 1000  # CSS px
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
KEEP = """() => {
    window.kept = [...document.body.querySelectorAll("*")].map((e) => [e, e.getAttribute("style")]);
}"""
BACK = """() => { for (const [e, style] of window.kept)
    style === null ? e.removeAttribute("style") : e.setAttribute("style", style); }"""
# The preheader and what follows it, hidden by all but display; their heights.
UNHIDE = """() => [...document.body.children]
    .filter((e) => /display:none;max-height:0/.test(e.getAttribute("style")))
    .map((e) => { e.style.display = "block"; return e.getBoundingClientRect().height; })"""
# How many links there are, and those too small to press by SC 2.5.8: below 24 by 24 px, where a circle of 24
# px around the middle meets another target, or the circle of another small one. As there, links in a sentence
# are left out, and those with an equal that is large enough.
SMALL = """() => {
    const least = 24;
    const sentence = (a) => {
        const walker = document.createTreeWalker(a.closest("p, h1, h2, h3, li, td"), NodeFilter.SHOW_TEXT);
        for (let n = walker.nextNode(); n; n = walker.nextNode())
            if (/\\w/u.test(n.data) && !n.parentElement.closest("a, style")) return true;
        return false;
    };
    const targets = [...document.links].map((a) => {
        const rects = [a, ...a.querySelectorAll("*")].flatMap((e) => [...e.getClientRects()])
            .filter((r) => r.width && r.height);
        const [left, top] = ["left", "top"].map((side) => Math.min(...rects.map((r) => r[side])));
        const [right, bottom] = ["right", "bottom"].map((side) => Math.max(...rects.map((r) => r[side])));
        const small = right - left < least || bottom - top < least;
        return { a, left, top, right, bottom, small, x: (left + right) / 2, y: (top + bottom) / 2 };
    }).filter((one) => one.right > one.left);
    const to = (one, o) => Math.hypot(one.x - Math.max(o.left, Math.min(one.x, o.right)),
        one.y - Math.max(o.top, Math.min(one.y, o.bottom)));
    const crowded = (one) => targets.some((o) => o !== one && (to(one, o) < least / 2
        || (o.small && Math.hypot(one.x - o.x, one.y - o.y) < least)));
    const equal = (one) => targets.some((o) => !o.small && o.a.href === one.a.href);
    const wrong = (one) => one.small && !sentence(one.a) && !equal(one) && crowded(one);
    return [targets.length, targets.filter(wrong)
        .map((one) => `${one.a.textContent.trim().slice(0, 40)}: ${Math.round(one.right - one.left)} by `
            + `${Math.round(one.bottom - one.top)} px`)];
}"""


def spoken(opened: Page) -> str:
    """Texts of the accessibility tree in its order, without the names of links and pictures."""
    nodes = opened.context.new_cdp_session(opened).send("Accessibility.getFullAXTree")["nodes"]
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


def lost_or_out_of_order(seen: list[str], tree: str) -> list[str]:
    """Texts that do not follow in the tree as they do in the source."""
    at, lost = 0, []
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
    return lost


def resized(opened: Shown) -> dict[str, Any]:
    """What is wrong once text is twice as large."""
    before = opened.look()
    opened.page.evaluate(KEEP)
    opened.page.evaluate(TWICE)
    after = opened.look()
    opened.page.evaluate(BACK)
    gone = Counter(before["visible"]) - Counter(after["visible"])
    return {"gone": list(gone), "clipped": after["clipped"], "covered": after["covered"]}


def unhidden(opened: Shown, mail: Mail, before: dict[str, Any]) -> list[str]:
    """What is wrong where `display:none` is not honoured: the other ways of hiding have to be enough."""
    opened.page.evaluate(KEEP)
    heights = opened.page.evaluate(UNHIDE)
    after = opened.look()
    opened.page.evaluate(BACK)
    hidden = FILLER.sub("", "".join(after["hidden"]))
    wrong = []
    if not heights or max(heights) > 1:
        wrong.append(f"heights {heights}")
    if after["visible"] != before["visible"] or after["clipped"]:
        wrong.append(f"seen: {after['visible'][:2]}, {after['clipped']}")
    if FILLER.sub("", mail.preheader)[:20] not in hidden:
        wrong.append("the preheader is not among what is hidden")
    return wrong


def test_it_bears_what_phones_and_people_do(shown: Mail, reader: Reader) -> None:
    wrong: dict[str, Any] = {}
    with reader.open(shown.html, shown.pictures, View(PHONE)) as opened:
        seen = opened.look()
        assert len(seen["visible"]) > 20
        wrong["not read aloud in its order"] = lost_or_out_of_order(seen["visible"], spoken(opened.page))
        wrong["seen without display:none"] = unhidden(opened, shown, seen)
        count, wrong["too small to press"] = opened.page.evaluate(SMALL)
        assert count > 10
        size = "getComputedStyle(document.body).getPropertyValue('text-size-adjust')"
        assert opened.page.evaluate(size) == "100%"
        narrow = resized(opened)
        opened.page.set_viewport_size({"width": DESKTOP, "height": 800})
        for name, found in (("phone", narrow), ("desktop", resized(opened))):
            wrong |= {f"{key} at 200 % on a {name}": value for key, value in found.items()}
        opened.page.set_viewport_size({"width": PHONE, "height": 800})
        numbers = opened.page.evaluate(DETECTED)
        assert numbers
        wrong["numbers that changed when they became links"] = [one for one in numbers if one[1]]
    assert {name: found for name, found in wrong.items() if found} == {}


def test_what_is_done_to_it_is_seen(reader: Reader) -> None:
    """Each fault alone, so that none of the above is true of every page."""
    html = page(
        '<p style="height:20px;line-height:20px;overflow:hidden">A line of text that is cut off at 200 %</p>'
        '<p style="color:#123456">On 4 May</p>'
        '<p><a href="/1" style="font-size:9px;line-height:9px">one</a></p>'
        '<p style="margin:0"><a href="/2" style="display:block;line-height:9px;font-size:9px">two</a>'
        '<a href="/3" style="display:block;line-height:9px;font-size:9px">three</a></p>'
        '<p><a href="/4" style="line-height:9px;font-size:9px">four</a> <b>in a sentence</b></p>'
    )
    with reader.open(html, NOWHERE, View(PHONE)) as opened:
        seen = opened.look()["visible"]
        assert lost_or_out_of_order(seen, spoken(opened.page)) == []
        assert lost_or_out_of_order([seen[1], seen[0]], spoken(opened.page)) == [seen[0]]
        assert opened.page.evaluate(SMALL)[1] == ["two: 359 by 9 px", "three: 359 by 9 px"]
        assert resized(opened)["clipped"] != []
        assert opened.page.evaluate(DETECTED)[1] == ["On 4 May", ["color", "underline"]]
        assert opened.look()["visible"] == seen


def test_renamed_classes_change_nothing(campaign: Mail, reader: Reader) -> None:
    other = renamed(campaign.html)
    assert other.count("m_7-") > 50
    shots = []
    for html in (campaign.html, other):
        with reader.open(html, campaign.pictures, View(DESKTOP)) as opened:
            opened.page.add_style_tag(content="img{visibility:hidden}")  # a moving one is at another frame
            opened.look()
            shots.append([shot(opened.page)])
            opened.page.emulate_media(color_scheme="dark")
            opened.page.set_viewport_size({"width": PHONE, "height": 800})
            opened.look()
            shots[-1].append(shot(opened.page))
    assert shots[0] == shots[1]


def test_one_first_heading_and_no_link_without_words(campaign: Mail) -> None:
    root = html5lib.parse(campaign.html, namespaceHTMLElements=False)
    assert len(list(root.iter("h1"))) == 1
    for link in root.iter("a"):
        words = "".join(link.itertext()).strip() + "".join(one.get("alt", "") for one in link.iter("img"))
        assert words.strip() or link.get("aria-label"), link.get("href")
    assert all(one.get("alt") is not None for one in root.iter("img"))
