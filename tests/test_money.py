"""Money: ISO 4217's table, what counts as a price, exact arithmetic."""

from __future__ import annotations

from datetime import date
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, Decimal

import pytest
from babel import Locale as BabelLocale
from babel.numbers import get_territory_currencies
from hypothesis import given
from hypothesis import strategies as st

from handbill.base.errors import Fault
from handbill.base.money import MINOR_UNITS, Money, minor_units, parse_money


def euro(text: str) -> Money:
    return Money(Decimal(text), "EUR")


# M01: ISO 4217 list one.
@pytest.mark.parametrize(
    ("digits", "codes"),
    [
        (0, "JPY KRW VND CLP ISK UGX XAF PYG"),
        (2, "USD EUR CHF HUF TWD IDR"),
        (3, "KWD BHD OMR JOD TND LYD IQD"),
        (4, "CLF UYW"),
    ],
)
def test_minor_units_are_those_of_iso_4217(digits: int, codes: str) -> None:
    assert {code: minor_units(code) for code in codes.split()} == dict.fromkeys(codes.split(), digits)


def test_every_legal_tender_is_in_the_table() -> None:
    # CLDR supplementalData, currencyData, by way of Babel: what is tender anywhere in February 2026.
    tender = {
        code
        for territory in map(str, BabelLocale("en").territories)
        if len(territory) == 2
        for code in get_territory_currencies(territory, date(2026, 2, 1), date(2026, 2, 1))
    }
    # Bulgaria has the euro and Curaçao the Caribbean guilder (XCG) since: CLDR 47 does not know of the first.
    assert tender - set(MINOR_UNITS) <= {"BGN", "ANG", "CUC"}
    assert len(tender) > 140


@pytest.mark.parametrize("code", ["XAU", "XDR", "XXX", "DEM", "BGN", "HRK", "", "€", "12"])
def test_a_code_without_minor_units_is_refused(code: str) -> None:
    with pytest.raises(Fault):
        minor_units(code)


def test_a_mistyped_currency_has_a_nearest_one() -> None:
    for typed, meant in [("eur", "EUR"), ("GPB", "GBP"), ("USD ", "USD"), ("UDS", "USD")]:
        with pytest.raises(Fault) as caught:
            minor_units(typed)
        assert caught.value.nearest == meant


@pytest.mark.parametrize(
    ("text", "currency", "amount"),
    [
        ("9.90", "EUR", "9.90"),
        ("45", "EUR", "45"),
        ("45.5", "EUR", "45.5"),
        ("0", "EUR", "0"),
        ("0.01", "EUR", "0.01"),
        (" 12.00 ", "USD", "12.00"),
        ("EUR 9.90", "EUR", "9.90"),
        ("9.90 EUR", "EUR", "9.90"),
        ("1290", "JPY", "1290"),
        ("1.234", "KWD", "1.234"),
        ("1.2345", "CLF", "1.2345"),
        ("999999999999999.99", "EUR", "999999999999999.99"),
    ],
)
def test_plain_prices(text: str, currency: str, amount: str) -> None:
    assert parse_money(text, currency) == Money(Decimal(amount), currency)


@pytest.mark.parametrize(
    "text",
    [
        *[
            "",
            " ",
            "9,90",
            "1,234.50",
            "1.234,50",
            "1 234",
            "1\xa0234",
            "1'234",
            "9.900",
            "9.9000000000000004",
        ],
        *["-1", "+1", "-0", "1e3", "1E3", ".5", "5.", "05", "00", "0x1", "1_000", "NaN", "nan", "Infinity"],
        *["€9.90", "9.90€", "€ 9.90", "$9.90", "USD 9.90", "9.90 USD", "eur 9.90", "EUR", "EUR 9.90 EUR"],
        *["٩", "９", "½", "9.90\n9", "free", "9.90.1", "1000000000000000"],
    ],
)
def test_what_could_be_read_as_another_amount_is_refused(text: str) -> None:
    with pytest.raises(Fault):
        parse_money(text, "EUR")


@pytest.mark.parametrize(
    ("text", "currency", "meant"),
    [
        ("9,90", "EUR", "9.90"),
        ("1,234.50", "EUR", "1234.50"),
        ("1.234,50", "EUR", "1234.50"),
        ("1 234,50", "EUR", "1234.50"),
        ("1'234", "CHF", "1234"),
        ("1,234,567", "JPY", "1234567"),
        ("1,234", "KWD", ""),  # 1.234 or 1234: nobody knows
        ("soon", "EUR", ""),
    ],
)
def test_a_grouped_price_has_its_plain_spelling_where_only_one_is_meant(
    text: str, currency: str, meant: str
) -> None:
    with pytest.raises(Fault) as caught:
        parse_money(text, currency)
    assert caught.value.nearest == meant


def test_too_many_decimals_name_the_currency() -> None:
    with pytest.raises(Fault, match="1 decimals, JPY has 0"):
        parse_money("9.9", "JPY")
    with pytest.raises(Fault, match="3 decimals, EUR has 2"):
        parse_money("1.234", "EUR")


@given(st.integers(0, 10**17 - 1), st.sampled_from(["JPY", "EUR", "KWD", "CLF"]))
def test_what_money_writes_is_read_back(units: int, currency: str) -> None:
    digits = minor_units(currency)
    money = Money(Decimal(units % 10 ** (15 + digits)).scaleb(-digits), currency)
    assert parse_money(str(money), currency) == money
    assert parse_money(f"{money.amount:f}", currency) == money


@given(st.text(max_size=12))
def test_any_text_is_a_price_or_a_fault(text: str) -> None:
    try:
        money = parse_money(text, "EUR")
    except Fault:
        return
    assert money.amount >= 0


@given(st.integers(0, 10**12), st.integers(0, 10**12))
def test_differences_are_exact(first: int, second: int) -> None:
    difference = Money(Decimal(first).scaleb(-2), "EUR") - Money(Decimal(second).scaleb(-2), "EUR")
    assert difference.amount * 100 == first - second


# M24: IEEE 754 binary floating point, and decimal beside it.
def test_floats_are_forbidden_because_they_lie() -> None:
    assert round(2.675, 2) == 2.67
    assert 89.99 - 35.99 != 54.00
    assert int(1.15 * 100) == 114
    assert (euro("89.99") - euro("35.99")).amount == Decimal("54.00")
    assert euro("2.675").rounded() == euro("2.68")
    assert euro("1.005").rounded() == euro("1.01")
    with pytest.raises(TypeError):
        Money(9.9, "EUR")  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        parse_money(9.9, "EUR")  # type: ignore[arg-type]


# M21: exact arithmetic.
def test_half_a_cent_in_each_rounding() -> None:
    half = euro("0.625")
    assert half.rounded() == euro("0.63")
    assert half.rounded(ROUND_HALF_EVEN) == half.rounded(ROUND_DOWN) == euro("0.62")
    assert Money(Decimal("1234.5"), "JPY").rounded() == Money(Decimal(1235), "JPY")


def test_one_currency_compares_and_two_do_not() -> None:
    assert euro("9.90") < euro("10") <= euro("10.00") < euro("10.01")
    assert euro("9.9") == euro("9.90")
    assert hash(euro("9.9")) == hash(euro("9.90"))
    assert euro("9.90") != Money(Decimal("9.90"), "USD")
    yen = Money(Decimal(9), "JPY")
    for mixed in (lambda: yen < euro("9"), lambda: yen >= euro("9"), lambda: yen - euro("9")):
        with pytest.raises(Fault, match="two currencies"):
            mixed()


@pytest.mark.parametrize("amount", ["NaN", "Infinity", "-Infinity", "1e15", "1e-13"])
def test_amounts_have_bounds(amount: str) -> None:
    with pytest.raises(Fault):
        euro(amount)
