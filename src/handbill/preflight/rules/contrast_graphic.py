"""Contrast of what is no text."""

from collections.abc import Iterator

from handbill.colour.srgb import GRAPHIC, as_ratio, contrast, written
from handbill.dom.tree import Element
from handbill.preflight.contract import WARNING, Hit, Rule, span
from handbill.preflight.page import PHONE, PHONE_DARK
from handbill.preflight.signs import signs
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Swatches by fill and border, stars and icons by their pixels, in the light and in the dark."""
    said: set[Element] = set()
    for view in (PHONE, PHONE_DARK):
        dark = " on dark screens" if view.scheme == "dark" else ""
        for sign in signs(mail, view):
            ground = sign.ground.colour
            best = max((contrast(colour, ground) for colour in sign.colours), default=GRAPHIC)
            if best < GRAPHIC and sign.element not in said:
                said.add(sign.element)
                message = f"“{sign.name}” has a contrast of {as_ratio(best)} with its ground{dark}"
                pair = f"{written(sign.colours[0])} on {written(ground)}"
                yield Hit(f"{message}, {pair}; {GRAPHIC:g}:1 is needed", span(sign.element, sign.own))


RULE = Rule(
    slug="contrast-graphic",
    group="access",
    severity=WARNING,
    needs=frozenset({"html"}),
    about="Swatches, stars and icons stand out from their ground.",
    why="A sign that says something has to be seen; its outline counts.",
    source="WCAG 2.2 SC 1.4.11 (level AA): 3:1, not rounded",
    remedy="Change `ring`, `stars` or the icon's colour in the tone.",
    check=check,
)
