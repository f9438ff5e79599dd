"""The text part, held against the HTML."""

import re
from collections.abc import Iterator

from handbill.dom.tree import Element
from handbill.preflight.contract import WARNING, Hit, Rule, section, span
from handbill.preflight.page import PHONE
from handbill.preflight.part import one_line
from handbill.preflight.specimen import Specimen

_NUMBER = re.compile(r"\d+(?:[.,:\u202f\u00a0’']\d+)*")


def check(mail: Specimen) -> Iterator[Hit]:
    """Headings, numbers and links of a section's HTML that its text lacks."""
    leave = mail.mail.unsubscribe.sampled.plain_url
    for part in mail.parts:
        if part.first < 0:
            continue
        inside = [one for one in mail.page.headings if part.first <= one.element.start < part.end]
        said = _letters(part.text)
        for heading in inside:
            if _letters(heading.text) not in said:
                yield Hit(
                    f"the text part lacks the heading “{heading.text}”", span(heading.element, heading.text)
                )
        shown = " ".join(
            ink.text for ink in mail.page.inks(PHONE).texts if part.first <= ink.element.start < part.end
        )
        numbers = set(_NUMBER.findall(part.text))
        lacking = sorted({number for number in _NUMBER.findall(shown) if number not in numbers})
        if lacking:
            yield Hit(f"the text part lacks {', '.join(lacking)}", section(part.id))
        for link in mail.page.links:
            worded = part.first <= link.element.start < part.end and any(_words(link.element))
            told_elsewhere = link.href in ("", "#", leave)
            if worded and not told_elsewhere and link.href not in mail.text:
                yield Hit(f"the text part lacks the link “{link.name}”", span(link.element, link.name))


def _words(element: Element) -> Iterator[str]:
    """The words of a link, without its pictures."""
    for child in element.children:
        if isinstance(child, str):
            yield child.strip()
        else:
            yield from _words(child)


def _letters(text: str) -> str:
    return "".join(ch for ch in one_line(text).casefold() if ch.isalnum())


RULE = Rule(
    slug="text-part",
    group="delivery",
    severity=WARNING,
    needs=frozenset({"html", "text"}),
    about="The text part says what the HTML says.",
    why="Watches, some screen readers and people who prefer it read the text part. A price or an end that "
    "only the HTML names is one that they were not told.",
    source="RFC 2046 section 5.1.4: the parts of an alternative hold the same information",
    remedy="Add it to the block's block.txt.j2.",
    check=check,
)
