"""The whole program on one screen: load → expand → vary → validate → resolve → render.

A `Desk` does it for one campaign, mail after mail: what two of its mails share is made once and kept, within
bounds. Nothing depends on what was kept, nor on the order of the mails. `batch` writes what comes out.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
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
from handbill.preflight.brief import Brief
from handbill.preflight.cheap import Glance
from handbill.render.render import Piece, Renderer, assemble, check, pieces
from handbill.resolve.audiences import Shown, audiences, shown
from handbill.resolve.context import Context, make_context
from handbill.resolve.locale import Locale
from handbill.resolve.mail import Line, LookedUp, Mail, resolve
from handbill.resolve.shop import BASE, Shop, check_words, open_shop
from handbill.resolve.stock import Stock, open_stock
from handbill.resolve.tongues import Elsewhere, other_tongues, speaks_otherwise
from handbill.resolve.voices import voices
from handbill.validate import Valid, ValidSection, all_sections, check_blocks, validate_head, validate_section
from handbill.vary.apply import Patcher
from handbill.vary.plan import BRAND, Variant
from handbill.vary.read import read_plan
from handbill.vary.tongue import Tongues
from handbill.write import files
from handbill.write.coded import MOST, Coder

if TYPE_CHECKING:
    from handbill.models.campaign import Campaign

ASKED = Place("--brand")  # where a brand was asked for that no file names
BRANDS = 24  # brands, libraries and shops kept at a time; each is some megabytes at most


@dataclass(frozen=True, slots=True)
class House:
    """A brand, its blocks, the campaign expanded for it, and what is wrong with that."""

    parts: BrandParts
    known: Mapping[str, Found]
    standing: Mapping[str, Path]
    expanded: Expanded
    wrong: list[Mistake]


class Desk:
    """A campaign opened for all its mails; the folder `samples` stands in for what the brand lacks.

    A `strict` one looks at every section by preflight's cheap rules.
    """

    def __init__(
        self, loader: Loader, doc: Doc, *, brand: str | None = None, pictures: str = BASE,
        samples: Path | None = None, strict: bool = False,
    ) -> None:  # fmt: skip
        self.loader, self.doc, self.brand, self.pictures, self.samples = loader, doc, brand, pictures, samples
        self.speakers, self.wrong = voices(loader.workspace, loader.read(loader.root / MARK).root)
        self.plan, wrong = read_plan(doc)
        self.wrong += wrong
        if brand and BRAND in self.plan.choices():
            message, expected = "the campaign's variants choose the brand", "no --brand"
            self.wrong.append(Mistake(ASKED, "", message, expected))
        self.coder = Coder()
        self.drawn: Callable[[int, int], None] | None = None  # is told how many pictures of how many are made
        self._serial = count()
        self._houses: Kept[tuple[House | None, list[Mistake]]] = Kept(BRANDS)
        self._parts: Kept[tuple[BrandParts | None, list[Mistake]]] = Kept(BRANDS)
        self._varied: Kept[tuple[Patcher, Tongues]] = Kept(BRANDS)
        self._heads: Kept[tuple[Campaign | None, list[Mistake]]] = Kept(BRANDS)
        self._libraries: Kept[tuple[Library | None, list[Mistake]]] = Kept(BRANDS)
        self._stocks: Kept[tuple[Stock, list[Mistake]]] = Kept(BRANDS)
        self._shops: Kept[tuple[int, Shop]] = Kept(BRANDS)
        self._tongues: Kept[tuple[Shop, list[Mistake]]] = Kept(BRANDS)
        self._rows: Kept[Shown] = Kept(MOST)
        self._contexts: Kept[Context] = Kept(BRANDS)
        self._locales: Kept[Locale] = Kept(BRANDS)
        self._words: Kept[tuple[Mistake, ...]] = Kept(BRANDS)
        self._renderers: Kept[Renderer] = Kept(BRANDS)
        self._valid: Kept[tuple[ValidSection | None, list[Mistake]]] = Kept(MOST)
        self._found: Kept[LookedUp] = Kept(MOST)
        self._lines: Kept[Line] = Kept(2 * BRANDS)
        self._pieces: Kept[Piece] = Kept(MOST)
        self._glance = Glance(loader.cache, every=strict)

    def __len__(self) -> int:
        """How many variants there are."""
        return len(self.plan)

    def id(self, number: int) -> str:
        """The variant's name and folder."""
        own = self.plan[number].id
        if not self.brand:
            return own
        return f"brand={self.brand}" + (f",{own}" if own != files.MAIN else "")

    def number(self, name: str) -> int:
        """Which variant has the id `name`. Raises Fault with the nearest one."""
        own = name.removeprefix(f"brand={self.brand},") if self.brand else name
        own = files.MAIN if own == f"brand={self.brand}" else own
        return self.plan.where(own)

    def numbers(self, names: Iterable[str]) -> list[int]:
        """Which variants have these ids, as `--variant` names them. Raises MistakesError for ids of none."""
        numbers: list[int] = []
        mistakes: list[Mistake] = []
        for name in names:
            try:
                numbers.append(self.number(name))
            except Fault as fault:
                mistakes.append(fault.at(Place("--variant")))
        if mistakes:
            raise MistakesError([*self.wrong, *mistakes])
        return numbers

    @property
    def scope(self) -> str:
        """What, beside the campaign, decides which variants there are."""
        return f"--brand {self.brand}" if self.brand else ""

    def mail(self, number: int | None = None) -> Mail:
        """Expanded, validated and resolved; without a number, the variant that changes least.

        Raises MistakesError with everything wrong in it.
        """
        return self.mail_of(self.plan.baseline if number is None else self.plan[number])

    def mail_of(self, variant: Variant) -> Mail:
        """As `mail`, for a variant that need not be one of the campaign's."""
        loader, cache, mistakes = self.loader, self.loader.cache, Mistakes(self.wrong)
        house = mistakes.also(self._house(variant))
        if house is None:  # without a brand no block is in sight; the campaign's own fields can still be read
            bare = Expanded(self.doc, without(self.doc.root, "stack", "variants"), ())
            said = {(one.place, one.message) for one in mistakes}
            rest = [one for one in validate_head(bare)[1] if (one.place, one.message) not in said]
            raise MistakesError([*mistakes, *rest])
        mistakes.extend(house.wrong)
        known, expanded = house.known, mistakes.also(self._expanded(house, variant))
        head = expanded.head
        parts = mistakes.also(self._spoken(house, variant, head))
        if parts is None:
            raise MistakesError(mistakes)
        campaign = mistakes.also(self._heads.of(head, lambda: validate_head(expanded, cache)))
        mistakes.extend(check_blocks(expanded, known))
        tag = (campaign.language if campaign else None) or parts.brand.languages[0]
        locale = mistakes.at(
            child(head, "language") or head,
            "language",
            lambda: self._locales.by(tag, lambda: Locale.load(tag, cache)),
        )
        rtl = campaign.dir == "rtl" if campaign and campaign.dir else bool(locale and locale.rtl)
        library = mistakes.also(self._library(parts, known, rtl))
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
        rows = partial(shown, catalogue=stock.products)
        reach = audiences(self._rows.of(one, partial(rows, one), parts.files.digest) for one in sections)
        listed = tuple(tuple(row.sku for row in some) for some in reach)
        offer, about = child(head, "offer") or head, (parts.files.digest, tag, listed)
        context = mistakes.at(offer, "offer", lambda: self._contexts.of(
            campaign,
            lambda: make_context(campaign, parts.brand, locale, reach, unread="product" in stock.unread),
            *about,
        ))  # fmt: skip
        if context is None:
            raise MistakesError(mistakes)
        # where a section speaks another language, its shop's prices are those of other rows
        rows_count = listed if any(speaks_otherwise(sections)) else ()
        facts = (library.digest, tag, rows_count, tuple(context.facts.items()))
        serial, shop = self._shops.by(facts, lambda: (
            next(self._serial),
            open_shop(loader, parts, library, locale, rtl, self.pictures, stock, context, self.samples),
        ))  # fmt: skip
        used = frozenset([section.block.name for section in all_sections(sections)])
        mistakes.extend(self._words.by((serial, used), lambda: tuple(check_words(shop, used))))
        valid = Valid(campaign, tuple(sections))
        tongues = mistakes.also(other_tongues(
            shop, campaign, sections, cache, parts, self._elsewhere(parts, known, library), self._tongues,
            serial,
        ))  # fmt: skip
        mail = mistakes.also(
            resolve(valid, shop, self.speakers, head, tongues, self._found, self._lines, serial)
        )
        if mistakes or mail is None:
            raise MistakesError(mistakes)
        return mail

    def _house(self, variant: Variant | None = None) -> tuple[House | None, list[Mistake]]:
        """The variant's brand, or the campaign's own, in the language that the campaign is written in."""

        def open_house() -> House:
            parts = brand_parts(self.loader, self.doc.root, brand, at)
            shelves = self.loader.shelves(parts.files)
            found = standing(shelves)
            return House(parts, blocks(shelves), found, *expand(self.doc, found, self.loader))

        brand, at = self._brand(variant)
        return self._houses.by(brand, lambda: gathered(open_house))

    def _brand(self, variant: Variant | None) -> tuple[str | None, Place]:
        """Another brand than the campaign's own, and what asks for it."""
        chosen = next((one.brand for one in variant.values if one.brand), None) if variant else None
        if chosen is None or self.brand:
            return self.brand, ASKED
        return scalar(chosen), place(chosen)

    def _spoken(self, house: House, variant: Variant, head: Node) -> tuple[BrandParts | None, list[Mistake]]:
        """The brand in the variant's language."""
        language = scalar(child(head, "language"))
        if language == scalar(child(self.doc.root, "language")):
            return house.parts, []
        brand, at = self._brand(variant)
        return self._parts.by(
            (brand, language), lambda: gathered(lambda: brand_parts(self.loader, head, brand, at))
        )

    def patched(self, variant: Variant) -> Expanded:
        """The campaign as the variant's patches leave it, not yet translated. Raises MistakesError."""
        house = required(self._house(variant))
        varied = self._vary(house, variant)
        expanded, wrong = varied[0].run(variant) if varied is not None else (house.expanded, [])
        if house.wrong or wrong:
            raise MistakesError([*house.wrong, *wrong])
        return expanded

    def translated(self, variant: Variant) -> tuple[Expanded, list[Mistake]]:
        """The campaign as the variant has it, in its language. Raises MistakesError without a brand."""
        house = required(self._house(variant))
        expanded, wrong = self._expanded(house, variant)
        return expanded, [*house.wrong, *wrong]

    def _expanded(self, house: House, variant: Variant) -> tuple[Expanded, list[Mistake]]:
        varied = self._vary(house, variant)
        if varied is None:
            return house.expanded, []
        patcher, tongues = varied
        expanded, wrong = patcher.run(variant)
        return (expanded, wrong) if wrong else tongues.run(variant, expanded)

    def _vary(self, house: House, variant: Variant) -> tuple[Patcher, Tongues] | None:
        """What makes variants in one brand; None where there is nothing to change, or nothing to stand on."""
        library, _wrong = self._library(house.parts, house.known, False) if variant.patches else (None, [])
        own, _wrong = self._house()
        if library is None or own is None or house.wrong:
            return None
        specs = {name: block.spec for name, block in library.blocks.items()}
        written = scalar(child(self.doc.root, "language")) or own.parts.brand.languages[0]
        return self._varied.of(house, lambda: (
            Patcher(
                self.plan, house.expanded, specs, house.standing, self.loader,
                {name: block.defaults for name, block in library.blocks.items()}, variant.brand or "",
            ),
            Tongues(self.loader, self.plan, own.expanded, house.expanded, specs, written),
        ))  # fmt: skip

    def _elsewhere(self, own: BrandParts, known: Mapping[str, Found], library: Library) -> Elsewhere:
        """Where sections in another language or direction get what they need; `library` is the mail's own."""
        loader, name, at = self.loader, own.files.name, Place(own.files.root.name)
        return Elsewhere(
            lambda tag: load_brand(loader, name, at, tag),
            lambda parts, rtl: required(self._library(parts, known, rtl, library)),
            lambda parts: self._stocks.by(
                parts.files.digest, lambda: open_stock(loader, parts, self.samples)
            ),
        )

    def _library(
        self, parts: BrandParts, known: Mapping[str, Found], rtl: bool, beside: Library | None = None
    ) -> tuple[Library | None, list[Mistake]]:
        """The brand's blocks in one direction; `beside` are those of the mail's own, where this is not it."""
        key = (parts.files.digest, rtl, beside and beside.digest)
        return self._libraries.by(key, lambda: gathered(lambda: build(
            list(known.values()), parts.brand, parts.files.root, parts.house, rtl=rtl,
            cache=self.loader.cache, brand_digest=parts.files.digest, root=self.loader.root, beside=beside,
        )))  # fmt: skip

    def render(self, mail: Mail, variant: str = files.MAIN) -> files.Built:
        """The mail's files in memory; its pictures are made, and kept in the cache.

        Raises MistakesError for a block that fails, for an unfit mail, and for pictures that cannot be made.
        """
        renderer = self._renderers.by(mail.library.digest, lambda: renderer_for(mail))
        produce(mail, self.loader.cache, self.coder, self.drawn)
        return render(mail, renderer, self._pieces, self.coder, variant, self.scope)

    def findings(self, mail: Mail) -> tuple[Brief, ...]:
        """What the cheap rules of preflight say of a mail that was rendered here."""
        renderer = self._renderers.by(mail.library.digest, lambda: renderer_for(mail))
        made, _wrong = pieces(mail, renderer, self._pieces)
        return tuple(self._glance.findings(mail, made))


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
    coder: Coder | None = None, variant: str = files.MAIN, scope: str = "",
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
    return files.build(mail, rendered, mail.shop.pictures.cache, coder, variant, scope)


def produce(
    mail: Mail, cache: Cache, coder: Coder | None = None, drawn: Callable[[int, int], None] | None = None
) -> None:
    """The mail's pictures, into the cache; `drawn` is told how many of how many are made.

    Raises MistakesError with every one that cannot be made. Those that `coder` met before are there.
    """
    plans = [plan for plan in mail.plans if coder is None or not coder.knows(plan)]
    if not plans:
        return
    try:
        produce_all(plans, cache, jobs=os.cpu_count() or 2, step=drawn)
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


def brand_parts(loader: Loader, root: Node, brand: str | None, at: Place = ASKED) -> BrandParts:
    """The brand that the campaign names, or `at` does, in the campaign's language. Raises MistakesError."""
    named = child(root, "brand")
    name = brand or scalar(named)
    if not name:
        raise MistakesError([Mistake(place(named or root), "brand", "brand is missing", "brand: NAME")])
    where = at if brand or named is None else place(named)
    return load_brand(loader, name, where, scalar(child(root, "language")))
