"""Text colours without a ground."""

from collections.abc import Iterator

from handbill.colour.srgb import written
from handbill.preflight.contract import WARNING, Hit, Rule, span
from handbill.preflight.contrasts import cut
from handbill.preflight.page import PHONE
from handbill.preflight.specimen import Specimen

_BLACK = (0, 0, 0)


def check(mail: Specimen) -> Iterator[Hit]:
    """Coloured text behind which the mail sets no colour."""
    for ink in mail.page.inks(PHONE).texts:
        if ink.ground.owner is None and ink.colour != _BLACK:
            message = f"“{cut(ink.text)}” is {written(ink.colour)} on whatever the reader's ground is"
            yield Hit(message, span(ink.element, ink.text))


RULE = Rule(
    slug="colour-without-ground",
    group="access",
    severity=WARNING,
    needs=frozenset({"html"}),
    about="Whoever sets a text's colour sets its ground.",
    why="A reader on a dark screen may show it on black.",
    source="WCAG 2.2, definition of contrast ratio; failure F24",
    remedy="Set a background colour on a cell around it.",
    check=check,
)
