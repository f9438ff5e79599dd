"""Recipient fields that may be empty."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from handbill.base.errors import Fault
from handbill.base.source import Node, items
from handbill.preflight.contract import WARNING, Hit, Rule, Way, head, section
from handbill.preflight.part import Part
from handbill.preflight.places import scalars
from handbill.resolve.facts import Ref, parse

if TYPE_CHECKING:
    from handbill.preflight.specimen import Specimen


def holes(node: Node) -> Iterator[tuple[Way, str]]:
    """Every recipient field without a fallback in the texts below `node`: the way to it, and its name."""
    for way, text, _node in scalars(node):
        if "${" not in text:
            continue
        try:
            parts = parse(text)
        except Fault:  # a mistake, told when the campaign is compiled
            continue
        for part in parts:
            if isinstance(part, Ref) and part.names[0] == "recipient" and part.fallback is None:
                yield way, ".".join(part.names)


def check(mail: Specimen) -> Iterator[Hit]:
    """Fields that would leave a hole in subject and preheader."""
    for key, value in items(mail.mail.root):
        if key.value in ("subject", "preheader"):
            for _way, name in holes(value):
                yield Hit(_message(name), head(key.value))


def each(part: Part) -> Iterator[Hit]:
    """Fields that would leave a hole, but where only recipients who have them get the section."""
    for way, name in holes(part.spoken.node):
        if part.when != name and way[-1] != "link":
            yield Hit(_message(name), section(part.id, *way))


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
