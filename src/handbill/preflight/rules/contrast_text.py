"""Contrast of text."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule
from handbill.preflight.contrasts import faint
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Every text on its solid ground, on phones and desktop."""
    yield from faint(mail, mail.page.views("light"))


RULE = Rule(
    slug="contrast-text",
    group="access",
    severity=ERROR,
    needs=frozenset({"html"}),
    about="Text stands out from its ground.",
    why="Some of the readers see less contrast than the one who chose the colours, and all of them read "
    "in the sun. Nothing is rounded: 4.499 is not enough.",
    source="WCAG 2.2 SC 1.4.3 (level AA): 4.5:1, and 3:1 from 24 px, or 18.66 px bold",
    remedy="Change the tone's colours in brand.yaml, or give the section another tone.",
    check=check,
)
