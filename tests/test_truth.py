"""Claims found in words, held against products, offers and price histories.

Sources: rows of the published values named beside each case (law L04 to L16, money M16 to M20).
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from tests.breaking import DEMO, campaign, workspace

from handbill.base.errors import Fault, MistakesError, Place
from handbill.base.money import Money
from handbill.catalogue.rows import ProductRow
from handbill.cli.main import cli
from handbill.resolve.locale import Locale
from handbill.resolve.quote import check_quote
from handbill.truth.claims import Finder
from handbill.truth.history import prior, read, reduced_on
from handbill.truth.judge import Known, Offer, judge

SEND = datetime(2027, 2, 25, 18)
ENDS = datetime(2027, 2, 28, 7, 4)
SALE = Offer("markdown", starts=datetime(2027, 2, 1), ends=ENDS)
CODE = Offer("code", percent=15, code="FIRSTLIGHT")


def row(sku: str, price: str, was: str = "", stock: str = "") -> ProductRow:
    before = Money(Decimal(was), "EUR") if was else None
    return ProductRow(
        sku, f"Name {sku}", "", Money(Decimal(price), "EUR"), before, None, None, (), "", "", "/", "", stock,
        Place("products.csv", 2),
    )  # fmt: skip


SHELF = (row("A", "45", "89"), row("B", "36.00", "89.99"), row("C", "16", "40", "14"))  # 49.4, 59.9956, 60 %


@cache
def finder(tag: str) -> Finder:
    return Finder(Locale.load(tag, None), "EUR")


def faults(
    text: str,
    tag: str = "en-GB",
    offer: Offer = SALE,
    products: tuple[ProductRow, ...] = SHELF,
    about: Any = None,
) -> list[str]:
    known = Known(products, offer, SEND, "EUR")
    verdicts = [judge(claim, known, about) for claim in finder(tag).claims(text)]
    return ["holds" if one is None else one.fault for one in verdicts]


@pytest.mark.parametrize(
    ("text", "tag", "expected"),
    [
        # L04: a "50 % off" subject needs a 50 % item; M20: "up to N" is at most the largest floored percent
        ("Up to 60% off", "en-GB", "holds"),
        ("Up to 61% off", "en-GB", "overstated"),
        ("Up to 50% off", "en-GB", "stale"),
        ("Save up to 70 %", "en-GB", "overstated"),
        ("50% off everything", "en-GB", "overstated"),  # A is at 49.4 %
        ("49% off everything", "en-GB", "holds"),
        ("From 50% off", "en-GB", "overstated"),
        ("sixty per cent off", "en-GB", "overstated"),  # not all of them
        ("−49 % on the shelf", "en-GB", "holds"),
        ("Half price", "en-GB", "overstated"),  # M17: 89 to 45 is no half price
        ("Bis zu 60 % Rabatt", "de-DE", "holds"),
        ("Bis zu 70 % günstiger", "de-DE", "overstated"),
        ("Zum halben Preis", "de-DE", "overstated"),
        ("Bis zu siebzig Prozent sparen", "de-DE", "overstated"),
        ("Jusqu’à -70 %", "fr-FR", "overstated"),  # a minus says it in any language
        ("%70", "tr-TR", "unread"),
        ("From €16", "en-GB", "holds"),
        ("from €9.99", "en-GB", "overstated"),
        ("Ab 20 €", "de-DE", "stale"),
        ("Save €60", "en-GB", "overstated"),
        ("Save up to €53.99", "en-GB", "holds"),  # M16, M17: 89.99 to 36.00
        ("Ends 28 February", "en-GB", "holds"),
        ("until 27 February 2027", "en-GB", "contradicts"),
        ("Ends 3 March", "en-GB", "contradicts"),
        ("Ends 3 January", "en-GB", "stale"),
        ("Endet am 28. Februar", "de-DE", "holds"),
        ("nur noch bis zum 1. März", "de-DE", "contradicts"),
        ("Ends on Sunday", "en-GB", "holds"),  # 28 February 2027 is a Sunday
        ("Ends on Saturday", "en-GB", "contradicts"),
        ("Ends tonight", "en-GB", "contradicts"),
        ("Last days", "en-GB", "holds"),
        ("The final hours", "en-GB", "contradicts"),
        ("Use code SAVE20", "en-GB", "unsupported"),
        ("free delivery", "en-GB", "unread"),
        ("1% of every lamp", "en-GB", "unread"),
        ("from 3,180 reviews", "en-GB", "unread"),
        ("€50 delivery", "en-GB", "unread"),
        ("$20 off", "en-GB", "unread"),
        ("RRP €120", "en-GB", "holds"),
    ],
)
def test_a_claim_is_held_against_the_sale(text: str, tag: str, expected: str) -> None:
    assert sorted(faults(text, tag)) == sorted(expected.split())


@pytest.mark.parametrize(
    ("text", "tag"),
    [
        ("100 % wool", "en-GB"), ("80 % cotton, 20 % linen", "en-GB"), ("30 % less plastic", "en-GB"),
        ("100 % Wolle", "de-DE"), ("30 % weniger Plastik", "de-DE"), ("open 24/7", "en-GB"),
        ("30 cm across, 1.5 l", "en-GB"), ("Model K-210, size 42", "en-GB"), ("4 Tin Lane", "en-GB"),
        ("Made since 1987", "en-GB"), ("5.10 still dark", "en-GB"), ("18:00", "de-DE"), ("7/11", "en-US"),
        ("Feel free to ask", "en-GB"), ("a lead-free glaze", "en-GB"), ("No last chance here", "en-GB"),
        ("He wrote from Bergen", "en-GB"), ("Drei Töpfe, ab in den Garten", "de-DE"),
        ("Sixty days to return", "en-GB"),
        ("Morse code works", "en-GB"), ("the code is open", "en-GB"), ("worth the walk", "en-GB"),
    ],
)  # fmt: skip
def test_other_words_and_numbers_are_no_claims(text: str, tag: str) -> None:
    assert faults(text, tag) == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("15% off your first lamp", "holds"),
        ("fifteen per cent off", "holds"),
        ("20% off your first lamp", "contradicts"),
        ("10% off", "contradicts"),
        ("with code FIRSTLIGHT", "holds"),
        ("Use the code FIRSTLITE", "contradicts"),
        ("ends 3 March", "unsupported"),  # L10: limited needs an end
        ("reviews up to 31 January", ""),
        ("that we hold until 31 January", "unread"),
    ],
)
def test_a_claim_is_held_against_the_code(text: str, expected: str) -> None:
    assert faults(text, offer=CODE, products=()) == expected.split()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("only 14 left", "holds"), ("only three left", "overstated"), ("only 20 left", "stale"),
        ("now €16", "holds"), ("was €40", "holds"), ("now €15", "contradicts"), ("60% off", "holds"),
        ("61% off", "overstated"), ("save €24", "holds"), ("save €25", "overstated"), ("half price", "stale"),
    ],
)  # fmt: skip
def test_a_claim_is_held_against_its_product(text: str, expected: str) -> None:
    assert faults(text, about=SHELF[2]) == [expected]


def test_without_reductions_a_percent_is_unsupported() -> None:
    assert faults("20% off", offer=Offer(), products=(row("A", "20"),)) == ["unsupported"]


def test_an_offer_that_ends_at_midnight_ends_with_the_day_before() -> None:
    midnight = Offer("markdown", ends=datetime(2027, 2, 28))
    assert faults("Ends 27 February", offer=midnight) == ["holds"]
    assert faults("Ends tomorrow", offer=Offer("markdown", ends=datetime(2027, 2, 26, 23))) == ["holds"]


def test_the_shops_own_words() -> None:
    own = {"fr": {"off": ["de remise"], "up_to": ["jusqu’à"]}, "ja": {"off": ["引き"], "up_to": ["最大"]}}
    for tag, text in (("fr-FR", "Jusqu’à 70 % de remise"), ("ja", "最大70%引き")):
        (claim,) = Finder(Locale.load(tag, None), "EUR", own).claims(text)
        assert (claim.kind, claim.value, claim.bound) == ("percent", 70, "up to")
    (day,) = Finder(Locale.load("ja", None), "JPY", {"ja": {"ends": ["終わりは"]}}).claims(
        "終わりは2月28日です"
    )
    assert (day.kind, str(day.day)) == ("ends", "-----02-28")
    (plain,) = Finder(Locale.load("fr-FR", None), "EUR", {"fr": {"off": ["(.*"]}}).claims("70 % (.*")
    assert plain.kind == "percent"  # words are never patterns


# -- prior prices


def history(*rows: str) -> Any:
    return read(("sku,from,price\n" + "\n".join(rows) + "\n").encode(), "prices.csv", "EUR")


@pytest.mark.parametrize(
    ("rows", "start", "lowest"),
    [
        # L14: 50 % off, lowest of 30 days 20, last price 40: the prior price is 20
        (["A,2026-01-01,20", "A,2026-02-20,40"], date(2026, 3, 1), "20"),
        # L15, C-330/23: last 1.69, now 1.29, lowest of 30 days 1.29: no reduction at all
        (["A,2024-01-01,1.29", "A,2024-01-20,1.69", "A,2024-02-01,1.29"], date(2024, 2, 1), "1.29"),
        # L16: lowest 100, last 160
        (["A,2026-01-01,100", "A,2026-02-10,160"], date(2026, 3, 1), "100"),
        # L13: what ended more than 30 days before does not count; 30 days before 31 March is 1 March
        (["A,2026-01-01,20", "A,2026-03-01,40"], date(2026, 3, 31), "40"),
        (["A,2026-01-01,20", "A,2026-03-02,40"], date(2026, 3, 31), "20"),
        # what is asked from the day of the reduction on is not a price before it
        (["A,2026-01-01,40", "A,2026-03-31,20"], date(2026, 3, 31), "40"),
    ],
)
def test_the_prior_price_is_the_lowest_of_thirty_days(rows: list[str], start: date, lowest: str) -> None:
    found = prior(history(*rows)["A"], start)
    assert found is not None
    assert found.lowest.price == Money(Decimal(lowest), "EUR")
    assert found.covered == 30


def test_a_history_that_is_too_short_says_so() -> None:
    found = prior(history("A,2026-03-11,40")["A"], date(2026, 3, 31))
    assert found is not None
    assert found.covered == 20
    assert prior(history("A,2026-03-31,40")["A"], date(2026, 3, 31)) is None


def test_the_reduction_begins_with_its_price() -> None:
    prices = history("A,2026-01-01,40", "A,2026-02-01,20", "A,2026-02-10,20", "A,2026-03-01,10")["A"]
    assert reduced_on(prices, Money(Decimal(20), "EUR"), date(2026, 2, 20)) == date(2026, 2, 1)
    assert reduced_on(prices, Money(Decimal(20), "EUR"), date(2026, 3, 20)) is None
    assert reduced_on(prices, Money(Decimal(20), "EUR"), date(2025, 3, 20)) is None


def test_every_mistake_of_a_history_at_once() -> None:
    with pytest.raises(MistakesError) as caught:
        history("A,2026-01-01,40", ",2026-01-01,4", "A,1.2.2026,4", "A,2026-03-01,four", "A,2026-01-01,3")
    assert [(one.place.line, one.place.column) for one in caught.value.mistakes] == [
        (3, 1),
        (4, 3),
        (5, 14),
        (6, 1),
    ]
    with pytest.raises(MistakesError, match="no column for price"):
        read(b"sku,from,prices\nA,2026-01-01,4\n", "prices.csv", "EUR")


# -- quotes


@pytest.mark.parametrize(
    ("quote", "fine"),
    [
        ("I forget it for a month.", True), ("I forget it … a leaf.", True),
        ("… a month. It thanks me …", True),
        ("I forget it [...] with a leaf.", True), ("It thanks me … I forget it", False),
        ("I love it … a leaf", False),
        ("…", False), ("I forget … mont", False),
    ],
)  # fmt: skip
def test_an_ellipsis_may_shorten_a_review(quote: str, fine: bool) -> None:
    text = "I forget it for a month. It thanks me with a leaf."
    if fine:
        check_quote(quote, text, "F-02")
    else:
        with pytest.raises(Fault):
            check_quote(quote, text, "F-02")


# -- the command


@pytest.mark.parametrize(
    ("truth", "rows", "expected"),
    [
        ("{prices: price.csv}", None, "no such file: price.csv"),
        (
            "{prices: prices.csv}",
            "sku,from,price\nK-210,2027,45\n",
            "prices.csv:2:7: row 2, from",
        ),
        ("{prices: ../../../away.csv}", None, "leaves the workspace"),
        ("{feed: 31.1.2027}", None, "'31.1.2027' is not a date"),
        ("{phrases: {fr: {offf: [de remise]}}}", None, "off"),
    ],
)
def test_mistakes_of_the_shops_own_are_told_with_their_line(
    tmp_path: Path, truth: str, rows: str | None, expected: str
) -> None:
    """One line each, exit code 2, no traceback."""
    shop = workspace(tmp_path)
    file = shop / "brands/orrowby/brand.yaml"
    file.write_text(
        file.read_text("utf-8").replace("truth: {prices: prices.csv}", f"truth: {truth}"), "utf-8"
    )
    if rows is not None:
        (shop / "brands/orrowby/prices.csv").write_text(rows, "utf-8")
    done = CliRunner().invoke(cli, ["preflight", str(shop / campaign("orrowby"))], catch_exceptions=False)
    assert done.exit_code == 2
    assert expected in done.stderr
    assert "brands/orrowby/" in done.stderr


def test_every_report_ends_with_what_it_is_not() -> None:
    done = CliRunner().invoke(cli, ["preflight", str(DEMO / campaign("orrowby"))], catch_exceptions=False)
    last = done.stdout.rstrip().splitlines()[-1]
    assert last == "A prompt, not legal advice: local rules and a licensed adviser decide."
