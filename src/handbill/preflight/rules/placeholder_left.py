"""Words that were meant to be replaced."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from handbill.preflight.contract import ERROR, Hit, Rule, head, section
from handbill.preflight.part import Part

if TYPE_CHECKING:
    from handbill.preflight.specimen import Specimen

# What people and programs write where words are still to come; capitals alone, since "to do" is English.
_LEFT = re.compile(
    r"\blorem ipsum\b|\bdolor sit amet\b|\bTODO\b|\bTBD\b|\bTBC\b|\bFIXME\b|\bXX+\b|\bTKTK?\b"
    r"|(?i:\[(?:your|insert|name|first ?name|date|price|link|copy|text|headline)[^\]]*\])"
    r"|(?i:<(?:your|insert) [^>]*>|\b(?:your|insert) (?:headline|text|copy|button) here(?=\W*$))"
    r"|(?i:\b(?:Blindtext|Platzhalter|hier (?:kommt|steht) (?:der |dein |Ihr )?Text)\b)",
)


def find(text: str) -> str:
    """The placeholder in `text`, or nothing."""
    found = _LEFT.search(text) or re.search(r"(?i)lorem ipsum", text)
    return found[0] if found else ""


def check(mail: Specimen) -> Iterator[Hit]:
    """Placeholders in subject and preheader."""
    for name, text in (("subject", mail.subject), ("preheader", mail.preheader)):
        if left := find(text):
            yield Hit(f"“{left}” is still in the {name}", head(name))


def each(part: Part) -> Iterator[Hit]:
    """Placeholders in a section."""
    for way, _filled, text in part.texts():
        if left := find(text):
            yield Hit(f"“{left}” is still in the text", section(part.id, *way, near=text))


RULE = Rule(
    slug="placeholder-left",
    group="copy",
    severity=ERROR,
    needs=frozenset({"source"}),
    about="No words are left that were meant to be replaced.",
    why="A mail cannot be called back.",
    source="common practice",
    remedy="Write what belongs there, or take the field out.",
    check=check,
    each=each,
)
