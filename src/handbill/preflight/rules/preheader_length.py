"""How much of the preheader a list of mails shows."""

from collections.abc import Iterator

from handbill.base.letters import extent, room
from handbill.preflight.contract import NOTE, Hit, Rule, head
from handbill.preflight.specimen import Specimen

LEAST, MOST = 35, 90  # characters that lists of mails show


def check(mail: Specimen) -> Iterator[Hit]:
    """A preheader that leaves room, or is cut off."""
    preheader = mail.preheader.strip()
    long = room(preheader)
    if long and not LEAST <= long <= MOST:
        fit = "leaves room for more" if long < LEAST else "is cut off"
        message = f"the preheader has {extent(preheader)}; lists show {LEAST} to {MOST}, so it {fit}"
        yield Hit(message, head("preheader"))


RULE = Rule(
    slug="preheader-length",
    group="copy",
    severity=NOTE,
    needs=frozenset({"source"}),
    about="The preheader fills the room that lists of mails give it, and no more.",
    why="Lists of mails show 35 to 90 characters after the subject, depending on reader and screen.",
    source="common practice",
    remedy="Say in 35 to 90 characters what the subject leaves open.",
    check=check,
)
