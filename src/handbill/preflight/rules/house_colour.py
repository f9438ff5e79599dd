"""Colours that are not the shop's."""

from collections.abc import Iterator

from handbill.colour.srgb import Rgb, rgb, written
from handbill.preflight.contract import WARNING, Hit, Rule, span
from handbill.preflight.contrasts import by_section, cut
from handbill.preflight.page import PHONE
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Text colours and grounds that no role of the house style has, once in each section.

    The solid colour under a picture is the picture's own.
    """
    house = palette(mail)
    for _id, inks in by_section(mail, mail.page.inks(PHONE).texts):
        said: set[Rgb] = set()
        for ink in inks:
            pairs = ((ink.colour, "set in"), (ink.ground.colour, "on"))
            for colour, what in pairs[:1] if ink.ground.picture else pairs:
                if colour not in house and colour not in said and ink.ground.owner is not None:
                    said.add(colour)
                    message = (
                        f"“{cut(ink.text)}” is {what} {written(colour)}, which is no colour of the house"
                    )
                    yield Hit(message, span(ink.element, written(colour)))


def palette(mail: Specimen) -> frozenset[Rgb]:
    """Every colour of the house style, in all tones and both schemes."""
    tones = mail.mail.library.house.colours.values()
    return frozenset(rgb(colour) for roles in tones for pair in roles.values() for colour in pair)


RULE = Rule(
    slug="house-colour",
    group="brand",
    severity=WARNING,
    needs=frozenset({"source", "html"}),
    about="Text and grounds have colours of the house style.",
    why="One mail in a colour of its own looks like another shop's, and no dark scheme was made for it.",
    source="the shop's own brand.yaml",
    remedy="Add the colour to a tone in brand.yaml with its dark partner, or choose one that is there.",
    check=check,
)
