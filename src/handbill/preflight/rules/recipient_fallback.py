"""Recipient fields that may be empty."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from handbill.base.errors import Fault
from handbill.preflight.contract import WARNING, Hit, Rule, head, section
from handbill.preflight.part import Part
from handbill.preflight.places import head_texts, scalars
from handbill.resolve.facts import Ref, parse

if TYPE_CHECKING:
    from handbill.preflight.specimen import Specimen


def holes(text: str) -> Iterator[str]:
    """The recipient fields of a text for which no fallback is given."""
    if "${" not in text:
        return
    try:
        parts = parse(text)
    except Fault:  # a mistake, told when the campaign is compiled
        return
    for part in parts:
        if isinstance(part, Ref) and part.names[0] == "recipient" and part.fallback is None:
            yield ".".join(part.names)


def check(mail: Specimen) -> Iterator[Hit]:
    """Recipient fields in subject and preheader."""
    for name, text in head_texts(mail.mail.root):
        for field in holes(text):
            yield Hit(_message(field), head(name))


def each(part: Part) -> Iterator[Hit]:
    """Recipient fields in sections, save the one that the section is shown for."""
    for way, text, _node in scalars(part.spoken.node):
        for field in holes(text) if way[-1] != "link" else ():
            if part.when != field:
                yield Hit(_message(field), section(part.id, *way))


def _message(name: str) -> str:
    return f"{name} may be empty, and has no fallback"


RULE = Rule(
    slug="recipient-fallback",
    group="copy",
    severity=WARNING,
    needs=frozenset({"source"}),
    about="Text reads well for recipients of whom a field is not known.",
    why="Where a name is missing, “Dear ,” is what the reader gets.",
    source="common practice",
    remedy='Give it words for then: ${recipient.first_name or "there"}; or let `when:` keep the section '
    "back.",
    check=check,
    each=each,
)
