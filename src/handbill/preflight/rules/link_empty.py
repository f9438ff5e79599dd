"""Links that lead nowhere."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule
from handbill.preflight.part import Part


def each(part: Part) -> Iterator[Hit]:
    """An empty address, the top of the mail, or a script."""
    for link in part.page.links:
        if not link.href or link.href in ("#", "/") or link.href.lower().startswith("javascript:"):
            message = f"“{link.name or 'a link'}” leads to {link.href or 'nothing'}"
            yield Hit(message, part.at(link.name or link.href))


RULE = Rule(
    slug="link-empty",
    group="links",
    severity=ERROR,
    needs=frozenset({"html"}),
    about="Every link leads somewhere.",
    why="A reader who presses it gets nothing, or a warning.",
    source="RFC 3986 section 4.4 (an empty reference leads to the mail itself)",
    remedy="Give the button or link its page.",
    each=each,
)
