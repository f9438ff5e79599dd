"""A small campaign of many variants, and what lies in a folder, for tests of compiling again and again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

STACK = """\
  - block: hero
    id: top
    headline: {headline}
    picture: {{file: {picture}, alt: A lamp}}
  - block: product-stack
    id: shelf
    products: [L-100, L-200]
    button: {{label: Look, link: /lamps}}
  - block: copy
    id: note
    headline: A note
    copy: "{note} Up to ${{offer.best_percent}} off."
  - block: copy
    id: more
    headline: More
    copy: More words.
"""
AXES = """\
variants:
  axes:
    arm:
      control: {{}}
      quiet: {{set: {{top.headline: {quiet}}}}}
      short: {{drop: [more]}}
{more}    wording:
      plain: {{}}
      warm: {{set: {{note.headline: A warm note}}}}
      brief: {{set: {{shelf.button.label: See it}}}}
"""


def campaign(
    shop: Any, *, headline: str = "One", picture: str = "wren.png", note: str = "Words.", quiet: str = "Two",
    arms: tuple[str, ...] = (),
) -> Path:  # fmt: skip
    """Nine variants and three for every further arm, whose name is its headline."""
    more = "".join(f"      {arm}: {{set: {{top.headline: {arm}}}}}\n" for arm in arms)
    path: Path = shop.campaign(STACK.format(headline=headline, picture=picture, note=note))
    with path.open("a") as file:
        file.write(AXES.format(quiet=quiet, more=more))
    return path


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below `folder`, hidden ones too, by its path."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def touched(folder: Path) -> dict[str, tuple[int, int]]:
    """When each file was written, and its number on the disk."""
    return {
        path.relative_to(folder).as_posix(): (path.stat().st_mtime_ns, path.stat().st_ino)
        for path in folder.rglob("*")
        if path.is_file()
    }
