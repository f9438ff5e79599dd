"""What a mail can say: facts of offer and products, named formats. Patterns are CLDR's (UTS #35)."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

import pytest

from handbill.base.cache import Cache
from handbill.resolve.context import formats
from handbill.resolve.locale import Locale


@pytest.fixture(scope="module")
def english(tmp_path_factory: pytest.TempPathFactory) -> Locale:
    return Locale.load("en-IE", Cache(tmp_path_factory.mktemp("cldr")))


@pytest.mark.parametrize(
    ("pattern", "moment", "expected"),
    [
        ("H.mm", time(7, 4), "7.04"), ("HH:mm", time(7, 4), "07:04"), ("h:mm a", time(0, 5), "12:05 am"),
        ("h.mm a", time(12, 0), "12.00 pm"),
        ("hh mm", time(13, 30), "01 30"), ("hmm a", time(23, 59), "1159 pm"),
    ],
)  # fmt: skip
def test_the_house_may_write_times_its_own_way(
    english: Locale, pattern: str, moment: time, expected: str
) -> None:
    clock = formats(english, pattern)["datetime"]["time"]
    assert clock(datetime.combine(date(2027, 1, 17), moment)) == expected


def test_named_formats_of_a_moment(english: Locale) -> None:
    known = formats(english)["datetime"]
    moment = datetime(2027, 1, 17, 23, 59)  # a Sunday
    # en-IE in CLDR 46: dates day first
    assert known["date"](moment) == known["long"](moment) == "17 January 2027"
    assert known["weekday"](moment) == "Sunday"
    assert known["month"](moment) == "January"
    assert known["time"](moment) == "23:59"


def test_claims_come_from_the_catalogue(shop: Any) -> None:
    stack = (
        "  - block: product-stack\n"
        "    title: ${offer.count} lamps, ${offer.best_percent} and ${offer.best_saving} off\n"
        "    products: [L-100, L-200]\n    button: {label: 'Save ${product.saving or \"nothing\"}'}\n"
    )
    text = shop.compile(stack).built.text.decode()
    # 80 to 40 is 50 percent and 40 euro off; L-200 is not reduced
    assert "2 lamps, 50% and €40.00 off" in text
    assert "Save €40.00: " in text
    assert "Save nothing: " in text


def test_what_is_not_reduced_makes_no_claim(shop: Any) -> None:
    stack = "  - block: product-stack\n    title: Up to ${offer.best_percent} off\n    products: [L-200]\n"
    (line,) = shop.mistakes(stack + "    button: {label: Buy}\n")
    assert "`offer.best_percent` has no value here" in line
