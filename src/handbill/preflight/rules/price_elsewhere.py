"""Prices compared with ones that stand in no file."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Typed words that compare with a price of other shops, of a maker, or of other days."""
    for one in mail.judged:
        if one.claim.kind == "elsewhere":
            yield Hit(f"“{one.claim.words}” compares with a price that stands in no file", one.where)


RULE = Rule(
    slug="price-elsewhere",
    group="truth",
    severity=NOTE,
    needs=frozenset({"source"}),
    about="No price is compared with one that stands in no file.",
    why="“Formerly sold at” says that many were sold at it; a price elsewhere must be asked in the "
    "reader's own trade area, a list price be one that shops really ask. Looked for in English and "
    "German.",
    source="16 CFR 233.1(b), 233.2(a), 233.3 (US)",
    remedy="Keep a note of where and when the other price was asked, or leave it out.",
    check=check,
)
