"""Where blocks and standing sections are. Enters: a brand's search folders; leaves: paths by name.

Order: the brand, its parents, the workspace library, the built-in ones.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

SHARED = "shared"  # the folder of macros, styles and words that every block uses


@dataclass(frozen=True, slots=True)
class Shelf:
    """A folder that holds `blocks/` and `standing/`, and how messages call it."""

    folder: Path
    label: str


@cache
def built_in() -> Path:
    """The folder of built-in blocks: inside the installed package, or at the top of a source checkout."""
    package = Path(__file__).resolve().parent.parent
    for candidate in (package / "blocks", package.parent.parent / "blocks"):
        if (candidate / SHARED / "macros.yaml").is_file():
            return candidate
    raise RuntimeError("handbill's own blocks are missing from this installation")


@dataclass(frozen=True, slots=True)
class Found:
    """One block: its folder and whose it is."""

    name: str
    folder: Path
    label: str


def blocks(shelves: Sequence[Shelf]) -> dict[str, Found]:
    """Every visible block; an earlier shelf hides a later one's block of the same name."""
    found: dict[str, Found] = {}
    for folder, label in (
        *((shelf.folder / "blocks", shelf.label) for shelf in shelves),
        (built_in(), "built in"),
    ):
        for path in _folders(folder):
            if path.name != SHARED:
                found.setdefault(path.name, Found(path.name, path, label))
    return dict(sorted(found.items()))


def standing(shelves: Sequence[Shelf]) -> dict[str, Path]:
    """Every visible standing section by name."""
    found: dict[str, Path] = {}
    folders = (*(shelf.folder / "standing" for shelf in shelves), built_in() / SHARED / "standing")
    for folder in folders:
        if folder.is_dir():
            for path in sorted(folder.glob("*.yaml")):
                found.setdefault(path.stem, path)
    return dict(sorted(found.items()))


def _folders(folder: Path) -> Iterator[Path]:
    if folder.is_dir():
        yield from (path for path in sorted(folder.iterdir()) if (path / "block.yaml").is_file())
