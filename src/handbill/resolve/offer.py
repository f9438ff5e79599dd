"""What a price claim says, computed exactly. Enters: was- and now-prices; leaves: percents, savings, prices.

No claim made here is larger than the truth: percents are floored, reduced prices rounded down. Whether a
was-price may be quoted at all is another question, and the local law on prior prices decides it (in the EU,
for one, the lowest price of the 30 days before: Directive 98/6/EC, article 6a). Nothing here checks that.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from handbill.base.errors import Fault
from handbill.base.money import Money, minor_units


def percent_off(was: Money, now: Money) -> int:
    """Whole percent of `was` that is saved, floored: 89.99 to 36.00 is 59, since 60 would overstate 59.9956.

    The claim "N % off" says that the buyer pays at least N % less than `was`. The result is 0 for a
    reduction below 1 %, which is no claim worth making. Raises `Fault` where `now` is not a reduction.
    """
    _check_reduction(was, now)
    return _floored(was, now)


def saving(was: Money, now: Money) -> Money:
    """The amount saved, exact; raises `Fault` where `now` is not a reduction of `was`.

    The claim "save X" compares with `was`: the local law on prior prices decides what may stand there.
    """
    _check_reduction(was, now)
    return was - now


def best_percent(pairs: Iterable[tuple[Money, Money]]) -> int:
    """N of "up to N % off" for (was, now) pairs: the largest floored percent among them.

    The claim says that at least one item on offer has N % off; local law may ask for more than one (a
    "significant proportion" of the range). Items not reduced are passed over; raises `Fault` when no item
    is reduced by 1 % or more.
    """
    best = 0
    for was, now in pairs:
        _check_prices(was, now)
        if now < was:
            best = max(best, _floored(was, now))
    if best == 0:
        raise Fault(
            'no product is reduced, so "up to N % off" has no N', expected="a product reduced by 1 % or more"
        )
    return best


def price_after(was: Money, percent: int) -> Money:
    """`was` less `percent` % (1 to 100), rounded down to the minor unit so that the claim holds.

    60 % off 89.99 is 35.996: at 36.00 only 59.9956 % is off, at 35.99 the claim is true. Raises `Fault`
    for a percent out of range and for a `was` of nothing.
    """
    if not 1 <= percent <= 100:
        raise Fault(f"{percent} % is not a reduction", expected="1 to 100")
    _check_prices(was, was)
    digits = minor_units(was.currency)
    units = Fraction(was.amount) * 10**digits * (100 - percent) // 100
    return Money(Decimal(units).scaleb(-digits), was.currency)


def stack(percents: Iterable[int]) -> Fraction:
    """The fraction (0 to 1) taken off by `percents` (each 0 to 100) one after the other.

    20 % and then 10 % off the reduced price are 28 %, not 30 %: adding them up would overstate.
    Raises `Fault` for a percent out of range.
    """
    left = Fraction(1)
    for percent in percents:
        if not 0 <= percent <= 100:
            raise Fault(f"{percent} % cannot be taken off", expected="0 to 100")
        left *= Fraction(100 - percent, 100)
    return 1 - left


def lowest(prices: Iterable[Money]) -> Money:
    """The X of "from X": the lowest of `prices`, at which at least one item must really be on sale.

    Raises `Fault` for no prices and for mixed currencies.
    """
    known = list(prices)
    if not known:
        raise Fault('no product, so "from" has no price', expected="at least one price")
    return min(known)


def _floored(was: Money, now: Money) -> int:
    before = Fraction(was.amount)
    return int((before - Fraction(now.amount)) * 100 // before)


def _check_reduction(was: Money, now: Money) -> None:
    _check_prices(was, now)
    if now == was:
        raise Fault(f"{now} is the same as before, not a reduction", expected=f"less than {was}")
    if now > was:
        raise Fault(f"{now} is more than {was}, not a reduction", expected=f"less than {was}")


def _check_prices(was: Money, now: Money) -> None:
    if was.amount <= 0:
        raise Fault(f"a was-price of {was} leaves nothing to reduce", expected="more than 0")
    if now.currency != was.currency:
        raise Fault(f"was {was}, now {now}: two currencies", expected=f"both in {was.currency}")
    if now.amount < 0:
        raise Fault(f"a now-price of {now} is below nothing", expected="0 or more")
