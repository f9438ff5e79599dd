"""Claims that nothing bears out."""

from collections.abc import Iterator

from handbill.preflight.claims import found
from handbill.preflight.contract import WARNING, Hit, Rule
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Typed reductions, codes and dates of a mail whose offer and products know of none."""
    return found(mail, "unsupported")


RULE = Rule(
    slug="claim-unsupported",
    group="truth",
    severity=WARNING,
    needs=frozenset({"source", "facts"}),
    about="Every typed reduction, code and date has an offer or a product behind it.",
    why="What stands in no file can be held against none. The shop must be able to show that it is true.",
    source="Directive 2005/29/EC art. 12 (EU, from memory); 16 CFR 233.1 (US)",
    remedy="Give the campaign its `offer:`, the products their `was`, or leave the claim out.",
    check=check,
)
