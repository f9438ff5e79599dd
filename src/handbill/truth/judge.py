"""Claims held against what is known. Enters: a `Claim`, the products and the offer; leaves: a `Verdict`.

A claim may say less than is true, never more: percents off are compared exactly with what products were and
are (`resolve.offer`), so 49.99 % is no half price. What nothing here can bear out is said to be unread.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from handbill.base.errors import Place
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
    """What is wrong with a claim.

    `way` leads to the campaign's field that says otherwise, `row` to the product's line, if one does.
    """

    fault: Fault
    message: str
    way: tuple[str, ...] = ()
    row: Place | None = None


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


@dataclass(frozen=True, slots=True)
class _Off:
    """How much is taken off, in percent or in money; `floor` is what may be claimed of an exact value."""

    field: Literal["percent", "amount"]
    offered: Fraction | None
    of: Callable[[ProductRow], Fraction]
    floor: Callable[[Fraction], Fraction]
    shown: Callable[[Fraction], str]


def _percent(claim: Claim, known: Known, about: ProductRow | None) -> Verdict | None:
    percent = known.offer.percent
    offered = Fraction(percent) if percent is not None else None
    kind = _Off("percent", offered, cut, lambda one: Fraction(int(one)), lambda one: f"{_shown(one)} %")
    return _taken_off(claim, known, about, kind)


def _saving(claim: Claim, known: Known, about: ProductRow | None) -> Verdict | None:
    def saved(row: ProductRow) -> Fraction:
        return Fraction((row.was - row.price).amount) if row.was is not None else Fraction(0)

    def shown(one: Fraction) -> str:
        return str(Money(Decimal(one.numerator) / Decimal(one.denominator), claim.unit))

    amount = known.offer.amount
    offered = Fraction(amount.amount) if amount is not None else None
    return _taken_off(claim, known, about, _Off("amount", offered, saved, lambda one: one, shown))


def _taken_off(claim: Claim, known: Known, about: ProductRow | None, kind: _Off) -> Verdict | None:
    said, offer = Fraction(claim.value), known.offer
    reduced = [row for row in (known.products if about is None else [about]) if row.was is not None]
    cuts = sorted(((kind.of(row), row) for row in reduced), key=lambda one: one[0])
    if offer.kind == "code" and kind.offered is not None and (about is None or not cuts):
        if said == kind.offered or any(said == kind.floor(off) for off, _row in cuts):
            return None
        message = f"but the code {offer.code} takes {kind.shown(kind.offered)} off"
        return _said("contradicts", claim, message, way=("offer", kind.field))
    if not cuts:
        message = (
            "the mail shows nothing that is reduced" if about is None else f"{about.name} is not reduced"
        )
        way = ("offer",) if offer.kind else ()
        return _said("unsupported", claim, f"but {message}", about, way)
    (least, low), (most, high) = cuts[0], cuts[-1]
    top = f"{kind.shown(most)} off {high.name}"
    if said > most:
        return _said("overstated", claim, f"but the most is {top}", high)
    if claim.bound == "up to":
        return _said("stale", claim, f"but by now it is {top}", high) if said != kind.floor(most) else None
    if said > least:
        without = "" if claim.bound else "without “up to”, "
        return _said("overstated", claim, f"{without}but {low.name} is {kind.shown(least)} off", low)
    if not claim.bound and about is not None and said != kind.floor(most):
        return _said("stale", claim, f"but it is {top}", high)
    return None


def _said(
    fault: Fault, claim: Claim, message: str, row: ProductRow | None = None, way: tuple[str, ...] = ()
) -> Verdict:
    return Verdict(fault, f"“{claim.words}”, {message}", way, row.place if row is not None else None)


def _shown(percent: Fraction) -> str:
    """A percent to two decimals, rounded down."""
    whole = int(percent * 100)
    return f"{whole // 100}" + (f".{whole % 100:02}" if whole % 100 else "")


def _price(claim: Claim, known: Known, about: ProductRow | None) -> Verdict | None:
    said, offer = Money(claim.value, claim.unit), known.offer
    if about is not None:
        prices = [about.price, *([about.was] if about.was is not None else [])]
        if said in prices or (about.was is not None and said == about.was - about.price):
            return None
        if claim.subject == "other":
            return Verdict("unread", f"“{claim.words}”: nothing says that it is the price of {about.name}")
        return _said("contradicts", claim, f"but {about.name} costs {about.price}", about)
    if said in (offer.least, offer.amount):
        return None
    meant = known.products if claim.subject == "open" else _meant(claim.before, known.products)
    if claim.bound == "from" and meant:
        low = min(meant, key=lambda row: row.price)
        if said < low.price:
            return _said("overstated", claim, f"but the lowest price is {low.price}, {low.name}", low)
        if said > low.price:
            return _said("stale", claim, f"but by now the lowest price is {low.price}, {low.name}", low)
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
    return _said(fault, claim, f"but {about.name} has {stock} in stock", about)


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
