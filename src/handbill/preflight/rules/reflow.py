"""Mails that are wider than the screen."""

from collections.abc import Iterator

from handbill.measure.layout import Screen
from handbill.preflight.contract import ERROR, Hit, Rule, span
from handbill.preflight.specimen import Specimen

NARROW = Screen(320, 568)  # CSS px: the width that reflow is judged at
ROOM = 0.5  # px: less than a pixel is never scrolled


def check(mail: Specimen) -> Iterator[Hit]:
    """Elements that reach beyond 320 px, by the one that reaches furthest."""
    laid = mail.laid_out(NARROW)
    clipped = {
        inner
        for element in laid.places
        if laid.layout.styler.of(element).overflow in ("hidden", "clip")
        for inner in element.iter()
    }
    reach = [(place.right, -element.start, element) for element, place in laid.places.items()]
    right, _order, widest = max(one for one in reach if one[2] not in clipped)
    if right > NARROW.width + ROOM:
        message = f"at {NARROW.width} px the mail is {right:.0f} px wide, and scrolls sideways"
        yield Hit(f"{message}; <{widest.tag}> reaches furthest", span(widest))


RULE = Rule(
    slug="reflow",
    group="access",
    severity=ERROR,
    needs=frozenset({"html", "layout"}),
    about="The mail fits a screen of 320 px.",
    why="That is a desktop at 400 per cent, and the smallest phones. Scrolling both ways loses the line.",
    source="WCAG 2.2 SC 1.4.10 (level AA)",
    remedy="Look for a fixed width or a long word in the section; `max-width` in place of `width`.",
    check=check,
)
