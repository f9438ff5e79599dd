"""Dark screens, as a model. Enters: a text's colour and its ground; leaves: what a reader shows of them.

Readers treat a mail on a dark screen in three ways (common practice; none of them publishes its arithmetic):
it stays as it is; only light grounds turn dark, and dark text on them light; or every colour is inverted in
lightness, its hue kept. A reader that follows the mail's own dark rules needs no model.
"""

from __future__ import annotations

from typing import Literal

from handbill.colour.oklab import from_rgb, to_rgb
from handbill.colour.srgb import Rgb

Way = Literal["none", "partial", "full"]
WAYS: tuple[Way, ...] = ("none", "partial", "full")

LIGHT = 0.6  # OKLab lightness from which the partial way takes a ground for light (from memory)
DARKEST = 0.2  # lightness of the darkest ground the two ways make of white (about #161616)


def inverted(colour: Rgb) -> Rgb:
    """The colour with its lightness turned round, from black to white and from white to near black."""
    light, a, b = from_rgb(colour)
    return to_rgb((1 - light * (1 - DARKEST), a, b))


def shown(ink: Rgb, ground: Rgb, way: Way) -> tuple[Rgb, Rgb]:
    """Text colour and ground as a reader that goes `way` shows them.

    The partial way looks at the ground: a light one is inverted, and with it text that is darker than it; on
    a ground that is dark already nothing changes.
    """
    if way == "none":
        return ink, ground
    if way == "full":
        return inverted(ink), inverted(ground)
    below = from_rgb(ground)[0]
    if below < LIGHT:
        return ink, ground
    above = from_rgb(ink)[0]
    return (inverted(ink) if above < LIGHT else ink), inverted(ground)
