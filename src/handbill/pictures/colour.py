"""Colours as numbers. Enters: sRGB levels in arrays; leaves: linear light, OKLab, luminance, differences.

sRGB by IEC 61966-2-1, OKLab by B. Ottosson ("A perceptual color space for image processing", 2020, with the
matrices as CSS Color 4 gives them), luminance and contrast by WCAG 2.2. Needs numpy, so it is imported late.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# linear sRGB -> cone responses -> OKLab (CSS Color 4, section 9: XYZ and OKLab, their product)
_CONES = np.array([
    [0.4122214708, 0.5363325363, 0.0514459929],
    [0.2119034982, 0.6806995451, 0.1073969566],
    [0.0883024619, 0.2817188376, 0.6299787005],
])  # fmt: skip
_LAB = np.array([
    [0.2104542553, 0.7936177850, -0.0040720468],
    [1.9779984951, -2.4285922050, 0.4505937099],
    [0.0259040371, 0.7827717662, -0.8086757660],
])  # fmt: skip
_FROM_CONES = np.linalg.inv(_CONES)
_FROM_LAB = np.linalg.inv(_LAB)
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # WCAG 2.2, relative luminance
_KNEE = 0.04045  # sRGB; WCAG prints 0.03928, which no 8-bit level tells apart


def linear(srgb: Any) -> Array:
    """Linear light, 0 to 1, of sRGB values from 0 to 1."""
    value = np.asarray(srgb, dtype=np.float64)
    return np.where(value <= _KNEE, value / 12.92, ((np.maximum(value, 0) + 0.055) / 1.055) ** 2.4)


def srgb(light: Any) -> Array:
    """sRGB values from 0 to 1 of linear light from 0 to 1."""
    value = np.asarray(light, dtype=np.float64)
    low = value <= 0.0031308
    return np.where(low, value * 12.92, 1.055 * np.maximum(value, 0.0031308) ** (1 / 2.4) - 0.055)


_LEVELS = linear(np.arange(256) / 255)


def light_of(levels: Any) -> Array:
    """Linear light of 8-bit levels."""
    return _LEVELS[np.asarray(levels, dtype=np.uint8)]


def oklab(light: Any) -> Array:
    """OKLab (L from 0 to 1, a, b) of linear sRGB on the last axis."""
    lab: Array = np.cbrt(np.asarray(light) @ _CONES.T) @ _LAB.T
    return lab


def from_oklab(lab: Any) -> Array:
    """Linear sRGB of OKLab on the last axis; colours outside sRGB lie outside 0 to 1."""
    light: Array = (np.asarray(lab) @ _FROM_LAB.T) ** 3 @ _FROM_CONES.T
    return light


def lab_of(levels: Any) -> Array:
    """OKLab of 8-bit sRGB levels on the last axis."""
    return oklab(light_of(levels))


def difference(one: Any, other: Any) -> Array:
    """Euclidean distance in OKLab, times 100: about 2 is the least that side by side is seen."""
    distance: Array = np.sqrt(((np.asarray(one) - np.asarray(other)) ** 2).sum(axis=-1)) * 100
    return distance


def luminance(light: Any) -> Array:
    """Relative luminance of linear sRGB on the last axis."""
    value: Array = np.asarray(light) @ _LUMINANCE
    return value


def contrast(one: Any, other: Any) -> Array:
    """Contrast ratio of two relative luminances, 1 to 21."""
    high, low = np.maximum(one, other), np.minimum(one, other)
    return np.asarray((high + 0.05) / (low + 0.05))


def levels_of(colour: str) -> tuple[int, int, int]:
    """The levels of #rrggbb."""
    red, green, blue = bytes.fromhex(colour[1:])
    return red, green, blue


def hex_of(levels: Any) -> str:
    """#rrggbb of three levels."""
    return "#" + bytes(int(one) for one in levels).hex()
