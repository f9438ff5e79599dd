"""Which input a value was written in. Enters: a node of an expanded section; leaves: its `Origin`.

Every node carries its place, so nothing is tracked: a place lies in the campaign, in one of its patches, in
a standing section, or in a file of texts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from handbill.apps.places import Origin
from handbill.base.errors import Place
from handbill.base.source import Node, child, entries, items, place, scalar
from handbill.loader import Loader
from handbill.texts.read import text_files
from handbill.vary.plan import Plan


class Sources:
    """Of one campaign: its file, its variants, the standing sections in sight, the texts in `language`."""

    def __init__(self, loader: Loader, plan: Plan, known: Mapping[str, Path], language: str | None) -> None:
        self.loader = loader
        self.campaign, root = plan.doc.name, plan.doc.root
        self.standing = {loader.name(path): (called, path) for called, path in known.items()}
        self.changed = {self.campaign: frozenset(_changes(root))}
        self.patches: dict[Place, str] = {}
        for value in plan.every():
            for node in (value.at, *_all(value.node)):
                said = value.label if value.axis else f"variant {value.name}"
                self.patches.setdefault(place(node), said)
        self.texts: set[str] = set()
        self.language = language
        if language is not None:
            name = scalar(child(root, "campaign")) or ""
            beside = [(loader.root / self.campaign, name), *((path, path.stem) for path in known.values())]
            for path, called in beside:
                self.texts.update(loader.name(one) for one in text_files(path, called, language))

    def origin(self, node: Node) -> Origin:
        """Where `node` was written. A `set:` counts before what it changes."""
        at = place(node)
        if at.file == self.campaign:
            if at in self.patches:
                return Origin("variant", self.patches[at], at)
            if at in self.changed[at.file]:
                return Origin("set", "set: in the campaign", at)
            return Origin("campaign", "campaign", at)
        name, path = self.standing.get(at.file, ("", None))
        if path is None:
            if at.file in self.texts:
                return Origin("texts", f"texts in {self.language}", at)
            return Origin("campaign", "campaign", at)
        if at.file not in self.changed:
            self.changed[at.file] = frozenset(_changes(self.loader.read(path).root))
        kind, what = "standing", f"standing section {name}"
        if at in self.changed[at.file]:
            kind, what = "set", f"set: in standing section {name}"
        if not path.is_relative_to(self.loader.root):
            at = Place(f"<built-in>/standing/{path.name}", at.line, at.column)
        return Origin(kind, what, at)


def _changes(node: Node, inside: bool = False) -> Iterator[Place]:
    """The places of all values below a `set:` of a section."""
    if inside:
        yield place(node)
    for key, value in items(node):
        yield from _changes(value, inside or (key.value == "set" and child(node, "standing") is not None))
    for entry in entries(node):
        yield from _changes(entry, inside)


def _all(node: Node | None) -> Iterator[Node]:
    """Every key and value at and below a node."""
    if node is None:
        return
    yield node
    for key, value in items(node):
        yield key
        yield from _all(value)
    for entry in entries(node):
        yield from _all(entry)
