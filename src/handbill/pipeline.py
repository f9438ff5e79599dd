"""The whole program on one screen: load → expand → validate → resolve → render → write."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from handbill.base.errors import Fault, Mistake, MistakesError, Place
from handbill.base.source import Node, child, place, scalar
from handbill.brand.parts import load_brand
from handbill.expand import expand
from handbill.library.build import build
from handbill.library.find import blocks, standing
from handbill.load import Loader
from handbill.pictures.produce import produce_all
from handbill.render.render import Renderer, assemble, pieces, unsubscribes
from handbill.resolve.locale import Locale
from handbill.resolve.mail import Mail, listed_products, resolve, voices
from handbill.resolve.shop import BASE, open_shop
from handbill.validate import Valid, check_blocks, validate_head, validate_sections
from handbill.write import files

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Compiled:
    """One campaign made: its mail, its files in memory, and where they were written."""

    mail: Mail
    built: files.Built
    folder: Path


def resolve_campaign(loader: Loader, path: Path, *, brand: str | None = None, pictures: str = BASE) -> Mail:
    """Load, expand, validate and resolve one campaign. Raises MistakesError with everything wrong in it."""
    root = loader.read(path).root
    named = child(root, "brand")
    name = brand or scalar(named)
    if not name:
        raise MistakesError([Mistake(place(root), "brand", "brand is missing", "brand: NAME")])
    parts = load_brand(loader, name, Place("--brand") if brand or named is None else place(named))
    shelves = loader.shelves(parts.files)

    expanded, mistakes = expand(loader.read(path), standing(shelves), loader)
    campaign, wrong = validate_head(expanded)
    known = blocks(shelves)
    mistakes += wrong + check_blocks(expanded, known)
    tag = (campaign.language if campaign else None) or parts.brand.languages[0]
    locale = _try(lambda: Locale.load(tag, loader.cache), child(root, "language") or root, "language")
    rtl = campaign.dir == "rtl" if campaign and campaign.dir else locale.rtl
    library = build(
        list(known.values()), parts.brand, parts.files.root, parts.house, rtl=rtl, cache=loader.cache,
        brand_digest=parts.files.digest, root=loader.root,
    )  # fmt: skip
    sections, wrong = validate_sections(expanded, library)
    mistakes += wrong
    if campaign is None:
        raise MistakesError(mistakes)

    shop, wrong = _try(
        lambda: open_shop(
            loader,
            parts,
            library,
            campaign,
            locale,
            rtl,
            pictures,
            lambda products: listed_products(sections, products),
        ),
        child(root, "offer") or root,
        "offer",
    )
    mistakes += wrong
    speakers = _try(lambda: voices(loader.workspace), None, "dialect")
    mail, wrong = resolve(Valid(campaign, sections), shop, *speakers, root)
    if mistakes or wrong or mail is None:
        raise MistakesError([*mistakes, *wrong])
    return mail


def render(mail: Mail, renderer: Renderer | None = None) -> files.Built:
    """A resolved mail's files in memory. Raises MistakesError when no rendered link is the unsubscribe."""
    made, wrong = pieces(mail, renderer or renderer_for(mail))
    if not wrong and not unsubscribes(mail, made):
        expected = "- standing: footer, or - block: footer-nav, at the end of the stack"
        wrong = [
            Mistake(mail.sections[-1].place, "stack", "no link of this mail is the unsubscribe", expected)
        ]
    if wrong:
        raise MistakesError(wrong)
    return files.build(mail, assemble(mail, made), mail.shop.pictures.cache)


def compile_campaign(
    loader: Loader, path: Path, out: Path, *, brand: str | None = None, pictures: str = BASE
) -> Compiled:
    """One campaign from YAML to files below `out`; raises MistakesError and then has written nothing."""
    mail = resolve_campaign(loader, path, brand=brand, pictures=pictures)
    try:
        produce_all(mail.plans, loader.cache, jobs=2)
        built = render(mail)
        variant = f"brand={brand}" if brand else "main"
        files.write(built, mail, out, variant, loader.cache)
    except Fault as fault:
        raise MistakesError([fault.at(Place(loader.name(path)))]) from None
    return Compiled(mail, built, out / mail.campaign.campaign / variant)


def renderer_for(mail: Mail) -> Renderer:
    """A renderer for the mail's library; keep it to render more mails of the same brand."""
    return Renderer(mail.library, mail.library.house.vector_buttons, mail.shop.brand.button.arrow)


def _try(work: Callable[[], T], node: Node | None, path: str) -> T:
    """`work`'s result; a Fault becomes a mistake at `node` (handbill.yaml when there is none)."""
    try:
        return work()
    except Fault as fault:
        raise MistakesError(
            [fault.at(place(node) if node is not None else Place("handbill.yaml"), path)]
        ) from None
