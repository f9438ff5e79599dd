"""Buttons that do not look like any."""

from collections.abc import Iterator

from handbill.colour.srgb import GRAPHIC, as_ratio, contrast, over
from handbill.dom.tree import Element
from handbill.measure.readings import Link
from handbill.preflight.buttons import face, outside
from handbill.preflight.contract import NOTE, Hit, Rule, span
from handbill.preflight.inks import Inks
from handbill.preflight.page import PHONE, PHONE_DARK
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Buttons whose face and border are close to what is around them; outlines are told together."""
    said: set[Element] = set()
    for view in (PHONE, PHONE_DARK):
        dark = " on dark screens" if view.scheme == "dark" else ""
        yield from _faint(mail, mail.page.inks(view), dark, said)


def _faint(mail: Specimen, inks: Inks, dark: str, said: set[Element]) -> Iterator[Hit]:
    outlines: list[Link] = []
    for button in mail.readings.buttons:
        link = button.link
        drawn = face(link.element, inks)
        if drawn is None or drawn in said:
            continue
        around, style = outside(drawn, inks), inks.styler.of(drawn)
        borders = [
            over(colour, around.colour)
            for width, colour in zip(style.border, style.border_colors, strict=True)
            if width
        ]
        filled = inks.grounds[drawn].colour
        best = max(contrast(one, around.colour) for one in (filled, *borders))
        if best < GRAPHIC:
            said.add(drawn)
            ratio = as_ratio(best)
            message = f"the button “{link.text}” has a contrast of {ratio} with what is around it{dark}"
            yield Hit(message, span(link.element, link.text))
        elif borders and filled == around.colour and not dark:
            outlines.append(link)
    if outlines:
        first, *more = outlines
        rest = f", and so are {len(more)} more" if more else ""
        message = f"the button “{first.text}” is an outline, with no colour of its own{rest}"
        yield Hit(message, span(first.element, first.text))


RULE = Rule(
    slug="button-stands-out",
    group="practice",
    severity=NOTE,
    needs=frozenset({"html", "layout"}),
    about="Buttons are seen as buttons.",
    why="A face close to its ground reads as text. WCAG asks for 3:1 only where the label alone would not "
    "tell, so this is no failure.",
    source="WCAG 2.2 SC 1.4.11 gives the measure; that buttons should meet it: common practice",
    remedy="Choose a button colour further from the ground, or give it a border.",
    check=check,
    arm="filled-buttons",
)
