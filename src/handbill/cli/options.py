"""What several commands share: choices with the nearest spelling, and the workspace a command works in."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from handbill.base.cache import Cache
from handbill.base.errors import Mistake, MistakesError, Place, nearest
from handbill.base.files import MARK, find_root

if TYPE_CHECKING:
    from handbill.loader import Loader

F = TypeVar("F", bound=Callable[..., Any])
SHELL_NAMES = ("-", "<")  # places that are no files: --brand, <built-in>


class Number(click.IntRange):
    """A whole number within bounds, and an error in words for any other."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            expected = f"a whole number from {self.min} to {self.max}"
            self.fail(f"{value} is not a choice; expected {expected}", param, ctx)


class OneOf(click.Choice[str]):
    """A choice whose error names the nearest spelling."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        options = list(self.choices)
        if value not in options:
            near = nearest(str(value), options)
            hint = f"; nearest: {near}" if near else ""
            self.fail(f"{value!r} is not a choice; expected one of {', '.join(options)}{hint}", param, ctx)
        return str(value)


def workspace_option(command: F) -> F:
    """`--workspace DIR`."""
    return click.option(
        "--workspace",
        type=click.Path(path_type=Path),
        metavar="DIR",
        help="The workspace (default: the nearest folder upward with a handbill.yaml).",
    )(command)


def brand_option(text: str, required: bool = False) -> Callable[[F], F]:
    """`--brand NAME`."""
    return click.option("--brand", metavar="NAME", required=required, help=text)


def open_workspace(folder: Path | None) -> Loader | None:
    """The workspace in `folder`, or the one around the current folder, None when there is none.

    Raises MistakesError for a folder that is not a workspace and for mistakes in its handbill.yaml.
    """
    if folder is not None and not (folder / MARK).is_file():
        raise MistakesError([Mistake(Place(str(folder)), "", "not a workspace", f"a folder with a {MARK}")])
    root = find_root(Path.cwd()) if folder is None else Path(os.path.abspath(folder))
    return load(root) if root is not None else None


def must_open(folder: Path | None) -> Loader:
    """As `open_workspace`; raises MistakesError when there is none."""
    loader = open_workspace(folder)
    if loader is None:
        raise MistakesError([
            Mistake(Place("."), "", "not in a workspace", f"a {MARK} here or above, or --workspace DIR")
        ])  # fmt: skip
    return loader


def open_file(file: Path) -> tuple[Loader, Path]:
    """The workspace around a campaign's file, and the file's whole path. Raises MistakesError."""
    path = Path(os.path.abspath(file))
    return load(root_of(file, path)), path


def load(root: Path) -> Loader:
    """A loader for the workspace at `root`. Raises MistakesError."""
    from handbill.loader import Loader

    try:
        return Loader(root, Cache())
    except MistakesError as error:
        raise shown(error, root) from None


def shown(error: MistakesError, root: Path) -> MistakesError:
    """The same mistakes with files named as the user's shell would name them."""
    if os.path.relpath(root) == ".":
        return error
    return MistakesError(
        Mistake(shown_place(one.place, root), one.path, one.message, one.expected, one.nearest)
        for one in error.mistakes
    )


def shown_place(place: Place, root: Path) -> Place:
    """A place in the workspace at `root`, its file named as the user's shell would name it."""
    if os.path.relpath(root) == "." or place.file.startswith(SHELL_NAMES) or os.path.isabs(place.file):
        return place
    return Place(os.path.relpath(root / place.file), place.line, place.column)


def beside(path: Path) -> str:
    """The campaign nearest in spelling in the folder where `path` would be, or nothing."""
    return nearest(path.name, sorted(one.name for one in path.parent.glob("*.yaml")))


def root_of(file: Path, path: Path) -> Path:
    """The workspace around the campaign at `path`, called `file`. Raises MistakesError when there is none."""
    place = Place(str(file))
    if path.is_dir():
        raise unusable(place, "a folder, not a campaign", "a file such as campaigns/NAME.yaml")
    if not path.exists():
        raise unusable(place, "no such file", near=beside(path))
    root = find_root(path)
    if root is None:
        raise unusable(place, "not in a workspace", f"{MARK} in a folder above the file")
    whose = "the workspace" if path == root / MARK else "a shop" if path.name == "brand.yaml" else ""
    if whose:
        raise unusable(place, f"{whose}'s own file, not a campaign", "a file such as campaigns/NAME.yaml")
    return root


def unusable(place: Place, message: str, expected: str = "", near: str = "") -> MistakesError:
    """One mistake about a file or folder as a whole."""
    return MistakesError([Mistake(place, "", message, expected, near)])


def terminal_width() -> int:
    """The columns of the terminal that output goes to; 0 for a pipe or a file."""
    return os.get_terminal_size(sys.stdout.fileno()).columns if sys.stdout.isatty() else 0
