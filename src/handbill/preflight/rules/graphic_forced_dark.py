"""Contrast of signs and of buttons' edges where a reader changes the colours by itself."""

from collections.abc import Iterator

from handbill.colour.dark import Way, shown
from handbill.colour.srgb import GRAPHIC, Rgb, contrast, over
from handbill.dom.tree import Element
from handbill.preflight.buttons import face, outside
from handbill.preflight.contract import NOTE, Hit, Rule, span
from handbill.preflight.page import PHONE
from handbill.preflight.signs import signs
from handbill.preflight.specimen import Specimen

WAYS: tuple[tuple[Way, str], ...] = (
    ("partial", "readers darken light grounds"), ("full", "readers invert all colours"),
)  # fmt: skip


def check(mail: Specimen) -> Iterator[Hit]:
    """What is clear as the mail shows it, and lost in one of the two ways; one finding a section and way."""
    for way, how in WAYS:
        lost: dict[str, list[tuple[str, Element]]] = {}
        for name, at, colours, ground, pixels in (*_signs(mail), *_outlines(mail)):
            if _lost(colours, ground, way, pixels):
                part = mail.part_at(at.start)
                lost.setdefault(part.id if part is not None else "", []).append((name, at))
        for found in lost.values():
            name, at = found[0]
            more = " like others here" if len(found) > 1 else ""
            message = f"“{name}”{more} has less than {GRAPHIC:g}:1 with its ground where {how} (modelled)"
            yield Hit(message, span(at, name))


def _lost(colours: tuple[Rgb, ...], ground: Rgb, way: Way, pixels: bool) -> bool:
    """Whether no colour is clear any more once a reader has changed them, and one was before; pictures keep
    their pixels."""
    if max((contrast(one, ground) for one in colours), default=0.0) < GRAPHIC:
        return False  # told by other rules, as the mail itself shows it
    below = shown(ground, ground, way)[1]
    return all(contrast(one if pixels else shown(one, ground, way)[0], below) < GRAPHIC for one in colours)


_Drawn = tuple[str, Element, tuple[Rgb, ...], Rgb, bool]


def _signs(mail: Specimen) -> Iterator[_Drawn]:
    for sign in signs(mail, PHONE):
        yield sign.name, sign.element, sign.colours, sign.ground.colour, sign.pixels


def _outlines(mail: Specimen) -> Iterator[_Drawn]:
    """Buttons that are seen by their border alone; a label on a fill of its own is text, and judged so."""
    inks = mail.page.inks(PHONE)
    for button in mail.readings.buttons:
        drawn = face(button.link.element, inks)
        if drawn is None or inks.grounds[drawn].owner is drawn:
            continue
        around, style = outside(drawn, inks).colour, inks.styler.of(drawn)
        borders = [
            over(colour, around)
            for width, colour in zip(style.border, style.border_colors, strict=True)
            if width
        ]
        yield button.label, button.link.element, tuple(borders), around, False


RULE = Rule(
    slug="graphic-forced-dark",
    group="access",
    severity=NOTE,
    needs=frozenset({"html", "layout"}),
    about="Signs and the outlines of buttons stay visible where a reader darkens a mail in its own way.",
    why="A dark icon on a light ground is lost when the ground alone turns dark, for no reader changes a "
    "picture. How readers do it is a model, as for text.",
    source="WCAG 2.2 SC 1.4.11 gives the measure; a model of common practice, and no measurement",
    remedy="Give the sign a colour that is clear on light and dark, a rim, or a ground of its own.",
    check=check,
)
