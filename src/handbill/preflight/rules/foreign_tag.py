"""Send-time tags that the sending program will not read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from handbill.preflight.contract import ERROR, Hit, Rule, head, section
from handbill.preflight.part import Part
from handbill.preflight.places import head_texts, scalars

if TYPE_CHECKING:
    from handbill.preflight.specimen import Specimen

# Shapes in which programs mark what is filled in when a mail is sent. A shape of the mail's own dialect is
# harmless text here: what the author typed is guarded, so the reader would see it as it stands.
_TAG = re.compile(
    r"\{\{[^{}]{1,80}\}\}|\{%[^{}]{1,80}%\}|\*\|[^|*]{1,60}\|\*|%%[\w.:=-]{1,60}%%|<%=?[^<>]{1,60}%>"
    r"|\[%[\w.]{1,60}%\]|\{\$[\w.]{1,60}\}|##[A-Za-z_]{2,40}##|#\{[\w.]{1,60}\}"
)


def check(mail: Specimen) -> Iterator[Hit]:
    """What was typed in subject and preheader."""
    for name, text in head_texts(mail.mail.root):
        for tag in _TAG.findall(text):
            yield Hit(_message(tag), head(name))


def each(part: Part) -> Iterator[Hit]:
    """What was typed in a section."""
    for way, text, _node in scalars(part.spoken.node):
        for tag in _TAG.findall(text):
            yield Hit(_message(tag), section(part.id, *way))


def _message(tag: str) -> str:
    return f"{tag} looks like a send-time tag, but readers will see it as it stands"


RULE = Rule(
    slug="foreign-tag",
    group="delivery",
    severity=ERROR,
    needs=frozenset({"source"}),
    about="No text holds a send-time tag in another program's spelling.",
    why="What is typed is text. A tag copied from another sending program reaches the reader with its signs.",
    source="common practice",
    remedy='Write it as a recipient field, ${recipient.first_name or "there"}; the workspace\'s dialect '
    "does the rest.",
    check=check,
    each=each,
)
