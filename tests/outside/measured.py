"""Where Chromium puts the boxes of a mail. Enters: a sheet; leaves: places and lines of its elements, px.

The page has the shipped fonts under the names that mails use; an empty SVG of the same pixels stands in for
each picture.
"""

from __future__ import annotations

import base64
import re
from typing import Any
from urllib.parse import quote

from playwright.sync_api import Page
from tests.sheets import Sheet

from handbill.measure.fonts import FOLDER

FAMILIES = {
    "sans": ("Arial", "Helvetica"),
    "serif": ("Times New Roman", "Times"),
    "mono": ("Courier New", "Courier"),
    "georgia": ("Georgia",),
}
STYLES = {"regular": "", "bold": "font-weight:700", "italic": "font-style:italic"}
STYLES["bolditalic"] = STYLES["bold"] + ";" + STYLES["italic"]


# Makes each family mean the given file in this page, for as long as it lives.
LOAD = """async (faces) => { for (const [family, data, extra, span] of faces) {
    const bytes = Uint8Array.from(atob(data), (c) => c.charCodeAt(0));
    const face = new FontFace(family, bytes, {
        weight: extra.includes("700") ? "700" : "400",
        style: extra.includes("italic") ? "italic" : "normal",
        unicodeRange: span});
    document.fonts.add(await face.load());
} }"""


def faces() -> list[list[str]]:
    """Family, file in base64, weight and style, characters: what LOAD takes."""
    found = []
    for twin, families in FAMILIES.items():
        for style, extra in STYLES.items():
            files = [(f"{twin}-{style}", "U+0-10FFFF")]
            if twin == "georgia":
                files.append((f"georgia-ext-{style}", "U+100-2AF,U+1E00-1EFF"))
                files.append((f"serif-{style}", "U+370-5FF"))
            for file, span in files:
                data = base64.b64encode((FOLDER / f"{file}.ttf").read_bytes()).decode()
                for family in families:
                    found.append([family, data, extra, span])
    return found


def load_fonts(page: Page) -> None:
    """Make Arial and the others mean the shipped twins in this page, for as long as it lives."""
    page.evaluate(LOAD, faces())


# Places of all elements of the body in the order of the file, and lines of text in those that hold it.
LOOK = """async ([html, lang, dir]) => {
    const root = document.documentElement;
    root.lang = lang; root.dir = dir;
    root.innerHTML = html;
    await Promise.all([...document.images].map((i) => i.decode().catch(() => null)));
    const out = [];
    for (const e of document.body.querySelectorAll("*")) {
        if (e.tagName === "TBODY") continue;
        const r = e.getBoundingClientRect();
        const shown = getComputedStyle(e).display !== "none" && (r.width || r.height);
        let lines = null;
        if (shown && !getComputedStyle(e).display.startsWith("inline")
            && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim())) {
            const spans = [];
            const walk = (n) => {
                for (const c of n.childNodes) {
                    if (c.nodeType === 3) {
                        const range = document.createRange(); range.selectNodeContents(c);
                        for (const q of range.getClientRects()) if (q.width) spans.push([q.top, q.bottom]);
                    } else if (c.nodeType === 1 && getComputedStyle(c).display === "inline") walk(c);
                }
            };
            walk(e);
            spans.sort((a, b) => a[0] - b[0]);
            lines = 0; let end = -1e9;
            for (const [top, bottom] of spans) {
                if (top + (bottom - top) / 2 > end) { lines += 1; end = bottom; }
                else end = Math.max(end, bottom);
            }
        }
        out.push([e.tagName.toLowerCase(), r.left, r.top + scrollY, r.width, r.height, lines]);
    }
    return [root.scrollWidth, document.body.getBoundingClientRect().height, out];
}"""
_SRC = re.compile(r"""((?:src|background)="|url\(')([^"']*?)([^/"']+\.(?:png|jpe?g|gif))""")
_HTML = re.compile(r"<html[^>]*>(.*)</html>", re.DOTALL)


def stand_in(html: str, pictures: dict[str, tuple[int, int]]) -> str:
    """The HTML with an empty picture of the same pixels for each."""

    def other(found: re.Match[str]) -> str:
        width, height = pictures[found[3]]
        drawn = f"<svg xmlns='http://www.w3.org/2000/svg' width='{width}' height='{height}'/>"
        return f"{found[1]}data:image/svg+xml,{quote(drawn)}"

    return _SRC.sub(other, html)


def chromium_boxes(page: Page, sheet: Sheet) -> Any:
    return page.evaluate(LOOK, inside(sheet))


def inside(sheet: Sheet) -> list[str]:
    """What stands in the sheet's html element, its language and direction: what LOOK takes."""
    html = stand_in(sheet.html, sheet.pictures)
    inner = _HTML.search(html)
    assert inner is not None
    head = html[: inner.start(1)]
    lang, direction = re.search(r'lang="([^"]*)"', head), re.search(r'dir="([^"]*)"', head)
    assert lang is not None
    return [inner[1], lang[1], direction[1] if direction else "ltr"]
