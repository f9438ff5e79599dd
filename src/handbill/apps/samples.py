"""Blocks' samples compiled. Enters: a block and a brand; leaves: a whole mail and the block's part of it.

What a sample names and the brand has not (rows, reviews, pictures) comes from handbill's sample shop.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path

from handbill.base.errors import MistakesError, Place
from handbill.base.frozen import dataclass
from handbill.base.source import (
    Doc,
    Node,
    child,
    entries,
    make_mapping,
    make_scalar,
    make_sequence,
    parse_yaml,
    put,
    read_yaml,
    without,
)
from handbill.brand.parts import load_brand
from handbill.library.find import SHARED, Found, blocks, built_in
from handbill.loader import Loader
from handbill.pipeline import produce, renderer_for, resolve_doc
from handbill.render.render import assemble, check, pieces
from handbill.resolve.mail import Mail
from handbill.resolve.shop import RELATIVE
from handbill.write import files

FILE = "sample.yaml"
# An offer of every kind of fact, so that a sample may use any; its dates are far from those of the tests.
HEAD = """\
handbill: 1
campaign: sample
brand: {brand}
send: 2027-03-04T08:00
subject: A sample
preheader: One section, as this shop would send it.
offer: {{kind: code, code: HELLO15, percent: 15, least: "40", terms: once for each person, starts: 2027-03-01T00:00, ends: 2027-03-31T23:59}}
dir: {direction}
"""  # noqa: E501
FOOT = b"- block: footer-nav\n"


@dataclass(frozen=True, slots=True)
class Sample:
    """One block's sample in one brand.

    `html` is a document of the block's sections alone, `text` their plain text, both with the sample
    recipient's values; pictures lie at ../pictures/. `built` is the whole mail, which ends in a footer.
    """

    block: str
    brand: str
    mail: Mail
    built: files.Built
    html: str
    text: str


def folder() -> Path:
    """The sample shop: products.csv, reviews.csv, pictures/."""
    return built_in() / SHARED / "samples"


def visible(loader: Loader, brand: str) -> Mapping[str, Found]:
    """The blocks that `brand` sees. Raises MistakesError."""
    return blocks(loader.shelves(load_brand(loader, brand, Place("--brand")).files))


def has_sample(found: Found) -> bool:
    return (found.folder / FILE).is_file()


def compile_sample(loader: Loader, brand: str, found: Found, *, rtl: bool = False) -> Sample:
    """A block's sample in a brand. Raises MistakesError, with places in the block's own files."""
    sections = sample_sections(loader, found)
    head = parse_yaml(
        HEAD.format(brand=brand, direction="rtl" if rtl else "ltr").encode(), f"{found.name}, {FILE}"
    )
    has_footer = any(_names(node, "footer-nav") for node in sections)
    foot = [] if has_footer else entries(parse_yaml(FOOT, FILE).root)
    stack = make_sequence([*sections, *foot], head.root)
    root = put(head.root, "stack", stack, make_scalar("stack", head.root))
    mail = resolve_doc(loader, Doc(head.name, root), brand=brand, pictures=RELATIVE, samples=folder())
    renderer = renderer_for(mail)
    made, wrong = pieces(mail, renderer)
    if wrong:
        raise MistakesError(wrong)
    whole = assemble(mail, made)
    wrong = [*check(mail, made, whole, renderer), *files.check_envelope(mail)]
    if wrong:
        raise MistakesError(wrong)
    produce(mail, loader.cache)
    own = assemble(mail, made[: len(made) - len(foot)])
    built = files.build(mail, whole, mail.shop.pictures.cache)
    text = "".join(own.sample_text).strip("\n")
    return Sample(found.name, brand, mail, built, "".join(own.sample_html), text)


def compile_samples(loader: Loader, brand: str, *, rtl: bool = False) -> Iterator[Sample]:
    """Every sample of the blocks that a brand sees. Raises MistakesError at the first that fails."""
    for found in visible(loader, brand).values():
        if has_sample(found):
            yield compile_sample(loader, brand, found, rtl=rtl)


def sample_sections(loader: Loader, found: Found) -> list[Node]:
    """The sections of sample.yaml: one mapping, or several under `sections:`. Raises MistakesError."""
    path = found.folder / FILE
    inside = path.is_relative_to(loader.root)
    name = loader.name(path) if inside else os.path.join("blocks", found.name, FILE)
    root = loader.read(path).root if inside else read_yaml(path, name).root
    several = child(root, "sections")
    return entries(several) if several is not None else [make_mapping(_pairs(root), root)]


def _pairs(root: Node) -> list[tuple[Node, Node]]:
    return list(without(root, "handbill").value)


def _names(node: Node, block: str) -> bool:
    named = child(node, "block")
    return named is not None and named.value == block
