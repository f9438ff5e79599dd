"""Where blocks and standing sections are. Enters: a brand's search folders; leaves: paths by name.

Order: the brand, its parents, the workspace library, the built-in ones.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

from handbill.base.errors import Mistake, MistakesError, Place
from handbill.base.frozen import dataclass
from handbill.loader import Shelf as Shelf  # what the functions here take

PARTS = ("block.yaml", "block.html.j2", "block.css", "block.txt.j2")
SHARED = "shared"  # the folder of macros, styles and words that every block uses


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
    """Every visible block; an earlier shelf hides a later one's block of the same name.

    Raises MistakesError for folders and files that are links: they may lead out of the workspace.
    """
    found: dict[str, Found] = {}
    for shelf in (*shelves, Shelf(built_in().parent, "built in", built_in().parent)):
        for path in _folders(shelf):
            if path.name != SHARED:
                found.setdefault(path.name, Found(path.name, path, shelf.label))
    return dict(sorted(found.items()))


def standing(shelves: Sequence[Shelf]) -> dict[str, Path]:
    """Every visible standing section by name; raises as `blocks` does."""
    found: dict[str, Path] = {}
    own = built_in() / SHARED
    for shelf in (*shelves, Shelf(own, "built in", own)):
        if _real(shelf.folder / "standing", shelf.root):
            for path in sorted((shelf.folder / "standing").glob("*.yaml")):
                found.setdefault(path.stem, path)
    return dict(sorted(found.items()))


def _folders(shelf: Shelf) -> Iterator[Path]:
    if not _real(shelf.folder / "blocks", shelf.root):
        return
    for path in sorted((shelf.folder / "blocks").iterdir()):
        if _real(path, shelf.root) and (path / "block.yaml").is_file():
            for part in PARTS:
                _refuse_link(path / part, shelf.root)
            yield path


def _real(folder: Path, root: Path | None) -> bool:
    """Whether there is such a folder; raises MistakesError for a link."""
    _refuse_link(folder, root)
    return folder.is_dir()


def _refuse_link(path: Path, root: Path | None) -> None:
    if path.is_symlink():
        name = path.relative_to(root).as_posix() if root is not None else path.name
        raise MistakesError([Mistake(Place(name), "", "is a link", "a real file or folder")])
