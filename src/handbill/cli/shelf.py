"""What a workspace and a brand see of the library, for `blocks` and `schema`. Nothing is compiled here."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from handbill.base.errors import Mistake, MistakesError, Place, nearest
from handbill.base.frozen import dataclass
from handbill.base.source import read_yaml
from handbill.brand.parts import BrandParts, load_brand
from handbill.cli.options import shown
from handbill.library.find import Found, Shelf, blocks, standing
from handbill.library.spec import BlockSpec
from handbill.loader import Loader
from handbill.models.check import validate


@dataclass(frozen=True, slots=True)
class View:
    """Visible blocks and standing sections by name; `parts` when a brand was asked for."""

    blocks: Mapping[str, Found]
    standing: Mapping[str, Path]
    parts: BrandParts | None


def view(loader: Loader | None, brand: str | None) -> View:
    """What `brand` sees, or without one the workspace and all its brands. Raises MistakesError."""
    if loader is None:
        if brand:
            raise MistakesError(
                [Mistake(Place("--brand"), "", "brands live in a workspace", "--workspace DIR")]
            )
        return View(blocks(()), standing(()), None)
    try:
        if brand:
            parts = load_brand(loader, brand, Place("--brand"))
            shelves = loader.shelves(parts.files)
            return View(blocks(shelves), standing(shelves), parts)
        folders = [(loader.root / "brands" / name, f"brand {name}") for name in loader.brand_names()]
        folders.append((loader.root / loader.workspace.library, "workspace library"))
        every = tuple(Shelf(folder, label) for folder, label in folders)
        return View(blocks(every), standing(every), None)
    except MistakesError as error:
        raise shown(error, loader.root) from None


def spec_of(found: Found) -> BlockSpec:
    """The block's own description. Raises MistakesError."""
    path = found.folder / "block.yaml"
    name = os.path.relpath(path)
    spec, wrong = validate(BlockSpec, read_yaml(path, name).root)
    if spec is None:
        raise MistakesError(wrong)
    return spec


def pick(known: Mapping[str, Found], name: str) -> Found:
    """The block called `name`. Raises MistakesError with the nearest spelling."""
    if name not in known:
        expected = "one of " + ", ".join(known)
        raise MistakesError(
            [Mistake(Place("blocks"), "", f"no block {name}", expected, nearest(name, known))]
        )
    return known[name]


def where(found: Found) -> str:
    """Where a block lives, as the user would type it."""
    if found.label == "built in":
        return found.label
    return f"{found.label}, {os.path.relpath(found.folder)}"
