"""Links without encryption."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule
from handbill.preflight.part import Part


def each(part: Part) -> Iterator[Hit]:
    """http links, and http pictures."""
    for link in part.page.links:
        if link.href.lower().startswith("http:"):
            yield Hit(f"“{link.name}” leads to {link.href}", part.at(link.name or link.href))
    for picture in part.page.pictures:
        if picture.src.lower().startswith("http:"):
            yield Hit(f"the picture {picture.src} is loaded by http", part.at(picture.alt or ""))


RULE = Rule(
    slug="link-http",
    group="links",
    severity=WARNING,
    needs=frozenset({"html"}),
    about="Links and pictures are reached by https.",
    why="Browsers warn of http pages and some readers do not load http pictures; what the reader opens "
    "can be seen and changed on the way.",
    source="RFC 9110 section 4.2.2; readers' behaviour: common practice",
    remedy="Write https://.",
    each=each,
)
