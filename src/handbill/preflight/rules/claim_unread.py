"""Claims that were not checked."""

from collections.abc import Iterator

from handbill.preflight.claims import found
from handbill.preflight.contract import NOTE, Hit, Rule
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """What looks like a claim and is held against nothing."""
    return found(mail, "unread")


RULE = Rule(
    slug="claim-unread",
    group="truth",
    severity=NOTE,
    needs=frozenset({"source", "facts"}),
    about="Nothing in the mail looks like a claim that was not checked.",
    why="What is not checked is said, so that a person checks it: shares, ratings, numbers of reviews, free "
    "extras, prices of no product. In languages other than English and German only what is said with "
    "a sign, a "
    "minus or the shop's own `truth: phrases:` is understood. Words of the catalogue and of "
    "customers are left.",
    source="common practice",
    remedy="Check it by hand, and keep what bears it out.",
    check=check,
)
