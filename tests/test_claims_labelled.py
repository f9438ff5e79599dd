"""Sentences labelled by hand, in many languages: what is said of their claims, errors above all."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest

from handbill.base.errors import Place
from handbill.base.money import Money
from handbill.catalogue.rows import ProductRow
from handbill.resolve.locale import Locale
from handbill.truth.claims import Finder
from handbill.truth.judge import Known, Offer, judge

SEND = datetime(2027, 2, 25, 18)


def euro(amount: str) -> Money:
    return Money(Decimal(amount), "EUR")


def row(sku: str, price: str, was: str = "", stock: str = "") -> ProductRow:
    return ProductRow(
        sku, f"Name {sku}", "", euro(price), euro(was) if was else None, None, None, (), "", "", "/", "",
        stock, Place("products.csv", 2),
    )  # fmt: skip


SHELF = (row("A", "45", "89"), row("B", "36.00", "89.99"), row("C", "16", "40", "14"))
SALE = Offer("markdown", starts=datetime(2027, 2, 1), ends=datetime(2027, 2, 28, 7, 4))
KNOWN = {
    "sale": Known(SHELF, SALE, SEND, "EUR"),
    "product": Known(SHELF, SALE, SEND, "EUR"),
    "code": Known((), Offer("code", percent=15, least=euro("50"), code="FIRSTLIGHT"), SEND, "EUR"),
    "none": Known((row("D", "20"),), Offer(), SEND, "EUR"),
    "own": Known(SHELF, SALE, SEND, "EUR"),
}
OWN = {
    "fr": {
        "off": ["de remise"], "up_to": ["jusqu’à"], "from": ["dès"], "ends": ["jusqu’au"],
        "offer": ["soldes"],
    },
    "ja": {"off": ["引き"], "up_to": ["最大"], "ends": ["まで"], "offer": ["セール"]},
    "he": {"off": ["הנחה"], "up_to": ["עד"], "ends": ["עד"], "half": ["חצי מחיר"], "offer": ["המבצע"]},
    "ar": {"save": ["خصم"], "up_to": ["يصل إلى"], "ends": ["ينتهي العرض في"], "offer": ["العرض"]},
    "es": {"off": ["de descuento"], "up_to": ["hasta un"], "ends": ["hasta el"], "offer": ["rebajas"]},
}  # fmt: skip


def rows() -> Iterator[tuple[str, str, str, str]]:
    state = ""
    for line in Path(__file__).with_name("claims.txt").read_text("utf-8").splitlines():
        if line.startswith("["):
            state = line.strip("[]")
        elif line and not line.startswith("#"):
            expected, tag, text = line.split(" | ", 2)
            yield state, "" if expected == "-" else expected, tag, text


LABELLED = list(rows())


@cache
def finder(tag: str, own: bool = False) -> Finder:
    return Finder(Locale.load(tag, None), "EUR", OWN if own else None)


@pytest.mark.parametrize(("state", "expected", "tag", "text"), LABELLED)
def test_what_is_said_of_a_sentence(state: str, expected: str, tag: str, text: str) -> None:
    about = SHELF[2] if state == "product" else None
    bare = text.removeprefix("~")
    verdicts = [
        judge(claim, KNOWN[state], about, spoken=bare == text)
        for claim in finder(tag, state == "own").claims(bare)
    ]
    said = ["holds" if one is None else one.fault for one in verdicts]
    assert sorted(said) == expected.split(), [one and one.message for one in verdicts]


def test_the_table_is_wide() -> None:
    assert len({(state, tag, text) for state, _expected, tag, text in LABELLED}) == len(LABELLED) >= 150
    assert len({tag.partition("-")[0] for _state, _expected, tag, _text in LABELLED}) >= 12
