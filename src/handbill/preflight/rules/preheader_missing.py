"""The line after the subject."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, head
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """A mail without a preheader."""
    if not mail.preheader.strip():
        yield Hit("there is no preheader; lists of mails show what comes first instead", head("preheader"))


RULE = Rule(
    slug="preheader-missing",
    group="copy",
    severity=WARNING,
    needs=frozenset({"source"}),
    about="There is a preheader.",
    why="Lists of mails show it after the subject. Without one they show the first words of the mail, "
    "which may be a logo's description.",
    source="common practice",
    remedy="Write `preheader:`, 35 to 90 characters that go on where the subject ends.",
    check=check,
)
