"""A canvas grown up or down. Enters: a picture's levels, rows to add; leaves: a picture that shows no join.

The edge's colours are fitted by a robust curve in OKLab; going away from the picture the curve relaxes
towards its median colour, or a given one. Whether that can look right is judged by the edge, not by the
join: on a busy edge the join measures near nothing and still looks wrong (docs/pictures.md has the figures).
"""

from __future__ import annotations

from hashlib import shake_128

import numpy as np

from handbill.pictures.colour import Array, difference, from_oklab, lab_of, levels_of, srgb

DEGREE = 2
ROWS = 8  # rows of the edge that are judged and fitted, at 1200 px across
HEADROOM_HIGH = 6.0  # OKLab times 100: a row above the subject keeps this close, 95th percentile
MAX_FADE = 120  # rows, at 1200 px across, over which the picture comes out of the curve
RELAX = 0.5  # of the picture's width: at this distance 1/e of the curve's shape is left
DITHER = 0.75  # levels either way, so that broad shades do not band
_TUKEY = 4.685  # 95 % efficiency on normal noise (Beaton and Tukey 1974)
_ROUNDS = 12


def fitted(edge: Array) -> Array:
    """The robust curve through an edge's mean colours: (columns, 3) to (columns, 3), both OKLab.

    Least squares of degree 2 in x, reweighted by Tukey's biweight with the scale of the median deviation.
    """
    columns = edge.shape[0]
    x = np.linspace(-1, 1, columns)
    basis = np.vander(x, DEGREE + 1)
    weights = np.ones(columns)
    start = np.median(edge, axis=0)
    weights = _biweight(difference(edge, start))
    curve = np.broadcast_to(start, edge.shape)
    for _ in range(_ROUNDS):
        root = np.sqrt(weights)[:, None]
        factors, *_rest = np.linalg.lstsq(basis * root, edge * root, rcond=None)
        curve = basis @ factors
        weights = _biweight(difference(edge, curve))
    return np.asarray(curve)


def _biweight(residual: Array) -> Array:
    scale = max(float(np.median(residual)) / 0.6745, 0.05)
    inside = np.clip(1 - (residual / (_TUKEY * scale)) ** 2, 0, None)
    return np.asarray(inside**2 + 1e-9)


def rows_of(levels: np.ndarray, count: int = ROWS) -> int:
    """How many rows of the edge count, for a picture of this width."""
    return int(max(2, min(round(count * levels.shape[1] / 1200), levels.shape[0])))


def calm(levels: np.ndarray) -> tuple[float, float]:
    """Median and 95th percentile of how far the pixels of the upper edge lie from its curve.

    `levels`: (rows, columns, 3), 8-bit sRGB; turn it over to judge the lower edge.
    """
    lab = lab_of(levels[: rows_of(levels)])
    off = difference(lab, fitted(np.median(lab, axis=0)))
    return float(np.median(off)), float(np.percentile(off, 95))


def headroom(levels: np.ndarray, most: int) -> int:
    """How many rows from the upper edge down, up to `most`, keep close to a curve of their own: room above
    the subject."""
    step = max(1, rows_of(levels) // 2)
    found = 0
    for top in range(0, min(most, levels.shape[0]) - step + 1, step):
        row = lab_of(levels[top : top + step]).mean(axis=0)
        if np.percentile(difference(row, fitted(row)), 95) > HEADROOM_HIGH:
            break
        found = top + step
    return found


def grown(levels: np.ndarray, rows: int, seed: str, towards: str | None = None) -> np.ndarray:
    """`levels` with `rows` more above it, 8-bit sRGB; `towards` (#rrggbb) is where the new colours go.

    `seed` makes the dither: the same seed, the same levels.
    """
    width = levels.shape[1]
    lab = lab_of(levels[: rows_of(levels)])
    curve = fitted(np.median(lab, axis=0))
    goal = np.median(curve, axis=0) if towards is None else lab_of([levels_of(towards)])[0]
    away = np.arange(rows, 0, -1) - 0.5
    if towards is None:
        left = np.exp(-away / (width * RELAX))
    else:  # it arrives: the last third is the colour itself
        left = _smooth(np.clip(1 - away / (rows * 2 / 3), 0, 1))
    made = goal + left[:, None, None] * (curve - goal)
    fade = headroom(levels, round(MAX_FADE * width / 1200))
    inside = lab_of(levels[:fade])
    share = _smooth((np.arange(fade) + 0.5) / max(fade, 1))[:, None, None]
    blended = curve + share * (inside - curve)
    new = _levels(np.concatenate([made, blended]), seed)
    return np.concatenate([new, levels[fade:]])


def _smooth(share: Array) -> Array:
    return np.asarray(share * share * (3 - 2 * share))


def _levels(lab: Array, seed: str) -> np.ndarray:
    """8-bit levels of OKLab, dithered by noise that comes from `seed` alone."""
    exact = srgb(np.clip(from_oklab(lab), 0, 1)) * 255
    noise = np.frombuffer(shake_128(seed.encode()).digest(exact.size), dtype=np.uint8).reshape(exact.shape)
    dithered = exact + (noise / 255 * 2 - 1) * DITHER
    return np.asarray(np.clip(np.rint(dithered), 0, 255), dtype=np.uint8)
