"""How much of the subject a list of mails shows."""

from collections.abc import Iterator

from handbill.base.letters import beginning, extent, room
from handbill.preflight.contract import WARNING, Hit, Rule, head
from handbill.preflight.specimen import Specimen

MOST = 60  # characters that a desktop's list shows; a phone's shows 30 to 40


def check(mail: Specimen) -> Iterator[Hit]:
    """A subject that lists of mails cut off."""
    if room(mail.subject) > MOST:
        message = f"the subject has {extent(mail.subject)}; a list of mails shows about {MOST}"
        yield Hit(f"{message}, up to “{beginning(mail.subject, MOST).rstrip()}”", head("subject"))


RULE = Rule(
    slug="subject-length",
    group="copy",
    severity=WARNING,
    needs=frozenset({"source"}),
    about="The subject is short enough for a list of mails.",
    why="A phone's list shows some 30 to 40 characters of a subject, a desktop's about 60. What is cut "
    "off is often the offer.",
    source="common practice",
    remedy="Shorten it, and put the offer into the first 30 characters.",
    check=check,
)
