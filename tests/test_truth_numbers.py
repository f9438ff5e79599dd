"""Numbers and dates in running text, written by Babel (CLDR) in many locales and read back.

Sources: CLDR through PyPI's Babel; check rows M03 to M15 for the pairs that are named; UTS 35 parts 3 and 4.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from functools import cache

import pytest
from babel import Locale as BabelLocale
from babel.dates import format_date
from babel.numbers import format_currency, format_percent
from hypothesis import given, settings
from hypothesis import strategies as st

from handbill.base.money import Money, minor_units
from handbill.resolve.locale import Locale
from handbill.truth.days import days
from handbill.truth.numbers import Reader, normal

TAGS = (
    "en-GB", "en-US", "en-IN", "de-DE", "de-AT", "de-CH", "fr-FR", "fr-CA", "fr-CH", "es-ES", "es-MX",
    "pt-BR", "pt-PT", "it-IT", "nl-NL", "sv-SE", "da-DK", "nb-NO", "fi-FI", "pl-PL", "cs-CZ", "hu-HU",
    "tr-TR", "eu-ES", "ru-RU", "uk-UA", "el-GR", "he", "ar-EG", "fa-IR", "hi-IN", "bn-BD", "th-TH", "ja",
    "ko-KR", "zh-CN", "vi-VN", "id-ID", "et-EE", "lv-LV", "lt-LT", "ro-RO", "bg-BG", "hr-HR", "sl-SI",
    "mr-IN",
)  # fmt: skip
CURRENCIES = ("EUR", "GBP", "USD", "JPY", "CHF", "SEK", "INR", "PLN", "KWD")


@cache
def locale(tag: str) -> Locale:
    return Locale.load(tag, None)


def babel(tag: str) -> BabelLocale:
    return BabelLocale.parse(tag.replace("-", "_"))


def amounts(text: str, tag: str, currency: str) -> list[tuple[Decimal, str]]:
    return [(one.value, one.unit) for one in Reader(locale(tag), currency).amounts(normal(text))]


def percents(text: str, tag: str) -> list[Decimal]:
    return [one.value for one in Reader(locale(tag), "EUR").percents(normal(text))]


@settings(max_examples=400, deadline=None, derandomize=True)
@given(tag=st.sampled_from(TAGS), currency=st.sampled_from(CURRENCIES), units=st.integers(1, 99_999_999))
def test_a_price_that_babel_writes_is_read_back(tag: str, currency: str, units: int) -> None:
    amount = Decimal(units).scaleb(-minor_units(currency))
    for system in ("default", "latn"):
        if system == "latn" and locale(tag).patterns.digits and tag not in ("hi-IN", "bn-BD", "mr-IN"):
            continue  # Latin digits in Arabic script take marks that Babel mixes with the script's own
        written = format_currency(amount, currency, locale=babel(tag), numbering_system=system)
        assert amounts(f"{written}!", tag, currency) == [(amount, currency)], written
    own = locale(tag).money(Money(amount, currency))
    assert amounts(f"({own})", tag, currency) == [(amount, currency)], own


@settings(max_examples=200, deadline=None, derandomize=True)
@given(tag=st.sampled_from(TAGS), value=st.integers(1, 100))
def test_a_percent_that_babel_writes_is_read_back(tag: str, value: int) -> None:
    written = format_percent(Decimal(value) / 100, locale=babel(tag), numbering_system="default")
    assert percents(written, tag) == [value], written
    assert percents(locale(tag).percent(value), tag) == [value]


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    tag=st.sampled_from([tag for tag in TAGS if tag not in ("fa-IR", "th-TH", "ar-EG")]),
    day=st.dates(date(2010, 1, 1), date(2049, 12, 31)),
    style=st.sampled_from(("full", "long", "medium", "short")),
)
def test_a_date_that_babel_writes_is_read_back(tag: str, day: date, style: str) -> None:
    written = format_date(day, style, locale=babel(tag))  # type: ignore[arg-type]
    found = list(days(normal(written), locale(tag)))
    assert [one.fits(day) for one in found] == [True], (written, found)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(tag=st.sampled_from(TAGS), day=st.dates(date(2010, 1, 1), date(2049, 12, 31)))
def test_a_day_without_its_year_is_read_back(tag: str, day: date) -> None:
    found = list(days(normal(locale(tag).day(day)), locale(tag)))
    assert [(one.month, one.day, one.year) for one in found] == [(day.month, day.day, None)]


@pytest.mark.parametrize(
    ("written", "tag", "value", "code"),
    [
        ("$1,234.50", "en-US", "1234.50", "USD"),  # M03
        ("1.234,50\u00a0€", "de-DE", "1234.50", "EUR"),  # M04
        ("1\u202f234,50\u00a0€", "fr-FR", "1234.50", "EUR"),  # M05
        ("￥1,234", "ja", "1234", "JPY"),  # M06
        ("1\u00a0234,50\u00a0$", "fr-CA", "1234.50", "CAD"),  # M07
        ("CHF\u00a01’234.50", "de-CH", "1234.50", "CHF"),  # M08
        ("CHF\u00a01'234.50", "de-CH", "1234.50", "CHF"),  # M08, as ICU has it
        ("R$\u00a01.234,50", "pt-BR", "1234.50", "BRL"),  # M10
        ("₹12,34,567.80", "en-IN", "1234567.80", "INR"),  # M10
        ("1234,50\u00a0€", "es-ES", "1234.50", "EUR"),  # M11
        ("KWD\u00a01.235", "en", "1.235", "KWD"),  # M12
        ("45,– €", "de-DE", "45", "EUR"),  # German price dash (common practice)
        ("€ 45", "de-DE", "45", "EUR"),  # the sign first, as people write it too (common practice)
    ],
)
def test_prices_as_they_are_written(written: str, tag: str, value: str, code: str) -> None:
    assert amounts(f"Only {written} today", tag, code) == [(Decimal(value), code)]


@pytest.mark.parametrize(
    ("written", "tag"),
    [
        ("25%", "en"),
        ("25\u00a0%", "de"),
        ("25 %", "fr"),
        ("%25", "tr"),
        ("%\u00a025", "eu"),
        ("٢٥٪", "ar-EG"),
    ],
)
def test_percents_as_they_are_written(written: str, tag: str) -> None:
    """M14; Arabic digits and sign: CLDR, ar-EG."""
    assert percents(f"– {written} –", tag) == [25]


@pytest.mark.parametrize(
    ("text", "tag"),
    [
        ("2025-11-28", "ja"), ("November 28, 2025", "en-US"), ("28 November 2025", "en-GB"),
        ("28. November 2025", "de"), ("28 de noviembre de 2025", "es"), ("2025年11月28日", "ja"),
        ("28th of November 2025", "en-GB"), ("Nov 28", "en-US"), ("28. Nov.", "de"),
    ],
)  # fmt: skip
def test_dates_as_they_are_written(text: str, tag: str) -> None:
    """M15; ordinals and short forms: common practice."""
    (found,) = days(normal(f"Until {text}, no longer"), locale(tag))
    assert found.fits(date(2025, 11, 28))


@pytest.mark.parametrize(
    "text",
    ["open 24/7", "30 cm", "1.5 l", "model K-210", "4 Tin Lane", "in 2027", "5.10 still dark", "18:00"],
)
def test_other_numbers_are_neither_price_nor_percent_nor_date(text: str) -> None:
    for tag in ("en-GB", "en-US", "de-DE"):
        assert amounts(text, tag, "EUR") == []
        assert percents(text, tag) == []
        assert list(days(normal(text), locale(tag))) == []
