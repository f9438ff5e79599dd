"""Colours and contrast. Enters: CSS colours; leaves: channels, relative luminance, contrast ratios.

WCAG 2.2, definitions of "relative luminance" and "contrast ratio"; CSS Color 4 for the notations. Nothing is
rounded before it is compared: 4.499 does not meet 4.5.
"""

from __future__ import annotations

import re
from functools import lru_cache

Rgb = tuple[int, int, int]
Rgba = tuple[int, int, int, float]

TEXT, LARGE, GRAPHIC = 4.5, 3.0, 3.0  # WCAG 2.2 SC 1.4.3 (level AA) and SC 1.4.11
LARGE_PX, LARGE_BOLD_PX = 24.0, 14 * 96 / 72  # 18 pt, and 14 pt bold; 1 pt is 96/72 px
_BOLD = 700

_HEX = re.compile(r"#([0-9a-f]{3,4}|[0-9a-f]{6}|[0-9a-f]{8})")
_NUMBER = r"\s*([+-]?(?:\d+\.?\d*|\.\d+)%?)\s*"
_FUNCTION = re.compile(rf"rgba?\({_NUMBER}[, ]{_NUMBER}[, ]{_NUMBER}(?:[,/]{_NUMBER})?\)")


@lru_cache(maxsize=4096)
def parse(text: str) -> Rgba | None:
    """A CSS colour as channels of 0 to 255 and an alpha of 0 to 1; None for what is no such notation.

    Hexadecimal, rgb(), rgba() and names are read; other functions are not.
    """
    text = text.strip().lower()
    if text == "transparent":
        return 0, 0, 0, 0.0
    if not text.startswith(("#", "rgb")):
        from handbill.colour.names import NAMES

        text = NAMES.get(text, text)
    if found := _HEX.fullmatch(text):
        digits = found[1]
        if len(digits) < 6:
            digits = "".join(one * 2 for one in digits)
        red, green, blue, alpha = bytes.fromhex(digits.ljust(8, "f"))
        return red, green, blue, alpha / 255
    if found := _FUNCTION.fullmatch(text):
        red, green, blue = (_channel(one) for one in found.groups()[:3])
        return red, green, blue, _fraction(found[4]) if found[4] else 1.0
    return None


def _channel(text: str) -> int:
    number = float(text.removesuffix("%")) * 255 / 100 if text.endswith("%") else float(text)
    return min(255, max(0, int(number + 0.5)))


def _fraction(text: str) -> float:
    number = float(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
    return min(1.0, max(0.0, number))


def rgb(text: str) -> Rgb:
    """An opaque CSS colour's channels. Raises ValueError for anything else."""
    found = parse(text)
    if found is None or found[3] < 1:
        raise ValueError(f"not an opaque colour: {text!r}")
    return found[:3]


def written(colour: Rgb) -> str:
    """`#rrggbb`."""
    return "#" + bytes(colour).hex()


def over(colour: Rgba, ground: Rgb) -> Rgb:
    """`colour` laid on an opaque ground (CSS Color 4 section 14: simple alpha compositing)."""
    alpha = colour[3]
    if alpha >= 1:
        return colour[:3]
    red, green, blue = (
        int(above * alpha + below * (1 - alpha) + 0.5)
        for above, below in zip(colour[:3], ground, strict=True)
    )
    return red, green, blue


_LINEAR = tuple(
    level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4
    for level in (step / 255 for step in range(256))
)


def linear(level: int) -> float:
    """An 8-bit sRGB channel as light, 0 to 1 (IEC 61966-2-1)."""
    return _LINEAR[level]


def encoded(light: float) -> float:
    """Light of 0 to 1 as an sRGB channel of 0 to 1 (IEC 61966-2-1)."""
    return light * 12.92 if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055


def luminance(colour: Rgb) -> float:
    """Relative luminance, 0 to 1."""
    return 0.2126 * _LINEAR[colour[0]] + 0.7152 * _LINEAR[colour[1]] + 0.0722 * _LINEAR[colour[2]]


def contrast(one: Rgb, other: Rgb) -> float:
    """The contrast ratio of two opaque colours, 1 to 21."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def is_large(size: float, weight: int) -> bool:
    """Whether text of `size` px counts as large: 18 pt, or 14 pt and bold."""
    return size >= LARGE_PX or (weight >= _BOLD and size >= LARGE_BOLD_PX)


def needed(size: float, weight: int) -> float:
    """The contrast that text of `size` px needs for level AA (SC 1.4.3)."""
    return LARGE if is_large(size, weight) else TEXT


def as_ratio(ratio: float) -> str:
    """A ratio for people, cut after the second decimal so that it never looks better than it is."""
    return f"{int(ratio * 100) / 100:.2f}:1"
