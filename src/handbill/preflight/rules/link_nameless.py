"""Links without words."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule
from handbill.preflight.part import Part


def each(part: Part) -> Iterator[Hit]:
    """Links that hold neither text nor a described picture."""
    for link in part.page.links:
        if not link.name and link.element.get("aria-hidden") != "true":
            yield Hit(f"the link to {link.href} has no words", part.at(link.href))


RULE = Rule(
    slug="link-nameless",
    group="access",
    severity=ERROR,
    needs=frozenset({"html"}),
    about="Every link has words, or a picture with a description.",
    why="A screen reader reads out the address instead; with pictures blocked nobody sees the link.",
    source="WCAG 2.2 SC 2.4.4 and 4.1.2 (level A)",
    remedy="Describe the picture with `alt:`, in words that say where the link leads.",
    each=each,
)
