"""Built-in icons. Enters: a picture's name as written; leaves: whether it is an icon's, and the icon's file.

Icons are black on nothing, 96 px square; what shows them gives them a colour of the house style.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path

from handbill.base.errors import Fault, nearest
from handbill.library.find import SHARED, built_in

LARGEST = 48  # CSS px: at twice that every pixel of the file is used


def is_icon(name: str) -> bool:
    """Whether a picture's name means a built-in icon: a file's name has an ending, an icon's has no dot."""
    return "." not in name


@cache
def icons() -> dict[str, Path]:
    """The built-in icons by name."""
    return {path.stem: path for path in sorted((built_in() / SHARED / "icons").glob("*.png"))}


def icon_file(name: str, files: Iterable[str] = ()) -> Path:
    """The file of the icon `name`. Raises Fault with the nearest icon, or of `files` the nearest."""
    known = icons()
    if name not in known:
        expected = f"one of {', '.join(known)}, or a picture file with its ending"
        near = nearest(name, known) or nearest(name, files)
        raise Fault(f"no built-in icon {name}", expected=expected, nearest=near)
    return known[name]
