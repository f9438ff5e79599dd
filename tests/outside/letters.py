"""Enters: the demo workspace; leaves: every mail that readers are checked with, rendered in memory.

Demo campaigns in both directions, every block's sample in every shop and direction, every outline in every
shop (as `handbill new` writes it), in one direction each in turn.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath

from tests.composing import document, every_sample, rendered, resolved

from handbill.apps.outline import draft, outlines, stock
from handbill.base.errors import Place
from handbill.base.source import Doc, make_scalar, parse_yaml, put
from handbill.brand.parts import load_brand

from .mails import BRANDS, CAMPAIGNS, COMPOSED, demo


@dataclass(frozen=True)
class Letter:
    """One mail as the sample recipient reads it; `pictures` are width and height of each file in px."""

    name: str
    html: str
    text: str
    rtl: bool
    pictures: Mapping[str, tuple[int, int]]

    def size(self, source: str) -> tuple[int, int]:
        return self.pictures[PurePosixPath(source).name]


def letters() -> Iterator[Letter]:
    loader = demo()
    for path in CAMPAIGNS:
        for direction in ("ltr", "rtl"):
            doc = loader.read(path)
            root = put(doc.root, "dir", make_scalar(direction, doc.root), make_scalar("dir", doc.root))
            yield _letter(f"{path.stem}-{direction}", Doc(doc.name, root))
    for brand, rtl in COMPOSED:
        doc = document(brand, every_sample(loader, brand), rtl=rtl)
        yield _letter(f"all-{brand}-{'rtl' if rtl else 'ltr'}", doc)
    number = 0
    for brand in BRANDS:
        kept = stock(loader, load_brand(loader, brand, Place("--brand")))
        for outline, path in sorted(outlines(loader).items()):
            number += 1
            direction = ("ltr", "rtl")[number % 2]
            text = draft(path.read_text("utf-8"), outline, f"{outline}-{brand}", brand, kept).text
            doc = parse_yaml(f"{text}dir: {direction}\n".encode(), f"campaigns/{outline}.yaml")
            yield _letter(f"{outline}-{brand}-{direction}", doc)


def _letter(name: str, doc: Doc) -> Letter:
    mail = resolved(demo(), doc)
    _made, whole = rendered(mail)
    sizes = {plan.name: (plan.width, plan.height) for plan in mail.plans}
    return Letter(name, "".join(whole.sample_html), "".join(whole.sample_text), mail.rtl, sizes)
