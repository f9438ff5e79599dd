"""Sections in a language or a direction of their own. Enters: the shop and a mail's sections; leaves: the
shop as each needs it: its words, its ways to write prices and dates (CLDR), blocks of its direction.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, MistakesError
from handbill.base.source import child, place
from handbill.expand import Section
from handbill.library.build import Library
from handbill.resolve.context import make_context
from handbill.resolve.locale import Locale
from handbill.resolve.shop import Shop, language_words
from handbill.resolve.text import check_characters
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


def other_tongues(
    shop: Shop,
    campaign: Campaign,
    sections: Sequence[ValidSection],
    cache: Cache,
    mirrored: Callable[[], Library],
    listed: Callable[[Any], Sequence[Any]],
) -> tuple[Tongues, list[Mistake]]:
    """Every language and direction beside the mail's own.

    `mirrored` makes the library of the other direction, and is called only when a section needs it; `listed`
    gives the mail's products. Mistakes: a tag of no language, a block without words in one.
    """
    made: dict[tuple[str | None, str | None], Shop] = {}
    wrong: list[Mistake] = []
    for valid in _own(sections):
        section = valid.section
        at = child(section.whole, "lang") or child(section.whole, "dir") or section.whole
        try:
            locale = Locale.load(section.lang, cache) if section.lang else shop.context.locale
        except Fault as fault:
            wrong.append(fault.at(place(at), f"{section.path}, lang"))
            continue
        key = section.lang, section.dir
        own = locale.rtl if section.lang else shop.rtl
        rtl = section.dir == "rtl" if section.dir else own
        used = [one.block.name for one in all_sections((valid,))]
        try:
            library = shop.library if rtl == shop.rtl else mirrored()
        except MistakesError as error:
            return {}, [*wrong, *error.mistakes]
        words, missing = language_words(library, shop.brand, locale.tag, used)
        for block, lacking in missing:
            message = f"block {block} has no words in {locale.tag}: {', '.join(lacking)}"
            expected = f"words: {{{locale.language}: …}} in brand.yaml or block.yaml"
            wrong.append(Mistake(place(at), section.path, message, expected))
        for block, table in words.items():
            for word, text in table.items():
                try:
                    check_characters(text)
                except Fault as fault:
                    wrong.append(fault.at(place(at), f"block {block}, words.{word}"))
        before = made.get(key)
        context = (
            before.context if before else make_context(campaign, shop.brand, locale, listed(shop.products))
        )
        every = {**(before.words if before else {}), **words}
        made[key] = shop.speaking(locale.tag, rtl, library, context, every)
    return made, wrong


def _own(sections: Sequence[ValidSection]) -> Iterator[ValidSection]:
    """The sections that say of themselves how they are written."""
    for valid in sections:
        for one in (valid, valid.otherwise):
            if one is not None and (one.section.lang or one.section.dir):
                yield one
