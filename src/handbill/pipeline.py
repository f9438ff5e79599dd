"""The whole program on one screen: load → expand → validate → resolve → render → write."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, MistakesError, Place
from handbill.base.files import inside
from handbill.base.frozen import dataclass
from handbill.base.source import Doc, Node, child, place, scalar, without
from handbill.brand.parts import BrandParts, load_brand
from handbill.expand import Expanded, expand
from handbill.library.build import build
from handbill.library.find import blocks, standing
from handbill.load import MARK, Loader
from handbill.pictures.produce import produce_all, produced
from handbill.render.render import Renderer, assemble, check, pieces
from handbill.resolve.locale import Locale
from handbill.resolve.mail import Mail, listed_products, resolve
from handbill.resolve.shop import BASE, open_shop
from handbill.resolve.tongues import other_tongues
from handbill.resolve.voices import voices
from handbill.validate import Valid, all_sections, check_blocks, validate_head, validate_sections
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
    return resolve_doc(loader, campaign_file(loader, path), brand=brand, pictures=pictures)


def resolve_doc(
    loader: Loader, doc: Doc, *, brand: str | None = None, pictures: str = BASE, samples: Path | None = None
) -> Mail:
    """As `resolve_campaign`, from nodes; the folder `samples` stands in for what the brand lacks."""
    root, mistakes = doc.root, Mistakes()
    parts = mistakes.of(lambda: brand_parts(loader, root, brand))
    if parts is None:  # without a brand no block is in sight; the campaign's own fields can still be read
        raise MistakesError(
            [*mistakes, *validate_head(Expanded(doc, without(root, "stack", "variants"), ()))[1]]
        )
    shelves = loader.shelves(parts.files)

    expanded = mistakes.also(expand(doc, standing(shelves), loader))
    campaign = mistakes.also(validate_head(expanded, loader.cache))
    known = blocks(shelves)
    mistakes.extend(check_blocks(expanded, known))
    tag = (campaign.language if campaign else None) or parts.brand.languages[0]
    locale = mistakes.at(child(root, "language") or root, "language", lambda: Locale.load(tag, loader.cache))
    rtl = campaign.dir == "rtl" if campaign and campaign.dir else bool(locale and locale.rtl)
    library = mistakes.of(lambda: build(
        list(known.values()), parts.brand, parts.files.root, parts.house, rtl=rtl, cache=loader.cache,
        brand_digest=parts.files.digest, root=loader.root,
    ))  # fmt: skip
    speakers = mistakes.also(voices(loader.workspace, loader.read(loader.root / MARK).root))
    if library is None:
        raise MistakesError(mistakes)
    sections = mistakes.also(validate_sections(expanded, library, loader.cache))
    if campaign is None or locale is None or speakers is None:
        raise MistakesError(mistakes)

    used = [section.block.name for section in all_sections(sections)]
    opened = mistakes.at(child(root, "offer") or root, "offer", lambda: open_shop(
        loader, parts, library, campaign, locale, rtl, pictures, used,
        lambda rows: listed_products(sections, rows),
        samples,
    ))  # fmt: skip
    if opened is None:
        raise MistakesError(mistakes)
    shop = mistakes.also(opened)
    tongues = mistakes.also(other_tongues(shop, campaign, sections, loader.cache, lambda: build(
        list(known.values()), parts.brand, parts.files.root, parts.house, rtl=not rtl, cache=loader.cache,
        brand_digest=parts.files.digest, root=loader.root, beside=library,
    ), lambda rows: listed_products(sections, rows)))  # fmt: skip
    mail = mistakes.also(resolve(Valid(campaign, sections), shop, speakers, root, tongues=tongues))
    if mistakes or mail is None:
        raise MistakesError(mistakes)
    return mail


def render(mail: Mail, renderer: Renderer | None = None) -> files.Built:
    """A resolved mail's files in memory. Raises MistakesError for a block that fails and an unfit mail."""
    renderer = renderer or renderer_for(mail)
    made, wrong = pieces(mail, renderer)
    if wrong:
        raise MistakesError(wrong)
    rendered = assemble(mail, made, renderer)
    wrong = [*check(mail, made, rendered, renderer), *files.check_envelope(mail)]
    if wrong:
        raise MistakesError(wrong)
    return files.build(mail, rendered, mail.shop.pictures.cache)


def compile_campaign(
    loader: Loader, path: Path, out: Path, *, brand: str | None = None, pictures: str = BASE
) -> Compiled:
    """One campaign from YAML to files below `out`; raises MistakesError and then has written nothing."""
    mail = resolve_campaign(loader, path, brand=brand, pictures=pictures)
    produce(mail, loader.cache)
    built = render(mail)
    variant = f"brand={brand}" if brand else files.MAIN
    try:
        files.write(built, mail, out, variant, loader.cache)
    except Fault as fault:
        raise MistakesError([fault.at(Place(str(out)))]) from None
    return Compiled(mail, built, out / mail.campaign.campaign / variant)


def produce(mail: Mail, cache: Cache) -> None:
    """The mail's pictures, into the cache. Raises MistakesError with every one that cannot be made."""
    try:
        produce_all(mail.plans, cache, jobs=2)
    except Fault:
        mistakes = Mistakes()
        for plan in mail.plans:
            try:
                produced(plan, cache)
            except Fault as fault:
                mistakes.append(fault.at(*mail.asked[plan.name]))
        raise MistakesError(mistakes) from None


def renderer_for(mail: Mail) -> Renderer:
    """A renderer for the mail's library; keep it to render more mails of the same brand."""
    return Renderer(mail.library, mail.library.house.vector_buttons, mail.shop.brand.button.arrow)


def campaign_file(loader: Loader, path: Path) -> Doc:
    """The campaign's nodes. Raises MistakesError for a file outside the workspace or behind a link."""
    try:
        inside(loader.root, loader.root, os.path.relpath(path, loader.root))
    except Fault as fault:
        raise MistakesError([fault.at(Place(loader.name(path)))]) from None
    return loader.read(path)


def brand_parts(loader: Loader, root: Node, brand: str | None) -> BrandParts:
    """The brand that `--brand` or the campaign names, in the campaign's language. Raises MistakesError."""
    named = child(root, "brand")
    name = brand or scalar(named)
    if not name:
        raise MistakesError([Mistake(place(named or root), "brand", "brand is missing", "brand: NAME")])
    where = Place("--brand") if brand or named is None else place(named)
    return load_brand(loader, name, where, scalar(child(root, "language")))


class Mistakes(list[Mistake]):
    """What is wrong so far; a stage that fails gives None and the rest is still looked at."""

    def also(self, made: tuple[T, list[Mistake]]) -> T:
        """A stage's value; its mistakes are added."""
        self.extend(made[1])
        return made[0]

    def of(self, work: Callable[[], T]) -> T | None:
        """`work`'s value, or None and the mistakes it raised."""
        try:
            return work()
        except MistakesError as error:
            self.extend(error.mistakes)
            return None

    def at(self, node: Node, path: str, work: Callable[[], T]) -> T | None:
        """`work`'s value, or None and a mistake at `node`."""
        try:
            return work()
        except Fault as fault:
            self.append(fault.at(place(node), path))
            return None
