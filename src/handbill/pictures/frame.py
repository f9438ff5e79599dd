"""Where a picture's pixels come to lie. Enters: its size and what is asked; leaves: a `Frame`, by arithmetic.

A frame is so many pixels of canvas (`whole`), with a box of the source scaled into a part of it (`inner`). A
picture is never enlarged: where it has too few pixels the whole canvas has fewer to the CSS px.
"""

from __future__ import annotations

from math import sqrt

from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.pictures.asked import Box, Extend, Fit, Shape, Subject

# Product shots: the subject covers this share of its tile, unless it would come nearer to the sides or the
# top than the margins allow; all stand on one line (common practice in product photography; the figures are
# ours).
OPTICAL = 0.30
MOST_ACROSS, MOST_DOWN = 0.84, 0.76
BASELINE = 0.87


@dataclass(frozen=True, slots=True)
class Frame:
    """`box` of the source comes to `inner` (left, top, width, height; None: all) of `whole` px; `height` is
    the canvas in CSS px; `short`: the source has fewer pixels than the slot asks for."""

    box: Box
    whole: tuple[int, int]
    inner: Box | None
    height: int
    short: bool


def covering(
    size: tuple[int, int], width: int, density: float, shape: Shape | None, focus: tuple[float, float],
    crop: Shape | None, extend: Extend | None,
) -> Frame:  # fmt: skip
    """The picture in its slot, edge to edge: cut to `crop`, grown by `extend`, the outcome cut to `shape`."""
    region = largest((0, 0, *size), crop, focus, size) if crop else (0, 0, *size)
    top = bottom = 0
    if extend is None:
        box = largest(region, shape, focus, size)
        height = tall(width, shape or crop or _shape(box))
        grown = height
    else:
        height = tall(width, crop or _shape(region))
        top, bottom, grown = _growth(width, height, shape, extend)
        height = grown - top - bottom
        box = largest(region, (width, height), focus, size) if shape else region
    across, down = _shape(box)
    short = across < width * density
    whole = (across, down)
    if across > width * density:
        whole = round(width * density), min(round(height * density), down)
    if extend is None:
        return Frame(box, whole, None, height, short)
    above, below = (_half_up(one * whole[0], width) for one in (top, bottom))
    return Frame(box, (whole[0], above + whole[1] + below), (0, above, *whole), grown, short)


def _growth(width: int, height: int, shape: Shape | None, extend: Extend) -> tuple[int, int, int]:
    """px that come on top and below, and the height of all."""
    if extend.shape is None and shape is None:
        return extend.top, extend.bottom, height + extend.top + extend.bottom
    grown = tall(width, shape or extend.shape or (1, 1))
    if extend.shape is None:
        top, bottom = extend.top, extend.bottom
        if grown - top - bottom < 1:
            message = f"{top + bottom} px of new ground leave nothing of a picture {grown} px high"
            raise Fault(message, expected="less")
        return top, bottom, grown
    new = grown - height
    if new < 1:
        across, down = shape or extend.shape or (1, 1)
        message = f"a picture {width} x {height} px is already as tall as {across}:{down}"
        raise Fault(message, expected="a taller shape, or no extension")
    top = new if not extend.bottom else _half_up(new, 2) if extend.top else 0
    return top, new - top, grown


def contained(
    size: tuple[int, int], width: int, density: float, shape: Shape | None, crop: Shape | None,
    focus: tuple[float, float], fit: Fit,
) -> Frame:  # fmt: skip
    """All of the picture in the middle of a canvas. Raises Fault without a shape."""
    canvas = shape or fit.shape
    if canvas is None:
        raise Fault("fit: contain needs the shape to fill", expected="fit: {how: contain, shape: '4:5'}")
    box = largest((0, 0, *size), crop, focus, size) if crop else (0, 0, *size)
    across, down = _shape(box)
    height = tall(width, canvas)
    scale = min(width / across, height / down)  # CSS px to the source's px
    whole, sharp = _canvas(width, height, density, scale)
    inner = (max(1, round(across * scale * sharp)), max(1, round(down * scale * sharp)))
    left, top = (whole[0] - inner[0]) // 2, (whole[1] - inner[1]) // 2
    return Frame(box, whole, (left, top, *inner), height, sharp < density)


def trimmed(
    size: tuple[int, int], width: int, density: float, shape: Shape | None, fit: Fit, subject: Subject
) -> Frame:
    """The subject alone, as large to the eye as every other and on the same line."""
    height = tall(width, shape or fit.shape or size)
    left, top, right, bottom = subject.solid
    scale = min(
        sqrt(OPTICAL * width * height / subject.area),
        MOST_ACROSS * width / (right - left),
        MOST_DOWN * height / (bottom - top),
    )
    whole, sharp = _canvas(width, height, density, scale)
    box = subject.box
    middle = (left + right) / 2 - box[0]
    inner = (
        round((width / 2 - middle * scale) * sharp),
        round((BASELINE * height - (bottom - box[1]) * scale) * sharp),
        max(1, round((box[2] - box[0]) * scale * sharp)),
        max(1, round((box[3] - box[1]) * scale * sharp)),
    )
    return Frame(box, whole, inner, height, sharp < density)


def _canvas(width: int, height: int, density: float, scale: float) -> tuple[tuple[int, int], float]:
    """The canvas in pixels, and how many there are to the CSS px."""
    if density * scale <= 1:
        return (round(width * density), round(height * density)), density
    whole = max(1, round(width / scale)), max(1, round(height / scale))
    return whole, whole[0] / width


def largest(region: Box, shape: Shape | None, focus: tuple[float, float], size: tuple[int, int]) -> Box:
    """The largest box of `shape` in `region`, its middle as near to `focus` (of the picture) as that
    allows."""
    left, top, right, bottom = region
    wide, high = right - left, bottom - top
    across, down = wide, high
    if shape is not None:
        if wide * shape[1] > high * shape[0]:
            across = max(1, _half_up(high * shape[0], shape[1]))
        else:
            down = max(1, _half_up(wide * shape[1], shape[0]))
    x = min(max(left, round(focus[0] * size[0] - across / 2)), right - across)
    y = min(max(top, round(focus[1] * size[1] - down / 2)), bottom - down)
    return (x, y, x + across, y + down)


def tall(width: int, shape: Shape) -> int:
    """CSS px down of a picture of `shape` that is `width` across."""
    return max(1, _half_up(width * shape[1], shape[0]))


def _shape(box: Box) -> Shape:
    return box[2] - box[0], box[3] - box[1]


def _half_up(numerator: int, denominator: int) -> int:
    return (2 * numerator + denominator) // (2 * denominator)
