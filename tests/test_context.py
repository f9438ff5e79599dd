"""What a mail can say: facts of offer and products, named formats. Patterns are CLDR's (UTS #35)."""

from __future__ import annotations

import json
from datetime import date, datetime, time
from typing import Any

import pytest
from babel import Locale as Cldr

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.resolve.audiences import MOST_CONDITIONS, Shown, audiences
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


def test_a_number_is_said_in_the_form_of_its_language(shop: Any) -> None:
    """CLDR's plural rules, by Babel; the words are the shop's."""
    forms = {form: "{count} " + form for form in ("zero", "one", "two", "few", "many", "other")}
    words = {"en": {"lamps": {"one": "{count} lamp", "other": "{count} lamps"}}, "ar": {"lamps": forms}}
    shop.change("brands/pellow/brand.yaml", "legal:", f"words: {json.dumps(words)}\nlegal:")
    stack = "  - {block: copy, copy: 'Only ${offer.count:lamps}.'}\n"
    (line,) = shop.mistakes(stack.replace("lamps", "lmaps") + strip("L-100"))
    assert "one of lamps, plain" in line
    assert "nearest: lamps" in line
    for products, said in ((["L-100"], "Only 1 lamp."), (["L-100", "L-200"], "Only 2 lamps.")):
        assert said in shop.compile(stack + strip(*products)).built.text.decode()
    arabic = Locale.load("ar", None)
    say = formats(arabic, None, {"lamps": forms})["number"]["lamps"]
    for number in (0, 1, 2, 3, 10, 11, 99, 100, 102, 103, 1000):
        form = Cldr("ar").plural_form(number)
        assert say(number) == f"{arabic.number(number)} {form}"
        assert say(str(number)) == say(number)
    with pytest.raises(Fault, match="few is no whole number"):
        say("few")


CLAIM = (
    "  - block: copy\n    copy: Up to ${offer.best_percent}, ${offer.best_saving} less, from "
    "${offer.lowest_price}, ${offer.count} lamps.\n"
)


def strip(*products: str, **more: str) -> str:
    lines = [f"    {key}: {value}\n" for key, value in more.items()]
    return f"  - block: product-stack\n    products: [{', '.join(products)}]\n" + (
        "    button: {label: Buy}\n" + "".join(lines)
    )


def test_a_claim_holds_for_the_recipients_who_see_least(shop: Any) -> None:
    """UCPD 2005/29/EC article 6: a claim must not deceive whoever reads it, so not those who get less."""
    shop.change("brands/pellow/products.csv", "L-200", "L-300,Jay,lamp,90,100,,,,/lamps/jay,\nL-200")
    shop.change("brands/pellow/products.csv", "L-200", "L-400,Teal,lamp,30,100,,,,/lamps/teal,\nL-200")
    for stack, said in (
        (strip("L-300") + strip("L-100", when="recipient.vip"), "10%, €10.00 less, from €90.00, 1 lamps"),
        (
            strip("L-300", when="recipient.vip", otherwise="{products: [L-100]}"),
            "10%, €10.00 less, from €90.00, 1 lamps",
        ),
        (  # two fields, each in its own right: nobody is left with less than L-100
            strip("L-400", when="recipient.vip", otherwise="{products: [L-100]}")
            + strip("L-400", when="recipient.ref"),
            "50%, €40.00 less, from €40.00, 1 lamps",
        ),
        (  # the same product by two ways is one product
            strip("L-100", when="recipient.vip", otherwise="{products: [L-100, L-300]}"),
            "50%, €40.00 less, from €40.00, 1 lamps",
        ),
    ):
        assert f"Up to {said}" in shop.compile(CLAIM + stack).built.text.decode()


def test_what_some_are_not_shown_is_claimed_to_nobody(shop: Any) -> None:
    stack = strip("L-200") + strip("L-100", when="recipient.vip")
    lines = shop.mistakes("  - block: copy\n    copy: ${offer.best_percent} off\n" + stack)
    assert [line.split("; expected")[0].split(": ", 1)[1] for line in lines] == [
        "stack[0] copy, copy: `offer.best_percent` has no value here: "
        "some recipients are shown no product that is reduced by a whole percent"
    ]
    (line,) = shop.mistakes(
        "  - block: copy\n    copy: From ${offer.lowest_price}\n" + strip("L-100", when="recipient.vip")
    )
    assert "some recipients are shown no product;" in line


def test_conditions_beyond_what_is_told_apart_count_for_nobody() -> None:
    class Row:
        def __init__(self, sku: str) -> None:
            self.sku = sku

    stack = [Shown(None, (Row("A"),))]
    stack += [Shown(f"recipient.f{n}", (Row(f"B{n}"),), (Row(f"C{n}"),)) for n in range(MOST_CONDITIONS + 2)]
    kinds = audiences(stack)
    assert len(kinds) == 2**MOST_CONDITIONS
    assert {len(rows) for rows in kinds} == {1 + MOST_CONDITIONS}
    assert audiences(()) == ((),)
