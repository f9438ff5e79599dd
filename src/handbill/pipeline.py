"""The whole program on one screen: load → expand → validate → resolve → render.

A `Desk` does it for one campaign, mail after mail: what two of its mails share is made once and kept, within
bounds. Nothing depends on what was kept, nor on the order of the mails. `batch` writes what comes out.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from functools import partial
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, MistakesError, Place
from handbill.base.files import inside
from handbill.base.frozen import dataclass
from handbill.base.gather import Mistakes, gathered, required
from handbill.base.kept import Kept
from handbill.base.source import Doc, Node, child, place, scalar, without
from handbill.brand.parts import BrandParts, load_brand
from handbill.expand import Expanded, expand
from handbill.library.build import Library, build
from handbill.library.find import Found, blocks, standing
from handbill.loader import MARK, Loader
from handbill.pictures.produce import produce_all, produced
from handbill.render.render import Piece, Renderer, assemble, check, pieces
from handbill.resolve.context import make_context
from handbill.resolve.locale import Locale
from handbill.resolve.mail import LookedUp, Mail, listed_products, resolve
from handbill.resolve.shop import BASE, Shop, Stock, check_words, open_shop, open_stock
from handbill.resolve.tongues import other_tongues
from handbill.resolve.voices import voices
from handbill.validate import Valid, ValidSection, all_sections, check_blocks, validate_head, validate_section
from handbill.write import files
from handbill.write.coded import MOST, Coder

if TYPE_CHECKING:
    from handbill.models.campaign import Campaign

BRANDS = 24  # brands, libraries and shops kept at a time; each is some megabytes at most


@dataclass(frozen=True, slots=True)
class House:
    """A brand, its blocks, the campaign expanded for it, and what is wrong with that."""

    parts: BrandParts
    known: Mapping[str, Found]
    expanded: Expanded
    wrong: list[Mistake]


class Desk:
    """A campaign opened for all its mails; the folder `samples` stands in for what the brand lacks."""

    def __init__(
        self, loader: Loader, doc: Doc, *, brand: str | None = None, pictures: str = BASE,
        samples: Path | None = None,
    ) -> None:  # fmt: skip
        self.loader, self.doc, self.brand, self.pictures, self.samples = loader, doc, brand, pictures, samples
        self.speakers, self.wrong = voices(loader.workspace, loader.read(loader.root / MARK).root)
        self.coder = Coder()
        self._serial = count()
        self._houses: Kept[tuple[House | None, list[Mistake]]] = Kept(BRANDS)
        self._heads: Kept[tuple[Campaign | None, list[Mistake]]] = Kept(BRANDS)
        self._libraries: Kept[tuple[Library | None, list[Mistake]]] = Kept(BRANDS)
        self._stocks: Kept[tuple[Stock, list[Mistake]]] = Kept(BRANDS)
        self._shops: Kept[tuple[int, Shop]] = Kept(BRANDS)
        self._tongues: Kept[Shop] = Kept(BRANDS)
        self._locales: Kept[Locale] = Kept(BRANDS)
        self._words: Kept[tuple[Mistake, ...]] = Kept(BRANDS)
        self._renderers: Kept[Renderer] = Kept(BRANDS)
        self._valid: Kept[tuple[ValidSection | None, list[Mistake]]] = Kept(MOST)
        self._found: Kept[LookedUp] = Kept(MOST)
        self._pieces: Kept[Piece] = Kept(MOST)

    def __len__(self) -> int:
        """How many variants there are."""
        return 1

    def id(self, number: int) -> str:
        """The variant's name and folder."""
        return f"brand={self.brand}" if self.brand else files.MAIN

    def mail(self, number: int = 0) -> Mail:
        """Expanded, validated and resolved. Raises MistakesError with everything wrong in it."""
        loader, cache, mistakes = self.loader, self.loader.cache, Mistakes(self.wrong)
        house = mistakes.also(self._houses.by(self.brand, lambda: gathered(self._house)))
        if house is None:  # without a brand no block is in sight; the campaign's own fields can still be read
            bare = Expanded(self.doc, without(self.doc.root, "stack", "variants"), ())
            raise MistakesError([*mistakes, *validate_head(bare)[1]])
        parts, known, expanded = house.parts, house.known, house.expanded
        head = expanded.head
        mistakes.extend(house.wrong)
        campaign = mistakes.also(self._heads.of(head, lambda: validate_head(expanded, cache)))
        mistakes.extend(check_blocks(expanded, known))
        tag = (campaign.language if campaign else None) or parts.brand.languages[0]
        locale = mistakes.at(
            child(head, "language") or head,
            "language",
            lambda: self._locales.by(tag, lambda: Locale.load(tag, cache)),
        )
        rtl = campaign.dir == "rtl" if campaign and campaign.dir else bool(locale and locale.rtl)
        library = mistakes.also(self._library(house, rtl))
        if library is None:
            raise MistakesError(mistakes)
        judge = partial(validate_section, library=library, cache=cache)
        found = [self._valid.of(one, partial(judge, one), library.digest) for one in expanded.sections]
        sections = [one for one in map(mistakes.also, found) if one is not None]
        if campaign is None or locale is None or self.speakers is None:
            raise MistakesError(mistakes)

        stock = mistakes.also(
            self._stocks.by(parts.files.digest, lambda: open_stock(loader, parts, self.samples))
        )
        listed = listed_products(sections, stock.products)
        offer = child(head, "offer") or head
        context = mistakes.at(offer, "offer", lambda: make_context(campaign, parts.brand, locale, listed))
        if context is None:
            raise MistakesError(mistakes)
        serial, shop = self._shops.by((library.digest, tag, tuple(context.facts.items())), lambda: (
            next(self._serial),
            open_shop(loader, parts, library, locale, rtl, self.pictures, stock, context, self.samples),
        ))  # fmt: skip
        used = frozenset([section.block.name for section in all_sections(sections)])
        mistakes.extend(self._words.by((serial, used), lambda: tuple(check_words(shop, used))))
        valid = Valid(campaign, tuple(sections))
        tongues = mistakes.also(other_tongues(
            shop, campaign, sections, cache, lambda: required(self._library(house, not rtl, library)),
            lambda _rows: listed, self._tongues, serial,
        ))  # fmt: skip
        mail = mistakes.also(resolve(valid, shop, self.speakers, head, tongues, self._found, serial))
        if mistakes or mail is None:
            raise MistakesError(mistakes)
        return mail

    def _house(self) -> House:
        parts = brand_parts(self.loader, self.doc.root, self.brand)
        shelves = self.loader.shelves(parts.files)
        expanded, wrong = expand(self.doc, standing(shelves), self.loader)
        return House(parts, blocks(shelves), expanded, wrong)

    def _library(
        self, house: House, rtl: bool, beside: Library | None = None
    ) -> tuple[Library | None, list[Mistake]]:
        """The brand's blocks in one direction; `beside` are those of the mail's own, where this is not it."""
        parts, key = house.parts, (house.parts.files.digest, rtl, beside and beside.digest)
        return self._libraries.by(key, lambda: gathered(lambda: build(
            list(house.known.values()), parts.brand, parts.files.root, parts.house, rtl=rtl,
            cache=self.loader.cache, brand_digest=parts.files.digest, root=self.loader.root, beside=beside,
        )))  # fmt: skip

    def render(self, mail: Mail, variant: str = files.MAIN) -> files.Built:
        """The mail's files in memory; its pictures are made, and kept in the cache.

        Raises MistakesError for a block that fails, for an unfit mail, and for pictures that cannot be made.
        """
        renderer = self._renderers.by(mail.library.digest, lambda: renderer_for(mail))
        produce(mail, self.loader.cache, self.coder)
        return render(mail, renderer, self._pieces, self.coder, variant)


def resolve_campaign(loader: Loader, path: Path, *, brand: str | None = None, pictures: str = BASE) -> Mail:
    """Load, expand, validate and resolve one campaign. Raises MistakesError with everything wrong in it."""
    return resolve_doc(loader, campaign_file(loader, path), brand=brand, pictures=pictures)


def resolve_doc(
    loader: Loader, doc: Doc, *, brand: str | None = None, pictures: str = BASE, samples: Path | None = None
) -> Mail:
    """As `resolve_campaign`, from nodes; the folder `samples` stands in for what the brand lacks."""
    return Desk(loader, doc, brand=brand, pictures=pictures, samples=samples).mail()


def render(
    mail: Mail, renderer: Renderer | None = None, kept: Kept[Piece] | None = None,
    coder: Coder | None = None, variant: str = files.MAIN,
) -> files.Built:  # fmt: skip
    """A resolved mail's files in memory. Raises MistakesError for a block that fails and an unfit mail.

    `kept` holds sections that this renderer made for mails before.
    """
    renderer = renderer or renderer_for(mail)
    made, wrong = pieces(mail, renderer, kept)
    if wrong:
        raise MistakesError(wrong)
    rendered = assemble(mail, made, renderer)
    wrong = [*check(mail, made, rendered, renderer), *files.check_envelope(mail)]
    if wrong:
        raise MistakesError(wrong)
    return files.build(mail, rendered, mail.shop.pictures.cache, coder, variant)


def produce(mail: Mail, cache: Cache, coder: Coder | None = None) -> None:
    """The mail's pictures, into the cache. Raises MistakesError with every one that cannot be made.

    Those that `coder` met before are there.
    """
    plans = [plan for plan in mail.plans if coder is None or not coder.knows(plan)]
    try:
        produce_all(plans, cache, jobs=2)
    except Fault:
        mistakes = Mistakes()
        for plan in plans:
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
