"""Reviews of which nobody knows where they come from."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, Where, section
from handbill.preflight.reviews import quoted
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Reviews without a source or a date, and ones of a day after the mail is sent."""
    send = mail.mail.campaign.send.date()
    for part, way, _review, row in quoted(mail):
        lacking = " and ".join(name for name in ("source", "date") if not getattr(row, name))
        fault = f"has no {lacking}" if lacking else ""
        if row.date is not None and row.date > send:
            fault = f"is of {row.date}, after the mail is sent"
        if fault:
            yield Hit(f"the review {row.id} {fault}", section(part.id, *way), (Where(row=row.place),))


RULE = Rule(
    slug="review-source",
    group="truth",
    severity=WARNING,
    needs=frozenset({"facts"}),
    about="Every review shown has a source and a date.",
    why="Invented, bought and insiders' reviews are banned. Where one came from and when is the least "
    "that bears it out; whether it is genuine no file can tell.",
    source="16 CFR 465.2, 465.4, 465.5 (US, 89 FR 68034)",
    remedy="Fill the columns `source` and `date`.",
    check=check,
)
