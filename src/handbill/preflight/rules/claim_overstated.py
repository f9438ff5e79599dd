"""Claims larger than the truth."""

from collections.abc import Iterator

from handbill.preflight.claims import found
from handbill.preflight.contract import ERROR, Hit, Rule
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Typed percents, savings, lowest prices and stocks that promise more than the files hold."""
    return found(mail, "overstated")


RULE = Rule(
    slug="claim-overstated",
    group="truth",
    severity=ERROR,
    needs=frozenset({"source", "facts"}),
    about="No typed number promises more than the catalogue and the offer hold.",
    why="A subject that says 50 % needs an item at 50 %; without “up to” every reduced product shown "
    "needs it. Percents are compared exactly: 49.99 is not 50. A customer who finds less was misled.",
    source="15 USC 7704(a)(2) (US); Directive 2005/29/EC art. 6(1)(d) (EU, from memory)",
    remedy="Let a fact say it: ${offer.best_percent}, ${offer.lowest_price}, ${product.saving}.",
    check=check,
)
