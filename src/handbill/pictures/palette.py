"""Fewer colours, only where it does not show. Enters: RGBA pixels; leaves: a palette and indexes, or nothing.

Median cut (P. Heckbert, "Color image quantization", SIGGRAPH 1982) over the distinct colours, weighted by how
often each occurs. A colour that makes up half of its group is kept exactly, so that even areas do not shift.
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Sequence
from heapq import heapify, heappop, heappush

MAX_COLOURS = 256  # PNG, section 11.2.3 (PLTE)
MAX_DISTINCT = 16_384  # more than that is shading, which 256 colours never hold well
# Errors are those of the worst of R, G, B and A, premultiplied, in levels of 255.
MAX_MEAN_ERROR = 0.5
MAX_ERROR = 8.0
MAX_SHARE_ABOVE = 0.001  # of the pixels, further off than MAX_ERROR

_Colour = tuple[int, int, int, int]
_Group = list[tuple[_Colour, int]]


def reduce(rgba: bytes) -> tuple[list[_Colour], bytes] | None:
    """At most 256 colours and each pixel's index into them; None if that would err by more than the limits.

    With 256 colours or fewer nothing changes.
    """
    words = array("I", rgba)
    counts = Counter(words)
    if len(counts) > MAX_DISTINCT:
        return None
    colours = {word: _split(word) for word in counts}
    if len(counts) <= MAX_COLOURS:
        chosen = {word: colours[word] for word in counts}
    else:
        chosen = _grouped({colours[word]: (word, count) for word, count in sorted(counts.items())})
        if not _close_enough(colours, counts, chosen):
            return None
    # Transparent ones first: PNG's tRNS chunk ends with the last entry that is not opaque.
    palette = sorted(set(chosen.values()), key=lambda colour: (colour[3], colour))
    index = {colour: number for number, colour in enumerate(palette)}
    lookup = {word: index[colour] for word, colour in chosen.items()}
    return palette, bytes(map(lookup.__getitem__, words))


def _split(word: int) -> _Colour:
    red, green, blue, alpha = array("I", [word]).tobytes()
    return red, green, blue, alpha


def _grouped(colours: dict[_Colour, tuple[int, int]]) -> dict[int, _Colour]:
    groups = _median_cut([(colour, count) for colour, (_, count) in sorted(colours.items())])
    chosen: dict[int, _Colour] = {}
    for group in groups:
        stand_in = _stand_in(group)
        for colour, _ in group:
            chosen[colours[colour][0]] = stand_in
    return chosen


def _median_cut(everything: _Group) -> list[_Group]:
    """Split the group of the greatest squared error at the mean of its worst channel, until 256 are there."""
    heap = [(*_spread(everything), 0, everything)]
    heapify(heap)
    serial = 1  # ties go to the older group, so that the order is fixed
    while len(heap) < MAX_COLOURS and heap[0][0] < 0:
        _, channel, middle, _, group = heappop(heap)
        low = [entry for entry in group if entry[0][channel] <= middle]
        high = [entry for entry in group if entry[0][channel] > middle]
        for half in (low, high):
            heappush(heap, (*_spread(half), serial, half))
            serial += 1
    return [entry[4] for entry in heap]


def _spread(group: _Group) -> tuple[float, int, float]:
    """Minus the squared error along the channel that has most of it, that channel, and its mean."""
    total = sum(count for _, count in group)
    worst = (0.0, 0, 0.0)
    for channel in range(4):
        sums = sum(colour[channel] * count for colour, count in group)
        squares = sum(colour[channel] ** 2 * count for colour, count in group)
        # In whole numbers, so that a group of one value is exactly 0 and never split.
        error = -(squares * total - sums * sums) / total
        worst = min(worst, (error, channel, sums / total))
    return worst


def _stand_in(group: _Group) -> _Colour:
    total = sum(count for _, count in group)
    colour, most = max(group, key=lambda entry: (entry[1], entry[0]))
    if 2 * most >= total:
        return colour
    red, green, blue, alpha = (
        (2 * sum(colour[channel] * count for colour, count in group) + total) // (2 * total)
        for channel in range(4)
    )
    return red, green, blue, alpha


def _close_enough(colours: dict[int, _Colour], counts: Counter[int], chosen: dict[int, _Colour]) -> bool:
    total, above = 0.0, 0
    for word, count in counts.items():
        error = _error(colours[word], chosen[word])
        total += error * count
        above += count if error > MAX_ERROR else 0
    pixels = counts.total()
    return total <= MAX_MEAN_ERROR * pixels and above <= MAX_SHARE_ABOVE * pixels


def _error(first: Sequence[int], second: Sequence[int]) -> float:
    """The largest difference on any channel, colours premultiplied: how far apart they show on black."""
    pairs = zip(first[:3], second[:3], strict=True)
    shown = max(abs(one * first[3] - other * second[3]) / 255 for one, other in pairs)
    return max(shown, abs(first[3] - second[3]))
