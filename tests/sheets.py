"""Mails to be measured. Enters: demos, blocks' samples, outlines; leaves: HTML and the sizes of its pictures.

Pictures are never made: an empty SVG of the same pixels stands in for each. Generated mails are stacks of
samples in an order and with copy that a seeded generator picks, so every run sees the same ones.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from tests.composing import Spot, document, every_sample, rendered, resolved, rewrite, specs
from tests.outside.mails import BRANDS, CAMPAIGNS, demo

from handbill.apps.outline import draft, outlines, stock
from handbill.apps.samples import sample_sections, visible
from handbill.base.errors import Place
from handbill.base.source import Doc, Node, child, parse_yaml, read_yaml, scalar
from handbill.brand.parts import load_brand
from handbill.loader import Loader
from handbill.resolve.mail import Mail as Resolved

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
