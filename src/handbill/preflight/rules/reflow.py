"""Mails that are wider than the screen."""

from collections.abc import Iterator

from handbill.dom.style import Style
from handbill.dom.tree import Element
from handbill.measure.layout import Screen
from handbill.preflight.contract import ERROR, Hit, Rule, span
from handbill.preflight.specimen import Specimen

ROOM = 0.5  # px: less than a pixel is never scrolled


def check(mail: Specimen) -> Iterator[Hit]:
    """Elements that reach beyond the screen, by what makes it so on the narrowest that fails."""
    wide = [(screen, *_furthest(mail, screen)) for screen in mail.screens]
    failing = [one for one in wide if one[1] > one[0].width + ROOM]
    if failing:
        screen, right, widest = failing[0]
        also = ", ".join(f"{one[0].width}" for one in failing[1:])
        message = f"at {screen.width} px the mail is {right:.0f} px wide, and scrolls sideways"
        message += f" (so it does at {also} px)" if also else ""
        yield Hit(f"{message}; <{widest.tag}> makes it so", span(widest))


def _furthest(mail: Specimen, screen: Screen) -> tuple[float, Element]:
    """How far the mail reaches to the right, px, and what makes it: a width in px, or the longest word."""
    laid = mail.laid_out(screen)
    clipped = {
        inner
        for element in laid.places
        if laid.layout.styler.of(element).overflow in ("hidden", "clip")
        for inner in element.iter()
    }
    reach = [(place.right, element) for element, place in laid.places.items() if element not in clipped]
    right = max(one for one, _element in reach)
    wide = [one for one in reach if one[0] > screen.width + ROOM]
    styler = laid.layout.styler
    fixed = [one for one in wide if _fixed(styler.of(one[1]))]
    if wide and not fixed:
        wide = [max(wide, key=lambda one: max(map(len, _own_words(one[1])), default=0))]
    return right, max(fixed or wide or reach[:1], key=lambda one: (one[0], one[1].start))[1]


def _fixed(style: Style) -> bool:
    return isinstance(style.width, float) or isinstance(style.min_width, float)


def _own_words(element: Element) -> list[str]:
    return [word for child in element.children if isinstance(child, str) for word in child.split()]


RULE = Rule(
    slug="reflow",
    group="access",
    severity=ERROR,
    needs=frozenset({"html", "layout"}),
    about="The mail fits screens of 320 px and wider.",
    why="320 px is a desktop at 400 per cent, and the smallest phones; 360, 390, 412, 430, 600 are looked "
    "at too. Scrolling both ways loses the line.",
    source="WCAG 2.2 SC 1.4.10 (level AA)",
    remedy="Look for a fixed width or a long word in the section; `max-width` in place of `width`.",
    check=check,
)
