"""Fewer colours, only where it does not show. Enters: RGBA; leaves: a palette and indexes, or nothing.

Median cut (P. Heckbert, "Color image quantization", SIGGRAPH 1982) over the distinct colours, weighted by how
often each occurs. A colour that makes up half of its group is kept exactly, so that even areas do not shift.
"""

from __future__ import annotations

from heapq import heapify, heappop, heappush
from typing import Any

import numpy as np
from PIL import Image

MAX_COLOURS = 256  # PNG, section 11.2.3 (PLTE)
MAX_DISTINCT = 16_384  # more than that is shading, which 256 colours never hold well
# Errors are those of the worst of R, G, B and A, premultiplied, in levels of 255.
MAX_MEAN_ERROR = 0.5
MAX_ERROR = 8.0
MAX_SHARE_ABOVE = 0.001  # of the pixels, further off than MAX_ERROR

_Colour = tuple[int, ...]


def reduce(rgba: Image.Image) -> tuple[list[_Colour], bytes] | None:
    """At most 256 colours and each pixel's index into them; None if that would err by more than the limits.

    With 256 colours or fewer nothing changes.
    """
    counted = rgba.getcolors(MAX_DISTINCT)
    if counted is None:
        return None
    counted.sort(key=lambda one: one[1])
    colours = np.array([colour for _, colour in counted], np.uint8)
    counts = np.array([count for count, _ in counted], np.int64)
    stand_ins = colours
    if len(colours) > MAX_COLOURS:
        stand_ins = _grouped(colours, counts)
        if not _close_enough(colours, counts, stand_ins):
            return None
    # Transparent ones first: PNG's tRNS chunk ends with the last entry that is not opaque.
    palette = sorted({tuple(colour) for colour in stand_ins.tolist()}, key=lambda one: (one[3], one))
    index = {colour: number for number, colour in enumerate(palette)}
    numbers = np.array([index[tuple(colour)] for colour in stand_ins.tolist()], np.uint8)
    words = _words(colours)
    order = np.argsort(words)
    place = np.searchsorted(words[order], _words(np.frombuffer(rgba.tobytes(), np.uint8)))
    return palette, numbers[order][place].tobytes()


def _words(colours: Any) -> Any:
    """Each colour as one number."""
    return np.ascontiguousarray(colours).reshape(-1).view(np.uint32)


def _grouped(colours: Any, counts: Any) -> Any:
    """What stands for each colour."""
    made = np.empty_like(colours)
    for group in _median_cut(colours.astype(np.int64), counts):
        made[group] = _stand_in(colours[group].astype(np.int64), counts[group])
    return made


def _median_cut(colours: Any, counts: Any) -> list[Any]:
    """Split the group of the greatest squared error at the mean of its worst channel, until 256 are there;
    groups are places in `colours`."""
    everything = np.arange(len(colours))
    heap = [(*_spread(colours, counts), 0, everything)]
    heapify(heap)
    serial = 1  # ties go to the older group, so that the order is fixed
    while len(heap) < MAX_COLOURS and heap[0][0] < 0:
        _, channel, middle, _, group = heappop(heap)
        below = colours[group, channel] <= middle
        for half in (group[below], group[~below]):
            heappush(heap, (*_spread(colours[half], counts[half]), serial, half))
            serial += 1
    return [entry[4] for entry in heap]


def _spread(colours: Any, counts: Any) -> tuple[float, int, float]:
    """Minus the squared error along the channel that has most of it, that channel, and its mean."""
    total = int(counts.sum())
    weighted = colours * counts[:, None]
    worst = (0.0, 0, 0.0)
    sums, squares = weighted.sum(axis=0).tolist(), (weighted * colours).sum(axis=0).tolist()
    for channel in range(4):
        # In whole numbers, so that a group of one value is exactly 0 and never split.
        error = -(squares[channel] * total - sums[channel] ** 2) / total
        worst = min(worst, (error, channel, sums[channel] / total))
    return worst


def _stand_in(colours: Any, counts: Any) -> Any:
    total = int(counts.sum())
    most = int(counts.max())
    if 2 * most >= total:
        return colours[np.flatnonzero(counts == most)[-1]]  # they are sorted: the greatest of equals
    return (2 * (colours * counts[:, None]).sum(axis=0) + total) // (2 * total)


def _close_enough(colours: Any, counts: Any, stand_ins: Any) -> bool:
    """The largest difference on any channel, colours premultiplied: how far apart they show on black."""
    one, other = colours.astype(np.int64), stand_ins.astype(np.int64)
    shown = np.abs(one[:, :3] * one[:, 3:] - other[:, :3] * other[:, 3:]) / 255
    error = np.maximum(shown.max(axis=1), np.abs(one[:, 3] - other[:, 3]))
    pixels = int(counts.sum())
    mean = float((error * counts).sum()) <= MAX_MEAN_ERROR * pixels
    return mean and int(counts[error > MAX_ERROR].sum()) <= MAX_SHARE_ABOVE * pixels
