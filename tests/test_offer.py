"""Claims about prices: exact, and never larger than the truth. Rows M16-M24: exact arithmetic."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handbill.base.errors import Fault
from handbill.base.money import Money, minor_units
from handbill.resolve.offer import best_percent, lowest, percent_off, price_after, saving, stack


def euro(text: str) -> Money:
    return Money(Decimal(text), "EUR")


@st.composite
def price(draw: st.DrawFn, currency: str = "") -> Money:
    code = currency or draw(st.sampled_from(["JPY", "EUR", "KWD", "CLF"]))
    return Money(Decimal(draw(st.integers(1, 10**9))).scaleb(-minor_units(code)), code)


@pytest.mark.parametrize(
    ("was", "now", "percent"),
    [
        ("89.99", "35.99", 60),  # M16: 60.0067 %
        ("89.99", "36.00", 59),  # M17: 59.9956 %, nearest would say 60
        ("79.99", "40.00", 49),  # 49.9937 %
        ("50.00", "25.01", 49),  # 49.98 %
        ("59.99", "30.00", 49),  # 49.9917 %
        ("29.99", "19.99", 33),  # M18
        ("99.99", "66.99", 33),
        ("24.99", "19.99", 20),
        ("39.95", "19.95", 50),
        ("30.00", "20.00", 33),  # M23: three for two, all three at once
        ("20.00", "15.00", 25),  # M23: the second at half price
        ("100", "99.01", 0),
        ("9.90", "0", 100),
    ],
)
def test_percent_off_is_floored(was: str, now: str, percent: int) -> None:
    assert percent_off(euro(was), euro(now)) == percent


def test_saving_is_exact() -> None:
    assert saving(euro("89.99"), euro("35.99")) == euro("54.00")  # M16, M24: 53.99999999999999 in binary


@pytest.mark.parametrize(
    ("was", "percent", "now"),
    [
        ("89.99", 60, "35.99"),  # M19: 35.996 down, since 36.00 is only 59.9956 % off
        ("34.95", 15, "29.70"),  # 29.7075
        ("12.50", 33, "8.37"),  # 8.375
        ("1.25", 50, "0.62"),  # M21: 0.625 down, half up would be 0.63
        ("0.01", 1, "0.00"),
        ("10", 100, "0"),
    ],
)
def test_a_reduced_price_keeps_its_claim(was: str, percent: int, now: str) -> None:
    assert price_after(euro(was), percent) == euro(now)


def test_a_reduced_price_has_the_decimals_of_its_currency() -> None:
    assert str(price_after(Money(Decimal(1999), "JPY"), 15)) == "JPY 1699"  # 1699.15
    assert str(price_after(Money(Decimal("1.999"), "KWD"), 15)) == "KWD 1.699"
    assert str(price_after(euro("10"), 50)) == "EUR 5.00"


# M22.
@pytest.mark.parametrize(
    ("percents", "total"),
    [([20, 10], 28), ([30, 20], 44), ([50, 50], 75), ([25], 25), ([], 0), ([100, 5], 100)],
)
def test_percents_one_after_the_other(percents: list[int], total: int) -> None:
    assert stack(percents) == Fraction(total, 100)


# M20.
def test_up_to_and_from() -> None:
    shelf = [(euro("79.99"), euro("40.00")), (euro("50"), euro("25.01")), (euro("20"), euro("20"))]
    assert best_percent(shelf) == 49  # 49.9937 and 49.98: no item is 50 % off
    assert best_percent([*shelf, (euro("20"), euro("10"))]) == 50
    assert best_percent([(euro("10"), euro("12")), (euro("10"), euro("9"))]) == 10
    assert lowest(now for _, now in shelf) == euro("20")


@pytest.mark.parametrize("pairs", [[], [("20", "20")], [("20", "21")], [("100", "99.50")]])
def test_up_to_nothing_is_refused(pairs: list[tuple[str, str]]) -> None:
    with pytest.raises(Fault, match="no product is reduced"):
        best_percent((euro(was), euro(now)) for was, now in pairs)


@pytest.mark.parametrize("claim", [percent_off, saving])
@pytest.mark.parametrize(
    ("was", "now"),
    [
        (euro("10"), euro("10.00")),
        (euro("10"), euro("10.01")),
        (euro("0"), euro("0")),
        (euro("-10"), euro("-20")),
        (euro("10"), euro("-1")),
        (euro("10"), Money(Decimal(9), "USD")),
    ],
)
def test_what_is_no_reduction_is_refused(claim: object, was: Money, now: Money) -> None:
    assert callable(claim)
    with pytest.raises(Fault):
        claim(was, now)


def test_other_refusals() -> None:
    for percent in (0, -5, 101):
        with pytest.raises(Fault, match="not a reduction"):
            price_after(euro("10"), percent)
    for percent in (-1, 101):
        with pytest.raises(Fault, match="cannot be taken off"):
            stack([20, percent])
    with pytest.raises(Fault, match="leaves nothing to reduce"):
        price_after(euro("0"), 20)
    with pytest.raises(Fault, match="no price"):
        lowest([])
    with pytest.raises(Fault, match="two currencies"):
        lowest([euro("10"), Money(Decimal(9), "USD")])
    with pytest.raises(Fault, match="two currencies"):
        best_percent([(euro("10"), euro("5")), (euro("10"), Money(Decimal(9), "USD"))])


@given(price("EUR"), price("EUR"))
def test_a_claimed_percent_is_never_above_the_true_one(first: Money, second: Money) -> None:
    was, now = max(first, second), min(first, second)
    if was == now:
        return
    claimed = percent_off(was, now)
    true = Fraction((was - now).amount) / Fraction(was.amount) * 100
    assert claimed <= true < claimed + 1
    assert best_percent([(was, now), (was, was)]) == claimed if claimed else True
    assert saving(was, now).amount + now.amount == was.amount


@given(price(), st.integers(1, 100))
def test_a_reduced_price_always_carries_the_claim(was: Money, percent: int) -> None:
    now = price_after(was, percent)
    assert percent_off(was, now) >= percent
    # and it is the highest price that does
    unit = Decimal(1).scaleb(-minor_units(was.currency))
    dearer = Money(now.amount + unit, was.currency)
    assert dearer >= was or (was - dearer).amount * 100 < percent * was.amount
    assert now == now.rounded()


@given(price("EUR"), st.lists(st.integers(0, 99), max_size=4))
def test_stacking_is_what_paying_step_by_step_gives(was: Money, percents: list[int]) -> None:
    left = Fraction(was.amount)
    for percent in percents:
        left -= left * percent / 100
    assert Fraction(was.amount) * (1 - stack(percents)) == left
    assert stack(percents) <= Fraction(sum(percents), 100)
