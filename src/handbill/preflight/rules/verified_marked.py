"""Testimonials and how the shop knows them."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, section
from handbill.preflight.specimen import Specimen
from handbill.resolve.values import Fields


def check(mail: Specimen) -> Iterator[Hit]:
    """Quoted reviews that do not say how they were verified."""
    for part in mail.parts:
        for way, value in part.values():
            if isinstance(value, Fields) and hasattr(value, "quoted") and value.verified is None:
                yield Hit(f"the review {value.id} does not say how it was verified", section(part.id, *way))


RULE = Rule(
    slug="verified-marked",
    group="practice",
    severity=NOTE,
    needs=frozenset({"facts"}),
    about="Testimonials are marked as verified, and say how.",
    why="Readers believe a quote more readily when they see how the shop knows it. Marking one that was "
    "not verified misleads, and is unlawful in many places.",
    source="common practice; Directive 2005/29/EC Annex I no. 23b for the claim itself (from memory)",
    remedy="Quote reviews whose `verified` column says how, such as “matched to an order”.",
    check=check,
)
