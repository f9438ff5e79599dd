"""Claims held against what is known. Enters: a `Claim`, the products and the offer; leaves: a `Verdict`.

A claim may say less than is true, never more: percents off are compared exactly with what products were and
are (`resolve.offer`), so 49.99 % is no half price. What nothing here can bear out is said to be unread.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from handbill.base.frozen import dataclass
from handbill.base.money import Money
from handbill.catalogue.rows import ProductRow
from handbill.truth.claims import STRONG, Claim

Fault = Literal["overstated", "stale", "contradicts", "unsupported", "unread"]


@dataclass(frozen=True, slots=True)
class Offer:
    """What the campaign offers; `kind` is markdown or code, empty for no offer."""

    kind: str = ""
    percent: int | None = None
    amount: Money | None = None
    least: Money | None = None
    code: str = ""
    starts: datetime | None = None
    ends: datetime | None = None


@dataclass(frozen=True, slots=True)
class Known:
    """What claims of a mail are held against: the products it shows, the offer, when it is sent."""

    products: Sequence[ProductRow]
    offer: Offer
    send: datetime
    currency: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is wrong with a claim. `way` leads to the campaign's field that says otherwise, if one does."""

    fault: Fault
    message: str
    way: tuple[str, ...] = ()


def judge(
    claim: Claim, known: Known, about: ProductRow | None = None, *, spoken: bool = True
) -> Verdict | None:
    """What is wrong with `claim`, None for one that holds. `about` is the product that it speaks of.

    `spoken` says whether what stands around the claim speaks of the offer.
    """
    if claim.kind == "unread":
        return Verdict("unread", f"“{claim.words}”: {claim.why}")
    if claim.kind == "percent":
        return _percent(claim, known, about)
    if claim.kind in ("saving", "price", "least"):
        if claim.unit != known.currency:
            return Verdict("unread", f"“{claim.words}”: the files hold prices in {known.currency}")
        if claim.kind == "least":
            return _least(claim, known)
        return (_saving if claim.kind == "saving" else _price)(claim, known, about)
    if claim.kind == "count":
        return _count(claim, about)
    if claim.kind == "code":
        return _code(claim, known)
    return _time(claim, known, spoken) if claim.kind != "elsewhere" else None


def cut(row: ProductRow) -> Fraction:
    """The percent that a product is reduced by, exact; 0 for one that is not."""
    if row.was is None:
        return Fraction(0)
    was = Fraction(row.was.amount)
    return (was - Fraction(row.price.amount)) * 100 / was


def at(row: ProductRow) -> str:
    """A product and its line in the shop's file."""
    return f"{row.name} ({row.place.file}:{row.place.line})"


def _percent(claim: Claim, known: Known, about: ProductRow | None) -> Verdict | None:
    said, offer = Fraction(claim.value), known.offer
    if offer.kind == "code" and offer.percent is not None and (about is None or about.was is None):
        reduced = [] if about is not None else [row for row in known.products if row.was is not None]
        if said == offer.percent or any(int(cut(row)) == said for row in reduced):
            return None
        message = f"“{claim.words}”, but the code {offer.code} takes {offer.percent} % off"
        return Verdict("contradicts", message, ("offer", "percent"))
    rows = [about] if about is not None else [row for row in known.products if row.was is not None]
    cuts = sorted(((cut(row), row) for row in rows), key=lambda one: one[0])
    if not cuts or cuts[-1][0] <= 0:
        named = (
            f"{at(about)} is not reduced" if about is not None else "the mail shows nothing that is reduced"
        )
        return Verdict("unsupported", f"“{claim.words}”, but {named}", ("offer",) if offer.kind else ())
    (least, low), (most, high) = cuts[0], cuts[-1]
    if said > most:
        return Verdict("overstated", f"“{claim.words}”, but the most is {_shown(most)} % off {at(high)}")
    if claim.bound == "up to" and said != int(most):
        return Verdict("stale", f"“{claim.words}”, but by now it is {_shown(most)} % off {at(high)}")
    if claim.bound == "from" and said > least:
        return Verdict("overstated", f"“{claim.words}”, but {at(low)} is only {_shown(least)} % off")
    if not claim.bound and said > least:
        return Verdict(
            "overstated", f"“{claim.words}” without “up to”, but {at(low)} is {_shown(least)} % off"
        )
    if not claim.bound and about is not None and said != int(most):
        return Verdict("stale", f"“{claim.words}”, but it is {_shown(most)} % off {at(high)}")
    return None


def _shown(percent: Fraction) -> str:
    """A percent to two decimals, rounded down."""
    whole = int(percent * 100)
    return f"{whole // 100}" + (f".{whole % 100:02}" if whole % 100 else "")


def _saving(claim: Claim, known: Known, about: ProductRow | None) -> Verdict | None:
    said, offer = Money(claim.value, claim.unit), known.offer
    if offer.kind == "code" and offer.amount is not None and (about is None or about.was is None):
        reduced = [] if about is not None else known.products
        if said == offer.amount or any(
            row.was is not None and row.was - row.price == said for row in reduced
        ):
            return None
        message = f"“{claim.words}”, but the code {offer.code} takes {offer.amount} off"
        return Verdict("contradicts", message, ("offer", "amount"))
    rows = [about] if about is not None else list(known.products)
    saved = [(row.was - row.price, row) for row in rows if row.was is not None]
    if not saved:
        named = (
            f"{at(about)} is not reduced" if about is not None else "the mail shows nothing that is reduced"
        )
        return Verdict("unsupported", f"“{claim.words}”, but {named}", ("offer",) if offer.kind else ())
    most, high = max(saved, key=lambda one: one[0])
    least, low = min(saved, key=lambda one: one[0])
    if said > most:
        return Verdict("overstated", f"“{claim.words}”, but the most is {most} off {at(high)}")
    if said < most and (claim.bound == "up to" or about is not None):
        return Verdict("stale", f"“{claim.words}”, but by now it is {most} off {at(high)}")
    if said > least and not claim.bound:
        return Verdict("overstated", f"“{claim.words}” without “up to”, but it is {least} off {at(low)}")
    return None


def _price(claim: Claim, known: Known, about: ProductRow | None) -> Verdict | None:
    said, offer = Money(claim.value, claim.unit), known.offer
    if about is not None:
        prices = [about.price, *([about.was] if about.was is not None else [])]
        if said in prices or (about.was is not None and said == about.was - about.price):
            return None
        if claim.subject == "other":
            return Verdict("unread", f"“{claim.words}”: nothing says that it is the price of {about.name}")
        return Verdict("contradicts", f"“{claim.words}”, but {at(about)} costs {about.price}")
    if said in (offer.least, offer.amount):
        return None
    meant = known.products if claim.subject == "open" else _meant(claim.before, known.products)
    if claim.bound == "from" and meant:
        low = min(meant, key=lambda row: row.price)
        if said < low.price:
            return Verdict("overstated", f"“{claim.words}”, but the lowest price is {low.price}, {at(low)}")
        if said > low.price:
            return Verdict("stale", f"“{claim.words}”, but by now the lowest price is {low.price}, {at(low)}")
        return None
    if any(said in (row.price, row.was) for row in known.products):
        return None
    return Verdict("unread", f"“{claim.words}”: no product of the mail has this price")


def _meant(words: str, products: Iterable[ProductRow]) -> list[ProductRow]:
    """The products that share a word with the words before a price: “kettles from …”."""
    said = re.findall(r"[^\W\d_]{4,}", words.casefold())
    return [
        row
        for row in products
        if any(
            one.startswith(word) or word.startswith(one)
            for one in re.findall(r"[^\W\d_]{4,}", row.name.casefold())
            for word in said
        )
    ]


def _least(claim: Claim, known: Known) -> Verdict | None:
    least = known.offer.least
    if least is None:
        return Verdict("unread", f"“{claim.words}”: the offer asks for no order of a size")
    if Money(claim.value, claim.unit) == least:
        return None
    return Verdict("contradicts", f"“{claim.words}”, but the code needs {least}", ("offer", "least"))


def _count(claim: Claim, about: ProductRow | None) -> Verdict | None:
    if about is None or not about.stock.strip().isdecimal():
        return Verdict("unread", f"“{claim.words}”: of what is not told, or its stock is not known")
    stock = Decimal(about.stock.strip())
    if stock == claim.value:
        return None
    fault: Fault = "overstated" if claim.value < stock else "stale"  # fewer left presses more
    return Verdict(fault, f"“{claim.words}”, but {at(about)} has {stock} in stock")


def _code(claim: Claim, known: Known) -> Verdict | None:
    offer = known.offer
    if claim.why and claim.text.casefold() != offer.code.casefold():
        return Verdict("unread", f"“{claim.words}”: {claim.why}")
    if offer.kind != "code":
        return Verdict("unsupported", f"“{claim.words}”, but the campaign offers no code")
    if claim.text.casefold() == offer.code.casefold():
        return None
    return Verdict("contradicts", f"“{claim.words}”, but the code is {offer.code}", ("offer", "code"))


def _time(claim: Claim, known: Known, spoken: bool) -> Verdict | None:
    """An offer that ends in the first minute of a day ends with the day before."""
    offer, name = known.offer, "starts" if claim.kind == "starts" else "ends"
    moment = offer.starts if name == "starts" else offer.ends
    ours = claim.subject == "offer" or (claim.subject == "open" and spoken and bool(offer.kind))
    if moment is None:
        if claim.kind == "soon":
            return None  # urgency without a date has a rule of its own
        why = "the campaign has no offer" if not offer.kind else f"the offer has no `{name}:`"
        fault: Fault = "unsupported" if ours else "unread"
        return Verdict(fault, f"“{claim.words}”, but {why}", ("offer",) if offer.kind else ())
    if _holds(claim, known.send, moment):
        return None
    gone = claim.day is not None and _past(claim, known.send)
    if not ours:
        if gone and claim.day is not None and claim.day.year and STRONG.match(claim.words):
            return Verdict("stale", f"“{claim.words}”, but the mail is sent at {known.send:%Y-%m-%dT%H:%M}")
        return Verdict("unread", f"“{claim.words}”: nothing says whether it is the offer that {name} then")
    message = f"“{claim.words}”, but the offer {name} at {moment:%Y-%m-%dT%H:%M}"
    return Verdict("stale" if gone else "contradicts", message, ("offer", name))


def _holds(claim: Claim, send: datetime, moment: datetime) -> bool:
    """Whether the offer begins or ends when the claim says it does."""
    days = (moment.date(),) if claim.kind == "starts" else _last_days(moment)
    if claim.day is not None:
        return any(claim.day.fits(day) for day in days)
    if claim.kind == "weekday":
        soon = min(days) - send.date() <= timedelta(days=7)
        return soon and any(day.weekday() == int(claim.value) for day in days)
    if claim.text in ("days", "hours"):  # rounded either way, or counted by the calendar
        left, unit = moment - send, timedelta(**{claim.text: 1})
        said = int(claim.value)
        return abs(left - said * unit) < unit or (
            claim.text == "days" and any((day - send.date()).days == said for day in days)
        )
    if claim.text == "within":
        return moment - send <= timedelta(days=int(claim.value))
    return send.date() + timedelta(days=int(claim.value)) in days


def _last_days(moment: datetime) -> tuple[date, ...]:
    early = moment.hour == 0 and moment.minute == 0
    return (moment.date(), moment.date() - timedelta(days=1)) if early else (moment.date(),)


def _past(claim: Claim, send: datetime) -> bool:
    day = claim.day
    return day is not None and date(day.year or send.year, day.month, min(day.day, 28)) < send.date()
