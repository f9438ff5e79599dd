"""Loading. Enters: a path inside a workspace; leaves: the workspace, its brands and catalogues, with spans.

Nothing is expanded or filled here. Every file is read once per run and remembered by its path.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.files import MARK as MARK
from handbill.base.files import find_root as find_root
from handbill.base.files import inside
from handbill.base.frozen import dataclass, field
from handbill.base.source import (
    Doc,
    Node,
    child,
    items,
    make_mapping,
    merge,
    place,
    read_yaml,
    scalar,
    without,
)
from handbill.models.check import validate_kept
from handbill.models.read import FORMAT, TAG

if TYPE_CHECKING:
    from handbill.models.workspace import Workspace

TEXTS = "texts"  # the folder of what is said in other languages, beside what says it first
FIXED = ("brand", "extends", "languages", "currency", "timezone")


@dataclass(frozen=True, slots=True)
class BrandFiles:
    """A brand's merged span tree, the folders of the brand and its parents, and a digest of all its files."""

    name: str
    root: Doc
    folders: tuple[Path, ...]
    digest: str


@dataclass(frozen=True, slots=True)
class Shelf:
    """A folder that holds `blocks/` and `standing/`, how messages call it, and the workspace around it."""

    folder: Path
    label: str
    root: Path | None = None


@dataclass(slots=True)
class Loader:
    """Reads one workspace. `name(path)` is how messages call a file: relative to the workspace."""

    root: Path
    cache: Cache
    workspace: Workspace = field(init=False)
    digest: str = field(init=False)
    _library: Path = field(init=False)
    _docs: dict[Path, Doc] = field(default_factory=dict)
    _brands: dict[tuple[str, str | None], BrandFiles] = field(default_factory=dict)

    def __post_init__(self) -> None:
        doc = self.read(self.root / MARK)
        workspace, wrong = validate_kept(_model, "workspace", doc.root, self.cache)
        if workspace is None:
            raise MistakesError(wrong)
        self.workspace = workspace
        try:
            self._library = inside(self.root, self.root, workspace.library)
        except Fault as fault:
            where = child(doc.root, "library") or doc.root
            raise MistakesError([fault.at(place(where), "library")]) from None
        self.digest = sha256((self.root / MARK).read_bytes()).hexdigest()

    def name(self, path: Path) -> str:
        return path.relative_to(self.root).as_posix() if path.is_relative_to(self.root) else path.name

    def read(self, path: Path) -> Doc:
        """A file of the workspace, or one of handbill's own. Raises MistakesError."""
        if path not in self._docs:
            name = self.name(path)
            if path.is_relative_to(self.root):
                try:
                    inside(self.root, self.root, name)
                except Fault as fault:
                    raise MistakesError([fault.at(Place(name))]) from None
            self._docs[path] = read_yaml(path, name)
        return self._docs[path]

    def brand_names(self) -> list[str]:
        folder = self.root / "brands"
        return sorted(path.parent.name for path in folder.glob("*/brand.yaml")) if folder.is_dir() else []

    def brand(
        self, name: str, place_: Place | None = None, path: str = "", language: str | None = None
    ) -> BrandFiles:
        """A brand and its parents, merged; raises MistakesError at `place_` when there is no such brand.

        What `texts/LANG.yaml` beside a brand.yaml says counts in that language in place of the brand's own.
        """
        key = name, language
        if key not in self._brands:
            at = place_ or Place(f"brands/{name}/brand.yaml")
            self._brands[key] = self._read_brand(name, at, path, (), language)
        return self._brands[key]

    def _read_brand(
        self, name: str, where: Place, path: str, below: Sequence[str], language: str | None
    ) -> BrandFiles:
        if name in below:
            circle = " → ".join([*below, name])
            raise MistakesError([Mistake(where, path, f"brands extend each other in a circle: {circle}")])
        known = self.brand_names()
        if name not in known:
            expected = "one of " + ", ".join(known) if known else "a folder brands/NAME with a brand.yaml"
            raise MistakesError([Mistake(where, path, f"no brand {name}", expected, nearest(name, known))])
        folder = self.root / "brands" / name
        file = folder / "brand.yaml"
        doc = self.read(file)
        digest = sha256(file.read_bytes())
        parent_node = child(doc.root, "extends")
        parent = scalar(parent_node)
        root: Node = doc.root
        own = folder / TEXTS / f"{language}.yaml"
        if language is not None and re.fullmatch(TAG, language) and own.is_file():
            root = merge(root, _texts(self.read(own)))
            digest.update(own.read_bytes())
        folders: tuple[Path, ...] = (folder,)
        if parent_node is not None and parent:
            files = self._read_brand(parent, place(parent_node), "extends", (*below, name), language)
            whole = merge(without(files.root.root, "extends", "brand"), root)
            root = make_mapping(list(items(whole)), doc.root)  # what is missing is missing in this file
            folders = (folder, *files.folders)
            digest.update(files.digest.encode())
        return BrandFiles(name, Doc(doc.name, root), folders, digest.hexdigest())

    def shelves(self, brand: BrandFiles) -> tuple[Shelf, ...]:
        """Where this brand's blocks and standing sections are sought, in order."""
        own = tuple(Shelf(folder, f"brand {folder.name}", self.root) for folder in brand.folders)
        return (*own, Shelf(self._library, "workspace library", self.root))


def _texts(doc: Doc) -> Node:
    """What a brand says otherwise in one language. Raises MistakesError for what no language changes."""
    version = child(doc.root, "handbill")
    wrong = []
    if version is None or scalar(version) != str(FORMAT):
        message = "handbill is missing" if version is None else (
            f"format version {scalar(version) or 'this'} is not one this handbill reads"
        )  # fmt: skip
        wrong.append(Mistake(place(version or doc.root), "handbill", message, f"handbill: {FORMAT}"))
    for key, _value in items(doc.root):
        if key.value in FIXED:
            message = f"{key.value} is the same in every language"
            wrong.append(Mistake(place(key), "", message, "fields of brand.yaml that this language changes"))
    if wrong:
        raise MistakesError(wrong)
    return without(doc.root, "handbill")


def _model() -> type[Workspace]:
    from handbill.models.workspace import Workspace

    return Workspace
