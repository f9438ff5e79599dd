"""CSS values shared by declarations and computed styles: colours, four sides, borders' words."""

from __future__ import annotations

import re
from functools import lru_cache

Colour = tuple[int, int, int, float]  # red, green, blue 0 to 255, alpha 0 to 1
BORDER_WIDTHS = {"thin": 1.0, "medium": 3.0, "thick": 5.0}
BORDER_STYLES = frozenset(
    ["none", "hidden", "dotted", "dashed", "solid", "double", "groove", "ridge", "inset", "outset"]
)


def sides(text: str) -> list[str] | None:
    """Top, right, bottom, left from one to four values; None for any other number."""
    parts = text.split()
    if not 1 <= len(parts) <= 4:
        return None
    top = parts[0]
    right = parts[1] if len(parts) > 1 else top
    return [top, right, parts[2] if len(parts) > 2 else top, parts[3] if len(parts) > 3 else right]


@lru_cache(maxsize=4096)
def colour(text: str) -> Colour | None:
    """CSS Color 4 by tinycss2, brought to sRGB; `currentcolor` and what cannot be read are None."""
    found = re.match(r"#([0-9a-fA-F]{6})\Z", text)
    if found:
        value = int(found[1], 16)
        return value >> 16, value >> 8 & 255, value & 255, 1.0
    from tinycss2.color4 import parse_color

    read = parse_color(text)
    if read is None or isinstance(read, str):
        return None
    red, green, blue = (min(max(round((one or 0) * 255), 0), 255) for one in read.to("srgb").coordinates)
    return red, green, blue, float(read.alpha)
