"""Ties between a reviewer and the shop."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule, section
from handbill.preflight.part import one_line
from handbill.preflight.reviews import quoted
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Reviews with a `relationship` that the mail does not show, in the HTML or in the text part."""
    for part, way, _review, row in quoted(mail):
        tie = one_line(row.relationship)
        if not tie:
            continue
        parts = [("HTML", part.page.text)] + ([("text part", one_line(part.text))] if part.shown else [])
        for name, text in parts:
            if tie not in text:
                message = f"the review {row.id} has a tie to the shop (“{tie}”) that the {name} does not show"
                yield Hit(message, section(part.id, *way))


RULE = Rule(
    slug="incentive-shown",
    group="truth",
    severity=ERROR,
    needs=frozenset({"facts", "html", "text"}),
    about="What ties a reviewer to the shop stands beside the review.",
    why="A gift, a discount or a job makes praise worth less, and readers have a right to know. Whether a "
    "tie matters is for a person to judge; one that the shop's file tells of is shown.",
    source="16 CFR 255.5 and 465 (US); Directive 2005/29/EC art. 7 (EU, from memory)",
    remedy="Use the block testimonial, which shows it, or put `relationship_words` into your own block.",
    check=check,
)
