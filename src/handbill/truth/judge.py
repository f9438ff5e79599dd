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
from handbill.truth.claims import Claim

# Words that speak of an end or a start alone: with the others a date may be that of anything.
_STRONG = re.compile(r"(?i)ends?\b|endet|valid|gültig|expir|läuft|last|letzt|start|begin")

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


def judge(claim: Claim, known: Known, about: ProductRow | None = None) -> Verdict | None:
    """What is wrong with `claim`, None for one that holds. `about` is the product that it speaks of."""
    if claim.kind == "unread":
        return Verdict("unread", f"“{claim.words}”: {claim.why}")
    if claim.kind == "percent":
        return _percent(claim, known, about)
    if claim.kind in ("saving", "price"):
        if claim.unit != known.currency:
            return Verdict("unread", f"“{claim.words}”: the files hold prices in {known.currency}")
        return (_saving if claim.kind == "saving" else _price)(claim, known, about)
    if claim.kind == "count":
        return _count(claim, about)
    if claim.kind == "code":
        return _code(claim, known)
    return _time(claim, known) if claim.kind != "elsewhere" else None


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
    if offer.kind == "code" and offer.percent is not None and about is None:
        if said == offer.percent:
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
    if offer.kind == "code" and offer.amount is not None and about is None:
        if said == offer.amount:
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
        return Verdict("contradicts", f"“{claim.words}”, but {at(about)} costs {about.price}")
    if said in (offer.least, offer.amount):
        return None
    if claim.bound == "from" and known.products:
        low = min(known.products, key=lambda row: row.price)
        if said < low.price:
            return Verdict("overstated", f"“{claim.words}”, but the lowest price is {low.price}, {at(low)}")
        if said > low.price:
            return Verdict("stale", f"“{claim.words}”, but by now the lowest price is {low.price}, {at(low)}")
        return None
    if any(said in (row.price, row.was) for row in known.products):
        return None
    return Verdict("unread", f"“{claim.words}”: no product of the mail has this price")


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
    if offer.kind != "code":
        return Verdict("unsupported", f"“{claim.words}”, but the campaign offers no code")
    if claim.text.casefold() == offer.code.casefold():
        return None
    return Verdict("contradicts", f"“{claim.words}”, but the code is {offer.code}", ("offer", "code"))


def _time(claim: Claim, known: Known) -> Verdict | None:
    """An offer that ends in the first minute of a day ends with the day before."""
    offer, name = known.offer, "starts" if claim.kind == "starts" else "ends"
    moment = offer.starts if name == "starts" else offer.ends
    if moment is None:
        if claim.kind == "soon" and claim.text == "within":
            return None  # urgency without a date has a rule of its own
        why = "the campaign has no offer" if not offer.kind else f"the offer has no `{name}:`"
        if claim.kind == "soon":
            return None
        fault: Fault = "unsupported" if offer.kind and _STRONG.match(claim.words) else "unread"
        return Verdict(fault, f"“{claim.words}”, but {why}", ("offer",) if offer.kind else ())
    days = _last_days(moment) if name == "ends" else (moment.date(),)
    shown = f"{moment:%Y-%m-%dT%H:%M}"
    if claim.day is not None:
        holds = any(claim.day.fits(day) for day in days)
    elif claim.kind == "weekday":
        holds = any(day.weekday() == int(claim.value) for day in days)
        holds = holds and min(days) - known.send.date() <= timedelta(days=7)
    elif claim.text == "within":
        holds = moment - known.send <= timedelta(days=int(claim.value))
    else:
        holds = known.send.date() + timedelta(days=int(claim.value)) in days
    if holds:
        return None
    if claim.day is not None and _past(claim, known.send):
        fault = "stale" if _STRONG.match(claim.words) else "unread"  # “until” may speak of other things
    else:
        fault = "contradicts"
    return Verdict(fault, f"“{claim.words}”, but the offer {name} at {shown}", ("offer", name))


def _last_days(moment: datetime) -> Iterable[date]:
    early = moment.hour == 0 and moment.minute == 0
    return (moment.date(), moment.date() - timedelta(days=1)) if early else (moment.date(),)


def _past(claim: Claim, send: datetime) -> bool:
    day = claim.day
    return day is not None and date(day.year or send.year, day.month, min(day.day, 28)) < send.date()
