"""Buttons that are lower than a thumb."""

from collections.abc import Iterator

from handbill.dom.tree import Element
from handbill.preflight.contract import NOTE, Hit, Rule, span
from handbill.preflight.specimen import Specimen

LEAST = 44.0  # CSS px


def check(mail: Specimen) -> Iterator[Hit]:
    """Buttons under 44 px on some phone, by what can be pressed of them."""
    said: set[Element] = set()
    for screen in mail.phones:
        for link in (button.link for button in mail.readings_on(screen).buttons):
            if min(link.width, link.height) < LEAST and link.element not in said:
                said.add(link.element)
                size = f"{link.width:.0f} × {link.height:.0f}"
                message = f"the button “{link.text}” is {size} px on a phone of {screen.width} px"
                yield Hit(message, span(link.element, link.text))


RULE = Rule(
    slug="button-small",
    group="access",
    severity=NOTE,
    needs=frozenset({"html", "layout"}),
    about="Buttons are at least 44 px high and wide.",
    why="24 px is what the standard's middle level asks for; 44 px is what a thumb hits without aim.",
    source="WCAG 2.2 SC 2.5.5 (level AAA)",
    remedy="Set `button: {height: 44}` or more in brand.yaml.",
    check=check,
)
