"""Expansion on the span tree. Enters: a campaign's nodes; leaves: one node per section, standing ones put in.

Standing sections are merged, ids are fixed, and nothing has been validated yet, so every later mistake still
points at the line that made it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from handbill.base.errors import Mistake, MistakesError, nearest
from handbill.base.source import (
    Doc,
    Node,
    child,
    entries,
    is_mapping,
    is_sequence,
    items,
    merge,
    place,
    put,
    scalar,
    without,
)
from handbill.load import Loader

META = ("block", "standing", "id", "when", "otherwise", "lang", "dir", "set", "handbill")


@dataclass(frozen=True, slots=True)
class Section:
    """One section before validation. `node` holds its fields only; `path` opens its messages."""

    id: str
    block: str
    node: Node
    whole: Node
    path: str
    when: str | None = None


@dataclass(frozen=True, slots=True)
class Expanded:
    """A campaign whose stack holds blocks only."""

    doc: Doc
    head: Node
    sections: tuple[Section, ...]


@dataclass(slots=True)
class _Draft:
    node: Node
    path: str
    id: str
    fixed: bool


def expand(doc: Doc, standing: Mapping[str, Path], loader: Loader) -> tuple[Expanded, list[Mistake]]:
    """Put standing sections in and fix ids. Mistakes do not stop the other sections."""
    return _Expansion(doc, standing, loader).run()


class _Expansion:
    def __init__(self, doc: Doc, standing: Mapping[str, Path], loader: Loader) -> None:
        self.doc = doc
        self.standing = standing
        self.loader = loader
        self.mistakes: list[Mistake] = []

    def wrong(self, node: Node, path: str, message: str, expected: str = "", near: str = "") -> None:
        self.mistakes.append(Mistake(place(node), path, message, expected, near))

    def run(self) -> tuple[Expanded, list[Mistake]]:
        root = self.doc.root
        for key, _value in items(root):
            if key.value == "variants":
                self.wrong(
                    key,
                    "variants",
                    "variants cannot be compiled by this version",
                    "one campaign file for each variant",
                )
        stack = child(root, "stack")
        drafts: list[_Draft] = []
        if stack is not None and not is_sequence(stack):
            self.wrong(stack, "stack", "the stack is a list of sections", "- block: name")
        for number, node in enumerate(entries(stack)):
            drafts.extend(self.entry(node, f"stack[{number}]", ()))
        sections = self.named(drafts)
        return Expanded(self.doc, without(root, "stack", "variants"), tuple(sections)), self.mistakes

    def entry(self, node: Node, path: str, inside: Sequence[str]) -> list[_Draft]:
        if not is_mapping(node):
            self.wrong(node, path, "a section is a mapping", "- block: name")
            return []
        block, standing = child(node, "block"), child(node, "standing")
        if block is not None and standing is not None:
            self.wrong(standing, path, "a section has a block or a standing section, not both")
            return []
        if standing is not None:
            return self.stands(node, standing, path, inside)
        name = scalar(block)
        if name is None:
            keys = [key.value for key, _value in items(node)]
            near = next(
                (f"{key} → {found}" for key in keys if (found := nearest(key, ("block", "standing")))), ""
            )
            self.wrong(node, path, "a section names its block", "block: or standing:", near)
            return []
        given = scalar(child(node, "id"))
        return [_Draft(node, f"{path} {name}", given or name, given is not None)]

    def stands(self, node: Node, key: Node, path: str, inside: Sequence[str]) -> list[_Draft]:
        name = scalar(key) or ""
        path = f"{path} {name}"
        file = self.standing.get(name)
        if file is None:
            known = list(self.standing)
            self.wrong(
                key,
                path,
                f"no standing section {name}",
                "one of " + ", ".join(known) if known else "",
                nearest(name, known),
            )
            return []
        if name in inside:
            circle = " → ".join([*inside, name])
            self.wrong(key, path, f"standing sections contain each other in a circle: {circle}")
            return []
        try:
            root = self.loader.read(file).root
        except MistakesError as error:
            self.mistakes.extend(error.mistakes)
            return []
        version = scalar(child(root, "handbill"))
        if version not in (None, "1"):
            self.wrong(
                child(root, "handbill") or root,
                "",
                f"format version {version} is not one this handbill reads",
                "handbill: 1",
            )
            return []
        several = child(root, "sections")
        if several is None:
            found = self.entry(without(root, "handbill"), path, (*inside, name))
            for draft in found:
                draft.path = path
        else:
            found = []
            for number, inner in enumerate(entries(several)):
                found.extend(self.entry(inner, f"{path}[{number}]", (*inside, name)))
        return self.overridden(node, name, found, several is not None, path)

    def overridden(
        self, node: Node, name: str, found: list[_Draft], several: bool, path: str
    ) -> list[_Draft]:
        own = without(node, *(key for key in META if key not in ("lang", "dir", "when")))
        given = scalar(child(node, "id"))
        if several:
            for key, _value in items(own):
                if key.value not in ("lang", "dir", "when"):
                    self.wrong(
                        key,
                        path,
                        f"{name} holds several sections, so {key.value} needs one of their ids",
                        f"set: {{{found[0].id if found else 'id'}.{key.value}: …}}",
                    )
            if given is not None:
                self.wrong(child(node, "id") or node, path, f"{name} holds several sections and takes no id")
        elif found:
            draft = found[0]
            draft.node = merge(draft.node, own)
            if given is not None or not draft.fixed:
                draft.id, draft.fixed = given or name, given is not None
        for key, value in items(child(node, "set")):
            self.set(key, value, found, path)
        return found

    def set(self, key: Node, value: Node, found: list[_Draft], path: str) -> None:
        target, dot, field = key.value.partition(".")
        draft = next((one for one in found if one.id == target), None)
        if draft is None or not dot or not field:
            ids = [one.id for one in found]
            self.wrong(
                key,
                f"{path}, set",
                f"{key.value} names no field of a section here",
                "id.field with one of the ids " + ", ".join(ids),
                nearest(target, ids),
            )
            return
        draft.node = _deep_put(draft.node, field.split("."), value, key)

    def named(self, drafts: Sequence[_Draft]) -> list[Section]:
        taken: dict[str, Node] = {}
        for draft in drafts:
            if draft.fixed:
                where = child(draft.node, "id") or draft.node
                if draft.id in taken:
                    self.wrong(
                        where,
                        draft.path,
                        f"the id {draft.id} is used twice",
                        f"another id (first at line {place(taken[draft.id]).line})",
                    )
                taken.setdefault(draft.id, where)
        sections = []
        for draft in drafts:
            if not draft.fixed:
                base, number = draft.id, 1
                while draft.id in taken:
                    number += 1
                    draft.id = f"{base}-{number}"
                taken[draft.id] = draft.node
            section = self.section(draft)
            if section is not None:
                sections.append(section)
        return sections

    def section(self, draft: _Draft) -> Section | None:
        node = draft.node
        other = child(node, "otherwise")
        if other is not None:
            self.wrong(other, draft.path, "otherwise is not read by this version", "when: alone")
        for name in ("lang", "dir"):
            if (own := child(node, name)) is not None:
                self.wrong(
                    own,
                    draft.path,
                    f"{name} is set for the whole mail by this version",
                    f"{name}: at the top of the campaign",
                )
        condition = child(node, "when")
        when = scalar(condition)
        if condition is not None and (when is None or not when.startswith("recipient.")):
            self.wrong(
                condition, draft.path, f"when: {when or ''} is not a recipient field", "when: recipient.name"
            )
            when = None
        return Section(
            draft.id, scalar(child(node, "block")) or "", without(node, *META), node, draft.path, when
        )


def _deep_put(node: Node, way: Sequence[str], value: Node, key: Node) -> Node:
    if len(way) == 1:
        return put(node, way[0], value)
    inner = child(node, way[0])
    if inner is None or not is_mapping(inner):
        from handbill.base.source import make_mapping

        inner = make_mapping([], key)
    return put(node, way[0], _deep_put(inner, way[1:], value, key))
