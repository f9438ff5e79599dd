"""Claims that were true once."""

from collections.abc import Iterator

from handbill.preflight.claims import found
from handbill.preflight.contract import WARNING, Hit, Rule
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Typed numbers that say less than the files, and dates gone by."""
    return found(mail, "stale")


RULE = Rule(
    slug="claim-stale",
    group="truth",
    severity=WARNING,
    needs=frozenset({"source", "facts"}),
    about="Typed numbers are those of the files as they are now.",
    why="A number lower than the truth misleads nobody, but it was typed for another week: something else "
    "in the mail may have been too.",
    source="common practice",
    remedy="Let a fact say it, or type it anew.",
    check=check,
)
