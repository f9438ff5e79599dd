"""The words an author typed, and what they claim. Enters: a specimen; leaves: claims, verdicts and places.

What facts fill in is true by construction and is left out: only typed words are judged, where they are
written (campaign, standing sections, texts). Customers' words and the catalogue's own copy are not.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlsplit

from handbill.base.frozen import dataclass
from handbill.base.money import parse_money
from handbill.base.source import child, find, scalar
from handbill.catalogue.rows import ProductRow
from handbill.preflight.contract import Hit, Way, Where, head, section
from handbill.preflight.part import Part
from handbill.resolve.locale import Locale
from handbill.resolve.values import Address, Fields
from handbill.truth.claims import Claim, Finder, misspelt
from handbill.truth.context import FACT, OFFER
from handbill.truth.judge import Fault, Known, Offer, Verdict, judge

if TYPE_CHECKING:
    from handbill.preflight.specimen import Specimen

Own = tuple[tuple[str, tuple[str, ...]], ...]  # the shop's words in one language, by meaning
_FACT = re.compile(r"\$?\$\{[^}]*\}")
_HANDED = ("code", "coupon", "couponcode", "voucher", "promo", "promocode", "discount", "gutschein")
_MARKS = re.compile(r"[*`\\]|\]\([^)\s]*\)|\[")


@dataclass(frozen=True, slots=True)
class Judged:
    """A claim, where it is typed, and what is wrong with it, if anything is."""

    where: Where
    claim: Claim
    verdict: Verdict | None


@dataclass(frozen=True, slots=True)
class Typed:
    """A text as it is typed, without its facts; `about` is the product whose item holds it."""

    where: Where
    text: str
    language: str
    about: ProductRow | None = None


def judged(mail: Specimen) -> Iterator[Judged]:
    """Every claim of the mail's typed words."""
    shop = mail.mail.shop
    known = Known(shown_products(mail), _offer(mail), mail.mail.campaign.send, shop.brand.currency)
    own = tuple(
        (tag, tuple((str(meaning), tuple(words)) for meaning, words in told.items()))
        for tag, told in shop.brand.truth.phrases.items()
    )

    def finder(language: str) -> Finder:
        same = language == shop.context.locale.tag
        locale = shop.context.locale if same else Locale.load(language, shop.pictures.cache)
        return _finder(locale, shop.brand.currency, own)

    texts = [(typed, _claims(typed, finder(typed.language), known)) for typed in typed_texts(mail)]
    spoken = {
        typed.where.section
        for typed, claims in texts
        if finder(typed.language).context.speaks(typed.text)
        or any(one.kind in ("percent", "saving", "code") for one in claims)
    }
    for part in mail.parts:
        if any(row.was is not None for _way, row in _rows(part)):
            spoken.add(part.id)
    for typed, claims in texts:
        about = typed.about or _named(typed.text, known)
        for claim in claims:
            verdict = judge(claim, known, about, spoken=typed.where.section in spoken)
            yield Judged(typed.where, claim, verdict)
    for part in mail.parts if known.offer.code else ():
        for where, claim in _linked(part):
            yield Judged(where, claim, judge(claim, known))


@lru_cache(maxsize=32)
def _finder(locale: Locale, currency: str, own: tuple[tuple[str, Own], ...]) -> Finder:
    """Kept, for what it makes of a text serves every variant that says the same."""
    return Finder(locale, currency, {tag: dict(told) for tag, told in own})


def _claims(typed: Typed, finder: Finder, known: Known) -> list[Claim]:
    """A text's claims; words that are nearly the offer's code count as codes too."""
    found = finder.claims(typed.text)
    codes = {one.text for one in found}
    nearly = misspelt(typed.text, known.offer.code) if known.offer.code else ()
    return [*found, *(one for one in nearly if one.text not in codes)]


def _linked(part: Part) -> Iterator[tuple[Where, Claim]]:
    """The codes that the section's links hand to the shop."""
    for way, value in part.values():
        if isinstance(value, Address) and "?" in value.plain:
            for name, code in parse_qsl(urlsplit(value.plain).query):
                if name.lower() in _HANDED:
                    yield section(part.id, *way), Claim("code", f"{name}={code}", text=code)


def found(mail: Specimen, fault: Fault) -> Iterator[Hit]:
    """What is wrong in one way, as findings that name the field at odds too."""
    for one in mail.judged:
        if one.verdict is not None and one.verdict.fault == fault:
            also = [head(*one.verdict.way)] if one.verdict.way else []
            if one.verdict.row is not None:
                also.append(Where(row=one.verdict.row))
            yield Hit(one.verdict.message, one.where, tuple(also))


def typed_texts(mail: Specimen) -> Iterator[Typed]:
    """Subject, preheader, and every text, label and alternative text that the author typed."""
    for name in ("subject", "preheader"):
        if text := scalar(child(mail.mail.root, name)):
            yield Typed(head(name), without_facts(text), mail.mail.language)
    for part in mail.parts:
        yield from _typed_in(part)


def _typed_in(part: Part) -> Iterator[Typed]:
    rows = _rows(part)
    ways = dict.fromkeys([way for way, _filled, _text in part.texts()] + [("button", "label")])
    for way in ways:
        node, whole = find(part.spoken.node, way)
        text = scalar(node) if whole else None
        if text:
            about = next((row for start, row in rows if way[: len(start)] == start), None)
            yield Typed(section(part.id, *way), without_facts(text), part.spoken.language, about)


def _rows(part: Part) -> list[tuple[Way, ProductRow]]:
    """The products of a section with the ways to their items."""
    products = part.mail.shop.products
    found = [
        (way, products.get(value.sku))
        for way, value in part.values()
        if products is not None and isinstance(value, Fields) and hasattr(value, "sku")
    ]
    return [(way, row) for way, row in found if row is not None]


def shown_products(mail: Specimen) -> list[ProductRow]:
    """Every product that the mail shows, once."""
    return list({row.sku: row for part in mail.parts for _way, row in _rows(part)}.values())


def without_facts(text: str) -> str:
    """A typed text as it reads, with a gap for each fact and without the marks of copy."""
    return _MARKS.sub("", _FACT.sub(lambda one: OFFER if "{offer." in one[0] else FACT, text))


def _named(text: str, known: Known) -> ProductRow | None:
    """The one product that a text names."""
    named = [
        row
        for row in known.products
        if row.name in text and re.search(rf"(?<!\w){re.escape(row.name)}(?!\w)", text)
    ]
    return named[0] if len(named) == 1 else None


def _offer(mail: Specimen) -> Offer:
    offer, currency = mail.mail.campaign.offer, mail.mail.shop.brand.currency
    if offer is None:
        return Offer()
    if offer.kind == "markdown":
        return Offer("markdown", starts=offer.starts, ends=offer.ends)
    amount, least = (parse_money(value, currency) if value else None for value in (offer.amount, offer.least))
    return Offer("code", offer.percent, amount, least, offer.code, offer.starts, offer.ends)
