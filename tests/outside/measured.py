"""Mails for comparing our boxes with Chromium's. Enters: samples, outlines and demos; leaves: HTML and sizes.

Pictures are never made: an empty SVG of the same pixels stands in for each. Generated mails are stacks of
samples in an order and with copy that a seeded generator picks, so every run sees the same ones.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from handbill.load import Loader
from playwright.sync_api import Page
from tests.composing import Spot, document, every_sample, rendered, resolved, rewrite, specs

from handbill.apps.outline import draft, outlines, stock
from handbill.apps.samples import sample_sections, visible
from handbill.base.errors import Place
from handbill.base.source import Doc, Node, child, parse_yaml, read_yaml, scalar
from handbill.brand.parts import load_brand
from handbill.measure.fonts import FOLDER
from handbill.resolve.mail import Mail as Resolved

from .mails import BRANDS, CAMPAIGNS, demo

WORDS = """a an and the of to in for with on at by from your our every small bright warm quiet slow early
late first winter summer morning evening light lamp table kettle garden shelf window paper brass
wool linen copper well-made hand-thrown free delivery returns thirty days before Sunday midnight
Tuesday AVAILABLE Today You Wyatt €45 £148 60% 1,280 7.04 No. it’s what’s “quiet” don’t half-price
last-chance everything something anything extraordinary conversation temperature unforgettable
breakfast neighbourhood ready? Yes! now, soon. then; here: (almost) and/or — – … élan Größe naïve
café São jusqu’à smörgåsbord"""
RTL_WORDS = "שלום עולם בוקר טוב חורף קיץ מנורה שולחן חלון נייר לילה אור מדף גן 60% €45 בית ספר, ו-7.04"


@dataclass(frozen=True)
class Sheet:
    """A mail for measuring: sizes of pictures by file name, px."""

    name: str
    html: str
    pictures: dict[str, tuple[int, int]]


def sheet(name: str, mail: Resolved) -> Sheet:
    _, whole = rendered(mail)
    return Sheet(name, "".join(whole.sample_html), {plan.name: plan.pixels for plan in mail.plans})


def demos() -> Iterator[Sheet]:
    loader = demo()
    for campaign in CAMPAIGNS:
        yield sheet(campaign.stem, resolved(loader, read_yaml(campaign, campaign.name)))


def samples() -> Iterator[Sheet]:
    loader = demo()
    for brand in BRANDS:
        for rtl in (False, True):
            doc = document(brand, every_sample(loader, brand), rtl=rtl)
            yield sheet(f"samples {brand} {'rtl' if rtl else 'ltr'}", resolved(loader, doc))


def outlined() -> Iterator[Sheet]:
    loader = demo()
    for brand in BRANDS:
        kept = stock(loader, load_brand(loader, brand, Place("--brand")))
        for outline, path in sorted(outlines(loader).items()):
            text = draft(path.read_text("utf-8"), outline, f"{outline}-{brand}", brand, kept).text
            doc = parse_yaml(text.encode(), f"campaigns/{outline}.yaml")
            yield sheet(f"{outline} {brand}", resolved(loader, doc))


def generated(count: int, seed: int = 7) -> Iterator[Sheet]:
    """Stacks of three to nine samples with random copy, one in eight of them right to left."""
    loader = demo()
    known = {brand: specs(loader, brand) for brand in BRANDS}
    chance = random.Random(seed)
    for number in range(count):
        brand = BRANDS[number % len(BRANDS)]
        rtl = number % 8 == 7
        yield sheet(f"generated {number}", _stack(loader, brand, known[brand], rtl, chance))


def _stack(loader: Loader, brand: str, known: Any, rtl: bool, chance: random.Random) -> Resolved:
    found = visible(loader, brand)
    names = [name for name in found if name not in ("masthead", "footer-nav")]
    chosen = ["masthead", *chance.sample(names, chance.randint(3, min(9, len(names)))), "footer-nav"]
    words = (RTL_WORDS if rtl else WORDS).split()

    def other(spot: Spot, text: str) -> str:
        if spot.kind in ("link", "alt") or spot.way[-1] == "quote" or "${" in text:
            return text
        aim = max(1, round(len(text) * chance.uniform(0.4, 1.8)))
        made = chance.choice(words)
        while len(made) < aim:
            made += " " + chance.choice(words)
        made = made[: spot.most].strip() if spot.most else made
        return made or text

    sections: list[Node] = []
    for name in chosen:
        for section in sample_sections(loader, found[name]):
            kept = scalar(child(section, "block")) in ("footer-nav", "masthead")
            sections.append(section if kept else rewrite(section, known, other))
    return resolved(loader, _doc(brand, sections, rtl))


def _doc(brand: str, sections: list[Node], rtl: bool) -> Doc:
    return document(brand, sections, rtl=rtl, name="generated")


FAMILIES = {
    "sans": ("Arial", "Helvetica"),
    "serif": ("Times New Roman", "Times"),
    "mono": ("Courier New", "Courier"),
    "georgia": ("Georgia",),
}
STYLES = {"regular": "", "bold": "font-weight:700", "italic": "font-style:italic"}
STYLES["bolditalic"] = STYLES["bold"] + ";" + STYLES["italic"]


def load_fonts(page: Page) -> None:
    """Make Arial and the others mean the shipped twins in this page, for as long as it lives."""
    import base64

    faces = []
    for twin, families in FAMILIES.items():
        for style, extra in STYLES.items():
            files = [(f"{twin}-{style}", "U+0-10FFFF")]
            if twin == "georgia":
                files.append((f"georgia-ext-{style}", "U+100-2AF,U+1E00-1EFF"))
                files.append((f"serif-{style}", "U+370-5FF"))
            for file, span in files:
                data = base64.b64encode((FOLDER / f"{file}.ttf").read_bytes()).decode()
                for family in families:
                    faces.append([family, data, extra, span])
    page.evaluate(
        """async (faces) => { for (const [family, data, extra, span] of faces) {
            const bytes = Uint8Array.from(atob(data), (c) => c.charCodeAt(0));
            const face = new FontFace(family, bytes, {
                weight: extra.includes("700") ? "700" : "400",
                style: extra.includes("italic") ? "italic" : "normal",
                unicodeRange: span});
            document.fonts.add(await face.load());
        } }""",
        faces,
    )


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
    html = stand_in(sheet.html, sheet.pictures)
    inner = _HTML.search(html)
    assert inner is not None
    head = html[: inner.start(1)]
    lang, direction = re.search(r'lang="([^"]*)"', head), re.search(r'dir="([^"]*)"', head)
    assert lang is not None
    return page.evaluate(LOOK, [inner[1], lang[1], direction[1] if direction else "ltr"])
