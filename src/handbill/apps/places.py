"""Where a block lives. Enters: its name and a brand; leaves: its folder, what it hides, who changes it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handbill.base.errors import Place
from handbill.base.source import child, is_mapping, items, place, plain, read_yaml
from handbill.library.find import Found, blocks
from handbill.loader import BrandFiles, Loader, Shelf


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a value comes from: a kind for programs, words for people, and its place if it has one."""

    kind: str
    what: str
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Level:
    """One folder that holds a block of the name; `owner` is whose it is."""

    owner: str
    folder: Path


@dataclass(frozen=True, slots=True)
class Setting:
    """A line of brand.yaml that sets a measure, or the default of a choice or toggle, anew."""

    name: str
    value: str
    kind: str
    owner: str
    place: Place


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """A block as one brand sees it: the first level counts and hides the others. No level: not visible."""

    brand: str
    levels: tuple[Level, ...]
    settings: tuple[Setting, ...]


def whereabouts(loader: Loader | None, brand: str | None, name: str) -> Whereabouts:
    """Raises MistakesError for an unknown brand, and for folders that are links."""
    if loader is None:
        return Whereabouts("", tuple(_levels((), name, None)), ())
    if brand is None:
        shelf = Shelf(loader.root / loader.workspace.library, "workspace library", loader.root)
        return Whereabouts("", tuple(_levels((shelf,), name, None)), ())
    files = loader.brand(brand, Place("--brand"), "brand")
    levels = tuple(_levels(loader.shelves(files), name, files))
    return Whereabouts(brand, levels, tuple(_settings(loader, files, name, levels)))


def owner(path: Path, files: BrandFiles) -> str:
    """`brand NAME` or `parent brand NAME` for what lies in a brand's folder, else nothing."""
    for number, folder in enumerate(files.folders):
        if path.is_relative_to(folder):
            return f"{'parent ' if number else ''}brand {folder.name}"
    return ""


def shown(value: Any) -> str:
    """A plain value of a YAML file on one line."""
    if isinstance(value, dict):
        return ", ".join(f"{key} {shown(one)}" for key, one in value.items())
    return str(value)


def _levels(shelves: tuple[Shelf, ...], name: str, files: BrandFiles | None) -> Iterator[Level]:
    built: Found | None = blocks(()).get(name)
    for shelf in shelves:
        found = blocks((shelf,)).get(name)
        if found is not None and found != built:
            whose = owner(found.folder, files) if files is not None else ""
            yield Level(whose or found.label, found.folder)
    if built is not None:
        yield Level(built.label, built.folder)


def _settings(loader: Loader, files: BrandFiles, name: str, levels: tuple[Level, ...]) -> Iterator[Setting]:
    if not levels:
        return
    file = levels[0].folder / "block.yaml"
    measures = child(read_yaml(file, loader.name(file)).root, "measures")
    for key, value in items(child(child(files.root.root, "blocks"), name)):
        kind = "measure" if child(measures, key.value) is not None else "default"
        text = shown(plain(value))
        for at in _spots(value, place(key)):
            yield Setting(key.value, text, kind, owner(loader.root / at.file, files), at)


def _spots(value: Any, key: Place) -> list[Place]:
    """The key's place, and those of parts that were merged in from another file."""
    parts = [place(one) for _name, one in items(value)] if is_mapping(value) else []
    return [key, *dict.fromkeys(one for one in parts if one.file != key.file)]
