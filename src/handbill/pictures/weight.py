"""As light as looks the same. Enters: finished pixels; leaves: the smallest encoding above a published floor.

What it may lose is told by structural similarity (see `likeness`).
"""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
from PIL import Image

from handbill.pictures.likeness import Original

FLOOR = 0.95  # of a JPEG: what it loses is spread and looks like grain
PALETTE_FLOOR = 0.98  # of fewer colours: what they lose shows as bands
# A block of one colour has the DC coefficient 8 x its level (T.81, A.3.3). From quality 78 on the DC steps
# are 8 at most: even areas keep their colour but for the rounding of YCbCr, one level at most.
QUALITIES = (78, 80, 82, 85, 88, 91, 94)
_BITS = 5  # of a channel, by which colours are grouped before they are clustered
_TURNS = 4  # of k-means; more change next to nothing
_EVEN = 50  # a colour that one pixel in so many has is kept exactly
_CHUNK = 2048  # rows of the table of distances at a time


def jpeg(picture: Image.Image) -> bytes:
    """The lowest quality whose likeness reaches the floor, else the highest.

    Likeness is that of luma, and luma is a component of its own in the file (JFIF 1.02): it is coded alone
    until the quality is found. Baseline, since it costs at most five percent over progressive and every
    reader shows it; 4:4:4, so that no colour bleeds into the page at the edges.
    """
    rgb = picture.convert("RGB")
    luma = rgb.convert("L")
    original = Original(luma)
    low, high = 0, len(QUALITIES) - 1
    trial = 0  # the lowest does for most; the others are halved
    while low < high:
        with Image.open(BytesIO(_at(luma, QUALITIES[trial], optimize=False))) as decoded:
            enough = original.likeness(decoded) >= FLOOR
        low, high = (low, trial) if enough else (trial + 1, high)
        trial = (low + high) // 2
    return _best(rgb, QUALITIES[low])


def _best(rgb: Image.Image, quality: int) -> bytes:
    try:
        return _at(rgb, quality, optimize=True)
    except OSError:  # of a very rough picture Pillow's buffer holds too little
        return _at(rgb, quality, optimize=False)


def _at(picture: Image.Image, quality: int, *, optimize: bool) -> bytes:
    out = BytesIO()
    picture.save(out, "JPEG", quality=quality, subsampling=0, optimize=optimize)
    return out.getvalue()


def fewer(picture: Image.Image) -> Image.Image | None:
    """RGBA in 256 colours, if that is as like on white and on black as the floor asks; else None."""
    made = in_colours(picture, 256)
    if made is None:
        return None
    for ground in ("white", "black"):
        shown = Original(_over(picture, ground)).likeness(_over(made.convert("RGBA"), ground))
        if shown < PALETTE_FLOOR:
            return None
    return made


def in_colours(picture: Image.Image, most: int) -> Image.Image | None:
    """RGBA in at most so many colours, up to 256, each pixel in the nearest; None if it has hardly more."""
    levels = np.ascontiguousarray(np.asarray(picture, np.uint8)).reshape(-1, 4)
    cells = (levels >> (8 - _BITS)).astype(np.int32)
    keys = ((cells[:, 0] << _BITS | cells[:, 1]) << _BITS | cells[:, 2]) << _BITS | cells[:, 3]
    often = np.bincount(keys, minlength=1 << 4 * _BITS)
    there = np.flatnonzero(often)
    counts = often[there]
    points = _sums(keys, levels, there) / counts[:, None]
    if len(points) <= most:
        return None
    centres = _clustered(points, counts.astype(np.float64), most)
    nearest = _nearest(points, centres)
    colours = np.concatenate(
        [centres[:, :3] * 255 / np.maximum(centres[:, 3:], 1e-9), centres[:, 3:]], axis=1
    )
    colours[centres[:, 3] < 0.5] = 0
    rank = np.zeros(len(often), np.uint8)  # of a cell: the number of its nearest centre
    rank[there] = nearest
    words = levels.view(np.uint32).ravel()
    frequent, times = np.unique(words[(often * _EVEN >= len(keys))[keys]], return_counts=True)
    for word in frequent[times * _EVEN >= len(keys)]:  # even areas do not shift
        at = int(np.argmax(words == word))
        colours[rank[keys[at]]] = levels[at]
    made = Image.fromarray(rank[keys].reshape(picture.height, picture.width), "P")
    made.putpalette(np.clip(np.rint(colours), 0, 255).astype(np.uint8).tobytes(), "RGBA")
    return made


def _sums(keys: Any, levels: Any, there: Any) -> Any:
    """The sums of each cell's colours as they show on black, and of their alpha."""
    alpha = levels[:, 3].astype(np.float64)
    share = alpha / 255
    weights = (*(levels[:, at] * share for at in range(3)), alpha)
    return np.stack([np.bincount(keys, one)[there] for one in weights], axis=1)


def _clustered(points: Any, counts: Any, most: int) -> Any:
    """`most` centres by weighted k-means, begun at the points that are most frequent along the range."""
    order = np.lexsort(points.T)
    along = np.cumsum(np.sqrt(counts[order]))
    starts = np.searchsorted(along, (np.arange(most) + 0.5) / most * along[-1])
    centres = points[order[np.minimum(starts, len(order) - 1)]]
    for _ in range(_TURNS):
        nearest = _nearest(points, centres)
        weight = np.bincount(nearest, counts, most)
        sums = np.stack([np.bincount(nearest, points[:, at] * counts, most) for at in range(4)], axis=1)
        centres = np.where(weight[:, None] > 0, sums / np.maximum(weight[:, None], 1e-9), centres)
    return centres


def _nearest(points: Any, centres: Any) -> Any:
    """The number of the nearest centre of each point."""
    own = (centres * centres).sum(axis=1)
    parts = [
        # by einsum, not a library's threads: for tables this small they wait more than they work
        (own - 2 * np.einsum("pc,kc->pk", points[at : at + _CHUNK], centres)).argmin(axis=1)
        for at in range(0, len(points), _CHUNK)
    ]
    return np.concatenate(parts)


def _over(picture: Image.Image, ground: str) -> Image.Image:
    whole = Image.new("RGBA", picture.size, ground)
    whole.alpha_composite(picture)
    return whole
