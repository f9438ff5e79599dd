"""How like two pictures are. Enters: pictures of one size; leaves: their structural similarity.

That of luma (Z. Wang et al., "Image quality assessment", IEEE TIP 13(4), 2004), by windows of 7 x 7 px of
equal weight and sample covariances; 1 is the same picture. Sums of a window are whole numbers below 2^31.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from PIL import Image

WINDOW = 7  # px
_COUNT = WINDOW**2
# The constants of the formula, for sums over a window in place of means and variances.
_C1 = np.float32((0.01 * 255) ** 2 * _COUNT**2)
_C2 = np.float32((0.03 * 255) ** 2 * _COUNT * (_COUNT - 1))
_BAND = 40  # rows at a time: what is worked on stays in the processor's cache


def likeness(one: Image.Image, other: Image.Image) -> float:
    """Mean structural similarity of two pictures of one size, 0 to 1; below 7 px on a side 1 if they are
    equal."""
    return Original(one).likeness(other)


class Original:
    """A picture that others are compared with: what is needed of it alone is worked out once."""

    def __init__(self, picture: Image.Image) -> None:
        self.luma = np.asarray(picture.convert("L"))
        self._bands: list[tuple[Any, Any, Any]] = []
        if min(self.luma.shape) < WINDOW:
            return
        for top in range(0, self.luma.shape[0] - WINDOW + 1, _BAND):
            levels = self._band(self.luma, top)
            sums = _sums(levels)
            self._bands.append((levels, sums, _COUNT * _sums(levels * levels) - sums * sums))

    @staticmethod
    def _band(luma: Any, top: int) -> Any:
        return luma[top : top + _BAND + WINDOW - 1].astype(np.int32)

    def likeness(self, picture: Image.Image) -> float:
        """Of `picture` to this one; see the function."""
        luma = np.asarray(picture.convert("L"))
        if not self._bands:
            return float((self.luma == luma).all())
        whole, count = 0.0, 0
        for number, (levels, sums, spread) in enumerate(self._bands):
            own = self._band(luma, number * _BAND)
            own_sums = _sums(own)
            product = sums * own_sums
            spreads = _COUNT * _sums(own * own) - own_sums * own_sums + spread
            shared = _COUNT * _sums(levels * own) - product
            squares = sums * sums + own_sums * own_sums
            above = (product.astype(np.float32) * 2 + _C1) * (shared.astype(np.float32) * 2 + _C2)
            below = (squares.astype(np.float32) + _C1) * (spreads.astype(np.float32) + _C2)
            above /= below
            whole += float(above.sum(dtype=np.float64))
            count += above.size
        return whole / count


def _sums(values: Any) -> Any:
    """The sum of every window, by pairs, fours and sixes of neighbours, across and then down."""
    pairs = values[:, :-1] + values[:, 1:]
    sixes = pairs[:, :-4] + pairs[:, 2:-2]
    sixes += pairs[:, 4:]
    rows = sixes[:, :-1] + values[:, 6:]
    pairs = rows[:-1] + rows[1:]
    sixes = pairs[:-4] + pairs[2:-2]
    sixes += pairs[4:]
    return sixes[:-1] + rows[6:]
