"""Text that is too small for a phone."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, span
from handbill.preflight.contrasts import by_section, cut
from handbill.preflight.page import PHONE
from handbill.preflight.specimen import Specimen

LEAST = 12  # CSS px


def check(mail: Specimen) -> Iterator[Hit]:
    """The smallest text of each section, on a phone."""
    for _id, inks in by_section(mail, mail.page.inks(PHONE).texts):
        small = [ink for ink in inks if ink.size < LEAST]
        if small:
            least = min(small, key=lambda ink: ink.size)
            more = f" and {len(small) - 1} more are" if len(small) > 1 else " is"
            yield Hit(
                f"“{cut(least.text)}”{more} {least.size:g} px on a phone", span(least.element, least.text)
            )


RULE = Rule(
    slug="text-small",
    group="access",
    severity=NOTE,
    needs=frozenset({"html"}),
    about="Text is large enough to read on a phone.",
    why="Below 12 px many readers have to enlarge the mail, and then have to move it about.",
    source="common practice; no standard sets a least size",
    remedy="Raise the type role's `phone: {size: …}` in brand.yaml.",
    check=check,
)
