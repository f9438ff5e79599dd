"""Text over pictures that may not show."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule, span
from handbill.preflight.contrasts import cut
from handbill.preflight.page import PHONE
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Background pictures with text over them and no colour of their own below."""
    said: set[object] = set()
    for ink in mail.page.inks(PHONE).texts:
        ground = ink.ground
        if ground.picture and ground.owner is not ground.holder and ground.holder not in said:
            said.add(ground.holder)
            message = f"“{cut(ink.text)}” stands over a picture with no solid colour of its own behind it"
            yield Hit(message, span(ink.element, ink.text))


RULE = Rule(
    slug="picture-without-colour",
    group="readers",
    severity=ERROR,
    needs=frozenset({"html"}),
    about="Text over a picture has a solid colour behind it as well.",
    why="Pictures are blocked until asked for in many readers, and word-processor-based ones show no "
    "background picture at all. The text then stands on whatever is behind.",
    source="WCAG 2.2 SC 1.4.3, failure F83; which readers show no backgrounds: the support data in "
    "docs/readers.md",
    remedy="Let the shared background macro set picture and colour together.",
    check=check,
)
