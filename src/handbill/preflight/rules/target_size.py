"""Links that are hard to hit with a finger."""

from collections.abc import Iterator
from math import hypot

from handbill.dom.tree import Element
from handbill.measure.layout import Screen
from handbill.preflight.contract import ERROR, Hit, Rule, span
from handbill.preflight.laid import Spot
from handbill.preflight.page import said
from handbill.preflight.specimen import Specimen

LEAST = 24.0  # CSS px, both ways


def check(mail: Specimen) -> Iterator[Hit]:
    """Links under 24 by 24 px that are neither in a sentence nor far enough from all others."""
    said: set[Element] = set()
    for screen in mail.screens:
        yield from _on(mail, screen, said)


def _on(mail: Specimen, screen: Screen, said: set[Element]) -> Iterator[Hit]:
    """The same on one screen; links in `said` have been told, those told now are added."""
    places = mail.laid_out(screen).places
    targets = [(link, places[link.element]) for link in mail.page.links if link.element in places]
    small = [(link, place) for link, place in targets if min(place.width, place.height) < LEAST]
    for link, place in small:
        if link.element in said or _in_a_sentence(link.element):
            continue
        others = [(other, its) for other, its in targets if other is not link]
        near = next((other for other, its in others if _too_near(place, its)), None)
        if near is not None:
            said.add(link.element)
            size = f"{place.width:.0f} × {place.height:.0f}"
            message = f"“{link.name}” is {size} px at {screen.width} px, too near to “{near.name}”"
            where = span(link.element, link.name)
            yield Hit(f"{message}; {LEAST:g} × {LEAST:g} are needed", where, (span(near.element, near.name),))


def _in_a_sentence(element: Element) -> bool:
    """Whether words that are no link stand in the same paragraph (the exception "inline")."""
    block = element.parent
    while block is not None and block.tag in ("span", "b", "strong", "em", "i", "font", "u"):
        block = block.parent
    if block is None:
        return False
    linked = sum(len("".join(said(one).split())) for one in block.iter("a"))
    return len("".join(ch for ch in said(block) if ch.isalnum())) > linked


def _too_near(place: Spot, other: Spot) -> bool:
    """Whether a circle of 24 px on the middle of a small target meets another target, or its circle."""
    x, y = place.x + place.width / 2, place.y + place.height / 2
    if min(other.width, other.height) < LEAST:
        return hypot(other.x + other.width / 2 - x, other.y + other.height / 2 - y) < LEAST
    across = max(other.x - x, 0.0, x - other.right)
    down = max(other.y - y, 0.0, y - other.bottom)
    return hypot(across, down) < LEAST / 2


RULE = Rule(
    slug="target-size",
    group="access",
    severity=ERROR,
    needs=frozenset({"html", "layout"}),
    about="Links are large enough to hit, or far enough from each other.",
    why="A thumb covers some 9 mm; whoever's hand shakes presses the wrong link. Nothing is rounded.",
    source="WCAG 2.2 SC 2.5.8 (level AA), with its exceptions for spacing and for links in a sentence",
    remedy="Give the links room: a line height of 32 px, or padding above and below.",
    check=check,
)
