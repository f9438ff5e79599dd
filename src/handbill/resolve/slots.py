"""Where pictures stand. Enters: a field's spec in words and numbers; leaves: slots, shapes, areas and focal
points.

Shares are fractions of a picture's width and height, from its left and top.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.pictures.asked import Shape

OVERLAP = "overlap"  # the area that an overlap makes
Area = tuple[float, float, float, float]  # shares of a picture: left, top, right, bottom


@dataclass(frozen=True, slots=True)
class Slot:
    """Where pictures of one field stand: px across, the shape they are cut to, pixels to the px, the part
    that copy stands on and its colours (role; `ink`: house, light, dark or auto), what is behind it."""

    width: int
    ratio: Shape | None
    density: int
    fit: str | None = None
    area: str | None = None  # shares '0 0 1 0.6', or overlap
    overlap: int = 0
    role: str = ""
    ink: str = ""
    on: str | None = None  # the colour role that lies behind the picture, where the block knows it


def focus_of(text: str | None) -> tuple[float, float]:
    """Two fractions. Raises Fault."""
    if text is None:
        return (0.5, 0.5)
    try:
        across, down = (float(part) for part in text.replace(",", " ").split())
    except ValueError:
        raise Fault(
            f"{text!r} is not a focal point", expected="two fractions from 0 to 1, such as '0.5 0.3'"
        ) from None
    return (across, down)


def shape_of(text: str) -> Shape:
    """`5:4` as two numbers. Raises Fault."""
    across, colon, down = text.partition(":")
    if not colon or not across.isdecimal() or not down.isdecimal():
        raise Fault(f"{text!r} is not a ratio", expected="such as 5:4")
    return (int(across), int(down))


def area_of(text: str, overlap: int, height: int, *, rtl: bool = False) -> Area | None:
    """`0 0 1 0.6` as shares (start, top, end, bottom); `overlap` is what lies under copy of a picture's top.

    Copy changes sides with the direction, the picture stays as it is. Raises Fault.
    """
    if text == OVERLAP:
        return (0.0, 0.0, 1.0, min(1.0, overlap / height)) if overlap > 0 else None
    try:
        start, top, end, bottom = (float(one) for one in text.split())
    except ValueError:
        start = top = end = bottom = -1.0
    if not (0 <= start < end <= 1 and 0 <= top < bottom <= 1):
        raise Fault(f"{text!r} is no part of a picture", expected="shares such as '0 0 1 0.6'")
    return (1 - end, top, 1 - start, bottom) if rtl else (start, top, end, bottom)


def by_choice(value: Any, chosen: Mapping[str, str]) -> Any:
    """A value that hangs on choices: `{layout: {above: full, else: inset}}`, one inside another."""
    while isinstance(value, Mapping):
        choice, cases = next(iter(value.items()))
        value = cases.get(chosen.get(choice), cases.get("else"))
    return value
