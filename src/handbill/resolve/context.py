"""What a mail can say. Enters: campaign, brand, products, a locale; leaves: facts and the words of each.

Every claim is worked out here from the catalogue, exactly (see `offer`); nothing is typed in twice.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, time
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Protocol
from urllib.parse import urljoin

from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.base.money import Money, parse_money
from handbill.resolve import offer as arithmetic
from handbill.resolve.facts import Fact, Formats
from handbill.resolve.locale import Locale

if TYPE_CHECKING:
    from handbill.models.brand import Brand
    from handbill.models.campaign import Campaign


class Product(Protocol):
    """What is needed of a row of the catalogue."""

    @property
    def sku(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def price(self) -> Money: ...
    @property
    def was(self) -> Money | None: ...
    @property
    def link(self) -> str: ...
    @property
    def stock(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Context:
    """The locale's words for values, and the facts of the mail as a whole."""

    locale: Locale
    whole_amounts: str
    facts: Mapping[str, Fact]
    formats: Formats

    def money(self, amount: Money) -> str:
        return self.locale.money(amount, whole=self.whole_amounts)

    def percent(self, value: int) -> str:
        return self.locale.percent(value)


def formats(locale: Locale, time_pattern: str | None = None, counted: Counted | None = None) -> Formats:
    """The named formats of each kind; patterns and names come from CLDR.

    `time_pattern` is the house's own way to write a time, in CLDR's letters. `counted` are its words around a
    number: each is a format of numbers by its name.
    """

    def clock(value: Any) -> str:
        return _time(locale, value.time(), time_pattern)

    def full(value: Any) -> str:
        return locale.money(value, whole="full")

    def short(value: Any) -> str:
        return locale.money(value, whole="short")

    day: dict[str, Callable[[Any], str]] = {
        "date": lambda value: locale.date(_day(value), "long"),
        "long": lambda value: locale.date(_day(value), "long"),
        "medium": lambda value: locale.date(_day(value), "medium"),
        "short": lambda value: locale.date(_day(value), "short"),
        "full": lambda value: locale.date(_day(value), "full"),
        "day": lambda value: locale.day(_day(value)),
        "weekday": lambda value: locale.weekday(_day(value)),
        "month": lambda value: locale.month(_day(value)),
    }
    return {
        "date": day,
        "datetime": {**day, "time": clock},
        "money": {"full": full, "short": short},
        "number": {"plain": str, **{name: _saying(locale, said) for name, said in (counted or {}).items()}},
    }


#: Words around a number, `{count}` in them, by name and by CLDR's plural category.
Counted = Mapping[str, Mapping[str, str]]
COUNT = "{count}"


def _saying(locale: Locale, forms: Mapping[str, str]) -> Callable[[Any], str]:
    """Writes a number with the words in the form that goes with it."""

    def say(value: Any) -> str:
        if not str(value).isdecimal():  # a cell of the catalogue
            raise Fault(
                f"{value} is no whole number, so no word goes with it", expected="a number such as 12"
            )
        number = int(value)
        return forms.get(locale.plural(number), forms["other"]).replace(COUNT, locale.number(number))

    return say


def counted_words(words: Mapping[str, Mapping[str, Any]], locale: Locale) -> Counted:
    """Those of the brand's words that hold a number; `en-GB` is sought before `en`."""
    found: dict[str, Mapping[str, str]] = {}
    for tag in (locale.language, locale.tag):
        for word, said in words.get(tag, {}).items():
            forms = {"other": said} if isinstance(said, str) else said
            if any(COUNT in text for text in forms.values()):
                found[word] = forms
    return found


def _time(locale: Locale, value: time, pattern: str | None) -> str:
    """The locale's short time, or the house's own way to write one."""
    if pattern is None:
        return locale.time(value)
    hour = value.hour % 12 or 12
    parts = {
        "HH": f"{value.hour:02}", "H": f"{value.hour}", "hh": f"{hour:02}", "h": f"{hour}",
        "mm": f"{value.minute:02}", "a": "am" if value.hour < 12 else "pm",
    }  # fmt: skip
    return re.sub(r"HH|H|hh|h(?=.?mm)|mm|a", lambda found: parts[found.group()], pattern)


def _day(value: Any) -> Any:
    return value.date() if isinstance(value, datetime) else value


def make_context(
    campaign: Campaign, brand: Brand, locale: Locale, audiences: Sequence[Sequence[Product]],
    *, unread: bool = False,
) -> Context:  # fmt: skip
    """The context of a mail; `audiences` are the products that each kind of recipient is shown. Where they
    are `unread`, for mistakes in their file, claims have any value: that they lack one would say nothing.

    Raises Fault where an offer's claim cannot be made.
    """
    named = formats(locale, brand.time_pattern, counted_words(brand.words, locale))
    context = Context(locale, brand.whole_amounts, {}, named)
    facts = {
        "campaign.name": Fact("text", campaign.campaign, campaign.campaign),
        "campaign.send": _moment(context, campaign.send),
        "brand.name": Fact("text", brand.name, brand.name),
        "brand.site": Fact("url", brand.site, brand.site),
        "brand.postal_address": Fact("text", brand.postal_address, brand.postal_address),
        **(_unread(context, brand.currency) if unread else _claims(context, audiences)),
        **_offer_facts(context, campaign, brand),
    }
    return Context(locale, brand.whole_amounts, facts, context.formats)


def _moment(context: Context, value: Any) -> Fact:
    return Fact("datetime", value, context.locale.date(value.date(), "long") if value is not None else "")


def _money(context: Context, value: Money | None, lacking: str = "") -> Fact:
    return Fact("money", value, context.money(value) if value is not None else "", lacking)


def _claims(context: Context, audiences: Sequence[Sequence[Product]]) -> dict[str, Fact]:
    """What is claimed of the mail's products. Every recipient reads it, so the smallest of any kind."""
    percents, savings = [*map(_best_percent, audiences)], [*map(_best_saving, audiences)]
    best, saving, count = min(percents), min(savings), min(map(len, audiences))
    lowest = [arithmetic.lowest([one.price for one in rows]) for rows in audiences if rows]
    from_price = max(lowest) if len(lowest) == len(audiences) else None
    lacking = ": some recipients are shown no {}"
    percent_lacks = lacking.format("product that is reduced by a whole percent") if any(percents) else ""
    saving_lacks = lacking.format("reduced product") if any(savings) else ""
    return {
        "offer.best_percent": Fact("percent", best, context.percent(best) if best else "", percent_lacks),
        "offer.best_saving": _money(context, saving[1] if saving else None, saving_lacks),
        "offer.lowest_price": _money(context, from_price, lacking.format("product") if lowest else ""),
        "offer.count": Fact("number", count, context.locale.number(count)),
    }


def _unread(context: Context, currency: str) -> dict[str, Fact]:
    """What stands in for claims of products that nobody can read; such a mail is never made."""
    one = _money(context, Money(Decimal(1), currency))
    return {
        "offer.best_percent": Fact("percent", 1, context.percent(1)),
        "offer.best_saving": one,
        "offer.lowest_price": one,
        "offer.count": Fact("number", 1, context.locale.number(1)),
    }


def _reduced(listed: Sequence[Product]) -> list[tuple[Money, Money]]:
    return [(product.was, product.price) for product in listed if product.was is not None]


def _best_percent(listed: Sequence[Product]) -> int:
    reduced = _reduced(listed)
    try:
        return arithmetic.best_percent(reduced) if reduced else 0
    except Fault:  # nothing is reduced by a whole percent: there is no such claim to make
        return 0


def _best_saving(listed: Sequence[Product]) -> tuple[()] | tuple[bool, Money]:
    """The largest saving, if any: `min` takes nothing for less than all savings."""
    reduced = _reduced(listed)
    return (True, max(arithmetic.saving(was, now) for was, now in reduced)) if reduced else ()


def _offer_facts(context: Context, campaign: Campaign, brand: Brand) -> dict[str, Fact]:
    offer = campaign.offer
    facts: dict[str, Fact] = {}
    if offer is None:  # known, but empty: a fallback may stand for them
        kinds = {
            "starts": "datetime", "ends": "datetime", "code": "code", "percent": "percent",
            "amount": "money", "least": "money", "terms": "text",
        }  # fmt: skip
        return facts | {f"offer.{name}": Fact(kind, None, "") for name, kind in kinds.items()}
    facts["offer.starts"] = _moment(context, offer.starts)
    facts["offer.ends"] = _moment(context, offer.ends)
    if offer is not None and offer.kind == "code":
        facts["offer.code"] = Fact("code", offer.code, offer.code)
        facts["offer.percent"] = Fact(
            "percent", offer.percent, context.percent(offer.percent) if offer.percent else ""
        )
        amount = parse_money(offer.amount, brand.currency) if offer.amount else None
        least = parse_money(offer.least, brand.currency) if offer.least else None
        facts["offer.amount"], facts["offer.least"] = _money(context, amount), _money(context, least)
        facts["offer.terms"] = Fact("text", offer.terms, offer.terms or "")
    return facts


def product_facts(context: Context, product: Product, site: str) -> dict[str, Fact]:
    """`product.*` of one row; percent and saving are empty for a product that is not reduced."""
    reduced = product.was is not None
    percent = arithmetic.percent_off(product.was, product.price) if product.was is not None else 0
    saving = arithmetic.saving(product.was, product.price) if product.was is not None else None
    return {
        "product.name": Fact("text", product.name, product.name),
        "product.kind": Fact("text", product.kind, product.kind),
        "product.sku": Fact("code", product.sku, product.sku),
        "product.price": _money(context, product.price),
        "product.was": _money(context, product.was),
        "product.percent": Fact("percent", percent, context.percent(percent) if reduced and percent else ""),
        "product.saving": _money(context, saving),
        "product.link": Fact("url", product.link, urljoin(site, product.link)),
        "product.stock": Fact("number", product.stock, product.stock if product.stock.isdecimal() else ""),
    }
