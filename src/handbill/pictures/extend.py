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
COAST = 0.06  # of the width: how far the picture's own change from row to row goes on, fading
MOST_COURSE = 0.0008  # OKLab a row: a steeper change is an object, not a sky
_COURSE = 4  # times the edge's rows are looked at for that change
_MOST_COLUMNS = 300
_TUKEY = 4.685  # 95 % efficiency on normal noise (Beaton and Tukey 1974)
_ROUNDS = 12


def fitted(edge: Array) -> Array:
    """The robust curve through an edge's mean colours: (columns, 3) to (columns, 3), both OKLab.

    Least squares of degree 2 in x, reweighted by Tukey's biweight with the scale of the median deviation.
    """
    curve: Array = _basis(edge.shape[0]) @ _factors(edge)
    return curve


def _basis(columns: int) -> Array:
    return np.vander(np.linspace(-1, 1, columns), DEGREE + 1)


def _factors(edge: Array) -> Array:
    """The curve's factors, (degree + 1, 3)."""
    if edge.shape[0] > _MOST_COLUMNS:  # a curve this simple needs no more
        edge = edge[:: edge.shape[0] // _MOST_COLUMNS]
    basis = _basis(edge.shape[0])
    weights = _biweight(difference(edge, np.median(edge, axis=0)))
    factors: Array = np.zeros((DEGREE + 1, 3))
    for _ in range(_ROUNDS):
        heavy = basis * weights[:, None]
        factors = np.asarray(np.linalg.solve(basis.T @ heavy, heavy.T @ edge), dtype=np.float64)
        weights = _biweight(difference(edge, basis @ factors))
    return factors


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
    return len(_calm_rows(levels, most)) * _step(levels)


def _step(levels: np.ndarray) -> int:
    return max(1, rows_of(levels) // 2)


def _calm_rows(levels: np.ndarray, most: int) -> list[Array]:
    """The curves' factors of the calm rows at the upper edge, one for every `_step` rows."""
    step = _step(levels)
    found: list[Array] = []
    for top in range(0, min(most, levels.shape[0]) - step + 1, step):
        row = lab_of(levels[top : top + step]).mean(axis=0)
        factors = _factors(row)
        if np.percentile(difference(row, _basis(len(row)) @ factors), 95) > HEADROOM_HIGH:
            break
        found.append(factors)
    return found


def grown(levels: np.ndarray, rows: int, seed: str, towards: str | None = None) -> np.ndarray:
    """`levels` with `rows` more above it, 8-bit sRGB; `towards` (#rrggbb) is where the new colours go.

    They start with the picture's own course, across and down. `seed` makes the dither: the same seed, the
    same levels.
    """
    width = levels.shape[1]
    lab = lab_of(levels[: rows_of(levels)])
    edge = _factors(np.median(lab, axis=0))
    calm_rows = _calm_rows(levels, round(MAX_FADE * width / 1200))
    course = _course(edge, calm_rows, rows_of(levels), _step(levels))
    basis = _basis(width)
    curve = basis @ edge
    away = np.arange(rows, 0, -1) - 0.5
    if towards is None:
        goal = np.median(curve, axis=0)
        left = np.exp(-away / (width * RELAX))
        reach = width * COAST
        coast = reach * (1 - np.exp(-away / reach))
        grain = np.ones(rows)
    else:  # it arrives: the last third is the colour itself
        goal = lab_of([levels_of(towards)])[0]
        share = np.clip(away / (rows * 2 / 3), 0, 1)
        left = _smooth(1 - share)
        coast = away * (1 - share) ** 2
        grain = np.minimum(left * 50, 1)
    made = goal + left[:, None, None] * (curve - goal) - coast[:, None, None] * course
    fade = len(calm_rows) * _step(levels)
    inside = lab_of(levels[:fade])
    own = _between(calm_rows, _step(levels), fade)
    even = basis @ own if fade else inside
    # at the join the picture is its own even course, and further in itself
    share = _smooth((np.arange(fade) + 0.5) / max(fade, 1))[:, None, None]
    joined = (1 - share) * (curve - (basis @ own[0] if fade else curve))
    blended = even + joined + share * (inside - even)
    grain = np.concatenate([grain, 1 - _smooth((np.arange(fade) + 0.5) / max(fade, 1))])
    new = _levels(np.concatenate([made, blended]), grain, seed)
    return np.concatenate([new, levels[fade:]])


def _course(edge: Array, calm_rows: list[Array], rows: int, step: int) -> Array:
    """How the colours change from one row to the next down into the picture, (3,); nothing without
    headroom."""
    count = min(len(calm_rows), max(2, _COURSE * rows // step))
    if count < 2:
        return np.zeros(3)
    middle = np.array([factors[-1] for factors in calm_rows[:count]])
    slope: Array = (
        np.median(np.diff(middle, axis=0), axis=0) / step
    )  # a jump from one row to the next is none
    size = float(np.sqrt((slope**2).sum()))
    return slope * min(1.0, MOST_COURSE / size) if size else slope


def _between(curves: list[Array], step: int, rows: int) -> Array:
    """Factors for every row, from those of every `step`: (rows, degree + 1, 3)."""
    if not curves:
        return np.zeros((0, DEGREE + 1, 3))
    known = np.array(curves)
    at = np.clip((np.arange(rows) + 0.5) / step - 0.5, 0, len(curves) - 1)
    low = np.minimum(at.astype(int), max(len(curves) - 2, 0))
    high = np.minimum(low + 1, len(curves) - 1)
    share = (at - low)[:, None, None]
    return np.asarray(known[low] * (1 - share) + known[high] * share)


def _smooth(share: Array) -> Array:
    return np.asarray(share * share * (3 - 2 * share))


def _levels(lab: Array, grain: Array, seed: str) -> np.ndarray:
    """8-bit levels of OKLab, dithered by noise that comes from `seed` alone, each row by its share of it."""
    exact = srgb(np.clip(from_oklab(lab), 0, 1)) * 255
    noise = np.frombuffer(shake_128(seed.encode()).digest(exact.size), dtype=np.uint8).reshape(exact.shape)
    dithered = exact + (noise / 255 * 2 - 1) * (DITHER * grain[:, None, None])
    return np.asarray(np.clip(np.rint(dithered), 0, 255), dtype=np.uint8)
