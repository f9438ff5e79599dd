"""Sections in a language or a direction of their own. Enters: the shop and a mail's sections; leaves: the
shop as each needs it: its words, its ways to write prices and dates (CLDR), blocks of its direction.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, MistakesError
from handbill.base.frozen import dataclass
from handbill.base.kept import Kept
from handbill.base.source import child, place
from handbill.brand.parts import BrandParts
from handbill.expand import Section
from handbill.library.build import Library
from handbill.resolve.audiences import audiences, shown
from handbill.resolve.context import make_context
from handbill.resolve.locale import Locale
from handbill.resolve.shop import Shop, Words, check_words
from handbill.resolve.stock import Stock
from handbill.validate import ValidSection, all_sections

if TYPE_CHECKING:
    from handbill.models.campaign import Campaign

#: The shop by what a section says of itself: its `lang` and its `dir`.
Tongues = Mapping[tuple[str | None, str | None], Shop]


def spoken_in(section: Section, shop: Shop, tongues: Tongues) -> Shop:
    """The shop as `section` needs it: the mail's own, or one in the section's language and direction."""
    other = tongues.get((section.lang, section.dir))
    if other is None:
        return shop
    return other.afresh(shop.pictures)


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Where another language or direction comes from: the brand as it speaks a language, its blocks in a
    direction, its catalogues. Each is asked only when a section needs it."""

    brand: Callable[[str], BrandParts]
    library: Callable[[BrandParts, bool], Library]
    stock: Callable[[BrandParts], tuple[Stock, list[Mistake]]]


def other_tongues(
    shop: Shop,
    campaign: Campaign,
    sections: Sequence[ValidSection],
    cache: Cache,
    parts: BrandParts,
    elsewhere: Elsewhere,
    kept: Kept[tuple[Shop, list[Mistake]]] | None = None,
    serial: int = 0,
) -> tuple[Tongues, list[Mistake]]:
    """Every language and direction beside the mail's own, which is that of `shop` and `parts`.

    `kept` holds shops made before; `serial` stands for `shop` there. Mistakes: a tag of no language, a block
    without words in one, what is wrong with the brand's files in it.
    """
    made: dict[tuple[str | None, str | None], Shop] = {}
    wrong: list[Mistake] = []
    kept = kept or Kept(10)

    def speaking(section: Section) -> tuple[Shop, list[Mistake]]:
        locale = Locale.load(section.lang, cache) if section.lang else shop.context.locale
        own = locale.rtl if section.lang else shop.rtl
        rtl = section.dir == "rtl" if section.dir else own
        theirs = parts if locale.tag == shop.language else elsewhere.brand(locale.tag)
        same = theirs.files.digest == parts.files.digest
        library = shop.library if same and rtl == shop.rtl else elsewhere.library(theirs, rtl)
        stock, mistakes = Stock(shop.products, shop.reviews, shop.unread), list[Mistake]()
        if not same:
            stock, mistakes = elsewhere.stock(theirs)
        context = make_context(
            campaign, theirs.brand, locale, audiences([shown(one, stock.products) for one in sections])
        )
        words = Words(library, theirs.brand, locale.tag)
        return shop.speaking(locale.tag, rtl, library, context, words, theirs, stock), mistakes

    for valid in speaks_otherwise(sections):
        section = valid.section
        at = place(child(section.whole, "lang") or child(section.whole, "dir") or section.whole)
        key = section.lang, section.dir
        try:
            made[key], mistakes = kept.by((serial, *key), partial(speaking, section))
        except Fault as fault:
            wrong.append(fault.at(at, f"{section.path}, lang"))
            continue
        except MistakesError as error:
            return {}, [*wrong, *error.mistakes]
        wrong.extend(one for one in mistakes if one not in wrong)
        used = [one.block.name for one in all_sections((valid,))]
        wrong.extend(check_words(made[key], used, at, section.path))
    return made, wrong


def speaks_otherwise(sections: Sequence[ValidSection]) -> Iterator[ValidSection]:
    """The sections that say of themselves how they are written."""
    for valid in sections:
        for one in (valid, valid.otherwise):
            if one is not None and (one.section.lang or one.section.dir):
                yield one
