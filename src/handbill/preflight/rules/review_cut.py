"""Reviews that are shown in part."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, Where, section
from handbill.preflight.reviews import quoted
from handbill.preflight.specimen import Specimen

ELLIPSES = ("…", "...")


def check(mail: Specimen) -> Iterator[Hit]:
    """Quotes in which an ellipsis stands for words that were left out."""
    for part, way, review, row in quoted(mail):
        if any(mark in review.quoted.plain and mark not in row.text for mark in ELLIPSES):
            message = f"the quote leaves words of the review {row.id} out"
            yield Hit(message, section(part.id, *way), (Where(row=row.place),))


RULE = Rule(
    slug="review-cut",
    group="truth",
    severity=NOTE,
    needs=frozenset({"facts"}),
    about="A quote from which words were left out says what the customer said.",
    why="An ellipsis may shorten a review; “I hoped it would … be good” is another review. (A quote whose "
    "words are not the customer's does not compile.)",
    source="16 CFR 255.1(b) (US, from memory)",
    remedy="Read the whole review, and quote so that it means the same.",
    check=check,
)
