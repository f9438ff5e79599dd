"""A house style's colours from a logo or photo. Enters: a picture file; leaves: the colours to use.

The picture's like colours are grouped in OKLab (`pictures.sampled`). Whether they can be read is not asked
here: the palette that is made of them mixes each until it can.
"""

from __future__ import annotations

from pathlib import Path

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.pictures.sampled import Group, colours_of
from handbill.pictures.source import inspect, source_bytes

COLOURFUL = 0.07  # OKLab chroma to lightness from which a colour is one, and not a grey
DEEP = 0.3  # OKLab lightness below which chroma is not weighed up any more
SMALL = 0.004  # of the picture: less than that is a stray
APART = 35.0  # degrees of hue between two colours that are not shades of one
PALE = 0.9  # OKLab lightness from which a colour can lie under words
TINT = 0.06  # chroma up to which it is quiet enough for that
MUCH = 0.1  # of the picture: a ground is no detail
NEAR = 0.08  # OKLab: a group this near the backdrop is the backdrop
DARK = 0.5  # OKLab lightness up to which a grey can lead
BLACK = "#1b1b1b"


@dataclass(frozen=True, slots=True)
class Part:
    """A colour #rrggbb with what it is taken for, and its share of the picture, 0 to 1."""

    role: str
    colour: str
    share: float


@dataclass(frozen=True, slots=True)
class Taken:
    """What a picture proposes: one or two colours, the first leads; the ground, white where it has none."""

    colours: tuple[str, ...]
    ground: str
    parts: tuple[Part, ...]


def taken(path: Path, cache: Cache) -> Taken:
    """Look at the picture `path`. Raises Fault for a file that is none, that moves, or that shows nothing."""
    source = inspect(path, cache)
    if source.animated:
        raise Fault(f"picture {path.name} moves", expected="a still picture")
    from handbill.pictures import pixels  # brings Pillow

    try:
        with pixels.quiet():
            found, backdrop = colours_of(pixels.upright(source_bytes(source)))
    except pixels.PictureError as error:
        raise Fault(f"picture {path.name} {error}") from None
    if not found:
        raise Fault(f"picture {path.name} is transparent all over", expected="a picture that shows something")
    return _chosen(found, backdrop, source.alpha)


def _chosen(found: list[Group], backdrop: Group | None, alpha: bool) -> Taken:
    thing = [one for one in found if backdrop is None or one.off(backdrop) > NEAR]
    bright = [one for one in thing if _strong(one) >= COLOURFUL and one.share >= SMALL]
    if not bright and backdrop is not None and _strong(backdrop) >= COLOURFUL:
        bright = [backdrop]
    # what is vivid counts more than what is large: a brand's colour is often a small part of a photograph
    bright = [one for one in bright if not _quiet(one)] or bright
    bright.sort(key=lambda one: (-_strong(one) * one.share**0.5, one.colour))
    lead = bright[0] if bright else _grey(thing or found)
    others = [one for one in bright[1:] if _around(one.hue, lead.hue) >= APART]
    chosen = [lead, *others[:1]]
    # what a cut-out logo is drawn in is no ground
    grounds = [] if alpha else [backdrop] if backdrop else found
    pale = [one for one in grounds if one.lightness >= PALE]
    ground = next((one for one in pale if one.chroma <= TINT and one.share >= MUCH), None)
    parts = [Part(role, one.colour, one.share) for role, one in zip(("lead", "mark"), chosen, strict=False)]
    if ground is not None:
        parts.append(Part("ground", ground.colour, ground.share))
    return Taken(tuple(one.colour for one in chosen), ground.colour if ground else "#ffffff", tuple(parts))


def _strong(one: Group) -> float:
    """How strong a colour looks: a dark one needs less chroma for it."""
    return one.chroma / max(one.lightness, DEEP)


def _quiet(one: Group) -> bool:
    """A pale tint, which lies under things rather than leads."""
    return one.lightness > 0.82 and one.chroma < 0.1


def _grey(found: list[Group]) -> Group:
    """The darkest grey, or black where all is light."""
    darkest = min(found, key=lambda one: (one.lightness, one.colour))
    return darkest if darkest.lightness <= DARK else Group(BLACK, 0.2, 0.0, 0.0, 0.0)


def _around(one: float, other: float) -> float:
    off = abs(one - other) % 360
    return min(off, 360 - off)
