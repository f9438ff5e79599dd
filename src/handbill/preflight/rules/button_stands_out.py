"""Buttons that do not look like any."""

from collections.abc import Iterator

from handbill.colour.srgb import GRAPHIC, as_ratio, contrast, over
from handbill.preflight.contract import NOTE, Hit, Rule, span
from handbill.preflight.page import PHONE
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Filled buttons whose face and border are close to what is around them."""
    inks = mail.page.inks(PHONE)
    for link in mail.page.links:
        cell = link.element.parent
        face = inks.grounds.get(link.element)
        if cell is None or cell.parent is None or face is None:
            continue
        block = inks.styler.of(link.element).display != "inline"
        if face.owner is not link.element and not (block and face.owner is cell):
            continue
        around = inks.grounds.get(cell.parent)
        if around is None or not link.name:
            continue
        borders = [
            over(colour, around.colour)
            for one in (link.element, cell)
            for width, colour in zip(
                inks.styler.of(one).border, inks.styler.of(one).border_colors, strict=True
            )
            if width
        ]
        best = max(contrast(one, around.colour) for one in (face.colour, *borders))
        if best < GRAPHIC and face.colour != around.colour:
            message = f"the button “{link.name}” has a contrast of {as_ratio(best)} with what is around it"
            yield Hit(message, span(link.element, link.name))


RULE = Rule(
    slug="button-stands-out",
    group="practice",
    severity=NOTE,
    needs=frozenset({"html"}),
    about="Buttons are seen as buttons.",
    why="A face close to its ground reads as text. WCAG asks for 3:1 only where the label alone would not "
    "tell, so this is no failure.",
    source="WCAG 2.2 SC 1.4.11 gives the measure; that buttons should meet it: common practice",
    remedy="Choose a button colour further from the ground, or give it a border.",
    check=check,
)
