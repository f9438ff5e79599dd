"""Claims at odds with the files."""

from collections.abc import Iterator

from handbill.preflight.claims import found
from handbill.preflight.contract import ERROR, Hit, Rule
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Typed percents, codes, prices and dates other than those of the offer and the catalogue."""
    return found(mail, "contradicts")


RULE = Rule(
    slug="claim-contradicts",
    group="truth",
    severity=ERROR,
    needs=frozenset({"source", "facts"}),
    about="Typed codes, percents, prices and dates are those of the offer and the catalogue.",
    why="A reader holds the shop to whichever is better, or gives up at the till. The finding names both "
    "places.",
    source="15 USC 7704(a)(2) and 16 CFR 233.5 (US); Directive 2005/29/EC art. 6(1) (EU, from memory)",
    remedy="Let a fact say it: ${offer.code}, ${offer.percent}, ${product.price}, ${offer.ends:date}.",
    check=check,
)
