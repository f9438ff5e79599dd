"""Subject, preheader and headline that say the same."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, head, section
from handbill.preflight.part import one_line
from handbill.preflight.specimen import Specimen


def words(text: str) -> list[str]:
    """The words of a line, without their case and signs."""
    letters = "".join(ch if ch.isalnum() else " " for ch in one_line(text).casefold())
    return letters.split()


def check(mail: Specimen) -> Iterator[Hit]:
    """A preheader, or a first heading, with the words of the line before it."""
    subject, preheader = words(mail.subject), words(mail.preheader)
    if subject and preheader and (preheader == subject or preheader[: len(subject)] == subject):
        yield Hit("the preheader repeats the subject", head("preheader"), (head("subject"),))
    for part in mail.parts:
        if part.spoken.level == 1:
            name = mail.mail.library.blocks[part.spoken.block].spec.heading
            heading = part.fields.get(name) if name else None
            if name and preheader and heading and words(heading.plain) == preheader:
                yield Hit("the headline repeats the preheader", section(part.id, name), (head("preheader"),))


RULE = Rule(
    slug="same-line-twice",
    group="copy",
    severity=WARNING,
    needs=frozenset({"source"}),
    about="Subject, preheader and headline each say something of their own.",
    why="The preheader is read right after the subject, the headline right after the preheader. A line "
    "that repeats the one before it spends the best place of a mail on nothing new.",
    source="common practice",
    remedy="Let the preheader go on where the subject ends.",
    check=check,
)
