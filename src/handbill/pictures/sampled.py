"""The colours a picture is made of. Enters: pixels; leaves: groups of like colours.

Groups are k-means in OKLab, begun at the most frequent colour and then at whatever lies furthest off, so that
the same picture gives the same groups. Lightness counts for half: a thing's lit and shaded sides are one.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from PIL import Image

from handbill.base.frozen import dataclass
from handbill.pictures.colour import Array, difference, from_oklab, hex_of, lab_of, srgb
from handbill.pictures.shots import LIKE, ring_ground, solid_of, studied

GROUPS = 8  # to begin with
TURNS = 12  # of k-means
ALIKE = 0.06  # groups nearer than this are one, OKLab with half of the lightness
CELL = 0.02  # of OKLab: pixels are counted by cells of this side
LIGHTNESS = 0.5
OPAQUE = 128  # alpha from which a pixel counts
_SCALE = np.array([LIGHTNESS, 1.0, 1.0])


@dataclass(frozen=True, slots=True)
class Group:
    """Like colours: their middle as #rrggbb, its OKLab lightness, chroma and hue (degrees), the share of the
    picture, 0 to 1."""

    colour: str
    lightness: float
    chroma: float
    hue: float
    share: float

    def off(self, other: Group) -> float:
        """Euclidean distance in OKLab."""
        turn = np.radians(self.hue - other.hue)
        across = self.chroma**2 + other.chroma**2 - 2 * self.chroma * other.chroma * float(np.cos(turn))
        return float(np.sqrt((self.lightness - other.lightness) ** 2 + max(0.0, across)))


def groups(lab: Array) -> list[Group]:
    """The groups of pixels given as OKLab (n, 3), the largest first."""
    if not len(lab):
        return []
    _cells, place, counts = np.unique(
        np.rint(lab / CELL).astype(np.int64), axis=0, return_inverse=True, return_counts=True
    )
    place = place.reshape(-1)
    points = np.stack([np.bincount(place, lab[:, at]) for at in range(3)], axis=1) / counts[:, None]
    nearest = _grouped(points * _SCALE, counts.astype(np.float64))
    found = []
    for number in np.unique(nearest):
        own = nearest[place] == number
        found.append(_group(np.median(lab[own], axis=0), own.mean()))
    return sorted(found, key=lambda one: (-one.share, one.colour))


def _group(middle: Array, share: float) -> Group:
    light = np.clip(from_oklab(middle), 0, 1)
    chroma, hue = float(np.hypot(*middle[1:])), float(np.degrees(np.arctan2(middle[2], middle[1])) % 360)
    return Group(hex_of(np.rint(srgb(light) * 255)), float(middle[0]), chroma, hue, float(share))


def _grouped(points: Array, counts: Array) -> Any:
    """The number of each point's group."""
    centres = [points[int(np.argmax(counts))]]
    off = ((points - centres[0]) ** 2).sum(axis=1)
    # a stray colour is no beginning: how far off counts by how often it is there
    while len(centres) < min(GROUPS, len(points)) and off.max() > ALIKE**2:
        centres.append(points[int(np.argmax(off * np.sqrt(counts)))])
        off = np.minimum(off, ((points - centres[-1]) ** 2).sum(axis=1))
    middle = np.array(centres)
    nearest = _nearest(points, middle)
    for _ in range(TURNS):
        weight = np.bincount(nearest, counts, len(middle))
        sums = np.stack(
            [np.bincount(nearest, points[:, at] * counts, len(middle)) for at in range(3)], axis=1
        )
        middle = np.where(weight[:, None] > 0, sums / np.maximum(weight[:, None], 1e-9), middle)
        nearest = _nearest(points, middle)
    return _merged(nearest, middle, np.bincount(nearest, counts, len(middle)))


def _merged(nearest: Any, middle: Array, weight: Any) -> Any:
    """Groups that are alike as one: the two nearest first, until none are."""
    name = np.arange(len(middle))
    middle, weight = middle.copy(), weight.copy()
    while True:
        apart = np.sqrt(((middle[:, None] - middle[None]) ** 2).sum(axis=2))
        apart[np.tril_indices(len(middle))] = np.inf
        apart[weight == 0] = apart[:, weight == 0] = np.inf
        one, other = np.unravel_index(int(np.argmin(apart)), apart.shape)
        if not apart[one, other] < ALIKE:
            return name[nearest]
        both = weight[one] + weight[other]
        middle[one] = (middle[one] * weight[one] + middle[other] * weight[other]) / both
        weight[one], weight[other] = both, 0
        name[name == other] = one


def _nearest(points: Array, middle: Array) -> Any:
    return ((points[:, None] - middle[None]) ** 2).sum(axis=2).argmin(axis=1)


def shot_colour(picture: Image.Image) -> str:
    """The colour of the thing in a product shot, #rrggbb: that of most of it, its backdrop left out.

    Raises NotPlainError for a shot without a plain backdrop.
    """
    small, solid = solid_of(picture)
    found = groups(lab_of(np.asarray(small.convert("RGB"))[solid]))
    return found[0].colour


def colours_of(picture: Image.Image) -> tuple[list[Group], Group | None]:
    """A picture's groups, and its backdrop where its edge is of one colour, without what is transparent."""
    small, _scale = studied(picture)
    levels = np.asarray(small.convert("RGBA"))
    seen = levels[..., 3] >= OPAQUE
    found = groups(lab_of(levels[..., :3][seen]))
    ground = ring_ground(levels[..., :3]) if seen.all() else None
    if ground is None:
        return found, None
    lab = lab_of(np.array(ground, dtype=np.uint8))
    share = float((difference(lab_of(levels[..., :3]), lab) <= LIKE).mean())
    return found, _group(lab, share)
