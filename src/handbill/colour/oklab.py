"""OKLab, where lightness is what people see. Enters: sRGB; leaves: lightness and two colour axes, and back.

B. Ottosson, "A perceptual color space for image processing" (2020); matrices as in CSS Color 4 section 9.3.
"""

from __future__ import annotations

from handbill.colour.srgb import Rgb, encoded, linear

Lab = tuple[float, float, float]


def from_rgb(colour: Rgb) -> Lab:
    """Lightness of 0 to 1, and the axes a and b."""
    red, green, blue = (linear(level) for level in colour)
    long = (0.4122214708 * red + 0.5363325363 * green + 0.0514459929 * blue) ** (1 / 3)
    medium = (0.2119034982 * red + 0.6806995451 * green + 0.1073969566 * blue) ** (1 / 3)
    short = (0.0883024619 * red + 0.2817188376 * green + 0.6299787005 * blue) ** (1 / 3)
    return (
        0.2104542553 * long + 0.7936177850 * medium - 0.0040720468 * short,
        1.9779984951 * long - 2.4285922050 * medium + 0.4505937099 * short,
        0.0259040371 * long + 0.7827717662 * medium - 0.8086757660 * short,
    )


def to_rgb(lab: Lab) -> Rgb:
    """The nearest sRGB colour of the same lightness and hue: colour is taken away until it fits."""
    light, a, b = lab
    least, most = 0.0, 1.0
    channels = _channels((light, a, b))
    if _fits(channels):
        return _levels(channels)
    for _step in range(16):  # halving: far finer than a level of 255
        middle = (least + most) / 2
        if _fits(_channels((light, a * middle, b * middle))):
            least = middle
        else:
            most = middle
    return _levels(_channels((light, a * least, b * least)))


def _channels(lab: Lab) -> tuple[float, float, float]:
    light, a, b = lab
    long = (light + 0.3963377774 * a + 0.2158037573 * b) ** 3
    medium = (light - 0.1055613458 * a - 0.0638541728 * b) ** 3
    short = (light - 0.0894841775 * a - 1.2914855480 * b) ** 3
    return (
        4.0767416621 * long - 3.3077115913 * medium + 0.2309699292 * short,
        -1.2684380046 * long + 2.6097574011 * medium - 0.3413193965 * short,
        -0.0041960863 * long - 0.7034186147 * medium + 1.7076147010 * short,
    )


def _fits(channels: tuple[float, float, float]) -> bool:
    return all(-0.0005 <= one <= 1.0005 for one in channels)


def _levels(channels: tuple[float, float, float]) -> Rgb:
    red, green, blue = (int(encoded(min(1.0, max(0.0, one))) * 255 + 0.5) for one in channels)
    return red, green, blue
