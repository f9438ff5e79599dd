"""As light as looks the same. Enters: finished pixels; leaves: the smallest encoding above a published floor.

Likeness is the structural similarity of luma (Z. Wang et al., "Image quality assessment", IEEE TIP 13(4),
2004), by windows of 7 x 7 px of equal weight and sample covariances; 1 is the same picture.
"""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
from PIL import Image

FLOOR = 0.95  # of a JPEG: what it loses is spread and looks like grain
PALETTE_FLOOR = 0.98  # of fewer colours: what they lose shows as bands
WINDOW = 7  # px
# A block of one colour has the DC coefficient 8 x its level (T.81, A.3.3). From quality 78 on the DC steps
# are 8 at most: even areas keep their colour but for the rounding of YCbCr, one level at most.
QUALITIES = (78, 80, 82, 85, 88, 91, 94)
_BITS = 5  # of a channel, by which colours are grouped before they are clustered
_TURNS = 4  # of k-means; more change next to nothing
_EVEN = 50  # a colour that one pixel in so many has is kept exactly
_CHUNK = 2048  # rows of the table of distances at a time


def likeness(one: Image.Image, other: Image.Image) -> float:
    """Mean structural similarity of two pictures of one size, 0 to 1; below 7 px on a side 1 if they are
    equal."""
    first, second = (np.asarray(each.convert("L"), np.float64) for each in (one, other))
    if min(first.shape) < WINDOW:
        return float((first == second).all())
    mean_1, mean_2 = _means(first), _means(second)
    sample = WINDOW**2 / (WINDOW**2 - 1)
    own = sample * (_means(first * first) - mean_1 * mean_1 + _means(second * second) - mean_2 * mean_2)
    both = sample * (_means(first * second) - mean_1 * mean_2)
    c1, c2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2
    above = (2 * mean_1 * mean_2 + c1) * (2 * both + c2)
    return float((above / ((mean_1 * mean_1 + mean_2 * mean_2 + c1) * (own + c2))).mean())


def _means(levels: Any) -> Any:
    sums = np.cumsum(np.cumsum(np.pad(levels, ((1, 0), (1, 0))), 0), 1)
    n = WINDOW
    return (sums[n:, n:] - sums[:-n, n:] - sums[n:, :-n] + sums[:-n, :-n]) / (n * n)


def jpeg(picture: Image.Image) -> bytes:
    """The lowest quality whose likeness reaches the floor, else the highest.

    Baseline, since it costs at most five percent over progressive and every reader shows it; 4:4:4, so that
    no colour bleeds into the page at the edges.
    """
    rgb = picture.convert("RGB")
    made = b""
    for quality in QUALITIES:
        made = _at(rgb, quality)
        with Image.open(BytesIO(made)) as decoded:
            if likeness(rgb, decoded) >= FLOOR:
                break
    return made


def _at(rgb: Image.Image, quality: int) -> bytes:
    for optimize in (True, False):  # of a very rough picture Pillow's buffer holds too little for the first
        out = BytesIO()
        try:
            rgb.save(out, "JPEG", quality=quality, subsampling=0, optimize=optimize)
        except OSError:
            if not optimize:
                raise
        else:
            break
    return out.getvalue()


def fewer(picture: Image.Image) -> Image.Image | None:
    """RGBA in 256 colours, if that is as like on white and on black as the floor asks; else None."""
    levels = np.asarray(picture, np.uint8)
    shift = 8 - _BITS
    cells = (levels >> shift).reshape(-1, 4).astype(np.int32)
    keys = ((cells[:, 0] << _BITS | cells[:, 1]) << _BITS | cells[:, 2]) << _BITS | cells[:, 3]
    _, place, counts = np.unique(keys, return_inverse=True, return_counts=True)
    flat = levels.reshape(-1, 4).astype(np.float64)
    share = flat[:, 3:] / 255
    shown = np.concatenate([flat[:, :3] * share, flat[:, 3:]], axis=1)  # as it shows on black
    points = np.stack([np.bincount(place, shown[:, at]) for at in range(4)], axis=1) / counts[:, None]
    if len(points) <= 256:
        return None
    centres = _clustered(points, counts.astype(np.float64))
    nearest = _nearest(points, centres)
    colours = np.concatenate(
        [centres[:, :3] * 255 / np.maximum(centres[:, 3:], 1e-9), centres[:, 3:]], axis=1
    )
    colours[centres[:, 3] < 0.5] = 0
    _, first, often = np.unique(
        np.ascontiguousarray(levels).view(np.uint32).ravel(), return_index=True, return_counts=True
    )
    for number in first[often * _EVEN >= len(place)][:128]:  # even areas do not shift
        colours[nearest[place[number]]] = levels.reshape(-1, 4)[number]
    made = Image.fromarray(nearest[place].astype(np.uint8).reshape(levels.shape[:2]), "P")
    made.putpalette(np.clip(np.rint(colours), 0, 255).astype(np.uint8).tobytes(), "RGBA")
    for ground in ("white", "black"):
        if likeness(_over(picture, ground), _over(made.convert("RGBA"), ground)) < PALETTE_FLOOR:
            return None
    return made


def _clustered(points: Any, counts: Any) -> Any:
    """256 centres by weighted k-means, begun at the points that are most frequent along the range."""
    order = np.lexsort(points.T)
    along = np.cumsum(np.sqrt(counts[order]))
    starts = np.searchsorted(along, (np.arange(256) + 0.5) / 256 * along[-1])
    centres = points[order[np.minimum(starts, len(order) - 1)]]
    for _ in range(_TURNS):
        nearest = _nearest(points, centres)
        weight = np.bincount(nearest, counts, 256)
        sums = np.stack([np.bincount(nearest, points[:, at] * counts, 256) for at in range(4)], axis=1)
        centres = np.where(weight[:, None] > 0, sums / np.maximum(weight[:, None], 1e-9), centres)
    return centres


def _nearest(points: Any, centres: Any) -> Any:
    """The number of the nearest centre of each point."""
    own = (centres * centres).sum(axis=1)
    parts = [
        (own - 2 * points[at : at + _CHUNK] @ centres.T).argmin(axis=1)
        for at in range(0, len(points), _CHUNK)
    ]
    return np.concatenate(parts)


def _over(picture: Image.Image, ground: str) -> Image.Image:
    whole = Image.new("RGBA", picture.size, ground)
    whole.alpha_composite(picture)
    return whole
