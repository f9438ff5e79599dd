"""Expansion on the span tree. Enters: a campaign's nodes; leaves: one node per section, standing ones put in.

Standing sections are merged, ids are fixed, and nothing has been validated yet, so every later mistake still
points at the line that made it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from handbill.base.errors import Mistake, MistakesError, nearest
from handbill.base.frozen import dataclass
from handbill.base.source import (
    Doc,
    Node,
    child,
    entries,
    is_mapping,
    is_sequence,
    items,
    make_mapping,
    make_scalar,
    merge,
    place,
    put,
    scalar,
    without,
)
from handbill.loader import Loader
from handbill.models.read import FORMAT, NAME, PATTERNS

META = ("block", "standing", "id", "when", "otherwise", "lang", "dir", "set")
_RECIPIENT = re.compile(r"^recipient(?:\.[a-z][a-z0-9_]*)+$")
_SHARED = ("when", "lang", "dir")  # what a use of a standing section says of every section in it


@dataclass(frozen=True, slots=True)
class Section:
    """One section before validation. `node` holds its fields only; `path` opens its messages."""

    id: str
    block: str
    node: Node
    whole: Node
    path: str
    when: str | None = None
    lang: str | None = None
    dir: str | None = None
    otherwise: Section | None = None  # as written: `other` makes it whole

    @property
    def other(self) -> Section | None:
        """What those get for whom `when` does not hold: a section of its own, or this one with changes."""
        written = self.otherwise
        if written is None or written.block:
            return written
        own = written.lang is None and written.dir is None
        return replace(
            written, block=self.block, node=merge(self.node, written.node),
            whole=merge(self.whole, written.whole),
            lang=self.lang if written.lang is None else written.lang, dir=self.dir if own else written.dir,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Expanded:
    """A campaign whose stack holds blocks only."""

    doc: Doc
    head: Node
    sections: tuple[Section, ...]


@dataclass(slots=True)
class _Draft:
    """A section on its way: `fixed` ids were written in the campaign and are never numbered."""

    node: Node
    path: str
    id: str
    fixed: bool
    at: Node


def expand(doc: Doc, standing: Mapping[str, Path], loader: Loader) -> tuple[Expanded, list[Mistake]]:
    """Put standing sections in and fix ids. Mistakes do not stop the other sections."""
    return _Expansion(doc, standing, loader).run()


def expand_more(
    nodes: Sequence[tuple[Node, str]], before: Expanded, standing: Mapping[str, Path], loader: Loader
) -> tuple[tuple[Section, ...], list[Mistake]]:
    """Sections to stand among a campaign's, each from its node and the path that opens its messages."""
    work = _Expansion(before.doc, standing, loader)
    drafts = [draft for node, path in nodes for draft in work.entry(node, path, ())]
    taken = {one.id: child(one.whole, "id") or one.whole for one in before.sections}
    return tuple(work.named(drafts, taken)), work.mistakes


def reread(
    section: Section, whole: Node, standing: Mapping[str, Path], loader: Loader
) -> tuple[Section, list[Mistake]]:
    """A section that is written anew, its `when` and the like included; its id and path stay."""
    work = _Expansion(Doc(section.path, whole), standing, loader)
    made = work.section(_Draft(whole, section.path, section.id, True, whole))
    return made or section, work.mistakes


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
        stack = child(root, "stack")
        drafts: list[_Draft] = []
        if stack is not None and not is_sequence(stack):
            self.wrong(stack, "stack", "the stack is a list of sections", "- block: name")
        elif stack is not None and not entries(stack):
            self.wrong(stack, "stack", "the stack holds no section", "- block: name")
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
            self.wrong(block or node, path, "a section names its block", "block: or standing:", near)
            return []
        path = f"{path} {name}"
        for key, _value in items(node):
            if key.value == "set":
                self.wrong(key, path, "set belongs to a standing section", "the field itself, field: value")
        given = self.id(node, path)
        return [_Draft(node, path, given or name, given is not None, child(node, "id") or node)]

    def id(self, node: Node, path: str) -> str | None:
        """The id a section is given, None when it is given none or a wrong one."""
        written = child(node, "id")
        if written is None:
            return None
        given = scalar(written)
        if given is None or not re.match(NAME, given):
            what, expected = PATTERNS[NAME]
            said = repr(given) if given is not None else "this"
            self.wrong(written, f"{path}, id", f"{said} is not {what}", expected)
            return None
        return given

    def stands(self, node: Node, key: Node, path: str, inside: Sequence[str]) -> list[_Draft]:
        name = scalar(key)
        if name is None:
            self.wrong(key, path, "a section names its standing section", "standing: name")
            return []
        path = f"{path} {name}"
        file = self.standing.get(name)
        if file is None:
            known = list(self.standing)
            expected = "one of " + ", ".join(known) if known else "a file standing/NAME.yaml"
            self.wrong(key, path, f"no standing section {name}", expected, nearest(name, known))
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
        version = child(root, "handbill")
        if version is not None and scalar(version) != str(FORMAT):
            message = f"format version {scalar(version) or 'this'} is not one this handbill reads"
            self.wrong(version, "", message, f"handbill: {FORMAT}")
            return []
        several = child(root, "sections")
        if several is None:
            found = self.entry(without(root, "handbill"), path, (*inside, name))
            for draft in found:
                draft.path = path
        else:
            found = self.several(root, several, path, (*inside, name))
        return self.overridden(node, name, found, several is not None or len(found) > 1, path)

    def several(self, root: Node, listed: Node, path: str, inside: Sequence[str]) -> list[_Draft]:
        for key, _value in items(root):
            if key.value not in ("handbill", "sections"):
                expected = "handbill and sections alone, fields in the sections"
                self.wrong(key, path, f"unknown field {key.value}", expected)
        if not entries(listed):
            self.wrong(listed, path, "sections is a list of sections", "- block: name")
        found: list[_Draft] = []
        for number, inner in enumerate(entries(listed)):
            found.extend(self.entry(inner, f"{path}[{number}]", inside))
        return found

    def overridden(
        self, node: Node, name: str, found: list[_Draft], several: bool, path: str
    ) -> list[_Draft]:
        """What the use of a standing section changes in it."""
        self.once(found)
        given = self.id(node, path)
        if several:
            self.over_several(node, name, found, path)
        elif found:
            draft = found[0]
            draft.node = merge(draft.node, without(node, "block", "standing", "id", "set", "otherwise"))
            for key, value in items(node):
                if key.value == "otherwise":  # one way or the other, never a mixture of both
                    draft.node = put(draft.node, key.value, value, key)
            if given is not None or child(draft.node, "id") is None:
                draft.id = given or name
            draft.fixed, draft.at = given is not None, child(node, "id") or draft.at
        changes = child(node, "set")
        if changes is not None and not is_mapping(changes):
            self.wrong(changes, f"{path}, set", "set is a mapping", "set: {id.field: value}")
        for key, value in items(changes):
            self.set(key, value, found, path)
        return found

    def over_several(self, node: Node, name: str, found: list[_Draft], path: str) -> None:
        for key, value in items(node):
            if key.value in _SHARED:
                for draft in found:
                    if child(draft.node, key.value) is not None:
                        message = f"{draft.id} in {name} has a {key.value}: of its own"
                        self.wrong(key, path, message, f"one {key.value}: for each section")
                    else:
                        draft.node = put(draft.node, key.value, value, key)
            elif key.value == "id":
                self.wrong(value, path, f"{name} holds several sections and takes no id")
            elif key.value == "otherwise":
                self.wrong(
                    key,
                    path,
                    f"{name} holds several sections, and otherwise stands for one",
                    "sections of the campaign's own, or another standing section",
                )
            elif key.value not in ("standing", "set"):
                ids = found[0].id if found else "id"
                self.wrong(
                    key,
                    path,
                    f"{name} holds several sections, so {key.value} needs one of their ids",
                    f"set: {{{ids}.{key.value}: …}}",
                )

    def once(self, found: list[_Draft]) -> None:
        """Ids inside a standing section name its parts; a second use of it is numbered like any section."""
        taken: dict[str, Node] = {}
        for draft in found:
            if draft.fixed:
                self.free(draft, taken)
                draft.fixed = False

    def free(self, draft: _Draft, taken: dict[str, Node]) -> None:
        if draft.id in taken:
            expected = f"another id (first at {place(taken[draft.id])})"
            self.wrong(draft.at, draft.path, f"the id {draft.id} is used twice", expected)
        taken.setdefault(draft.id, draft.at)

    def set(self, key: Node, value: Node, found: list[_Draft], path: str) -> None:
        target, dot, field = key.value.partition(".")
        draft = next((one for one in found if one.id == target), None)
        if draft is None or not dot or not field or field in ("block", "standing", "id", "set"):
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

    def named(self, drafts: Sequence[_Draft], taken: Mapping[str, Node] | None = None) -> list[Section]:
        taken = dict(taken or {})
        for draft in drafts:
            if draft.fixed:
                self.free(draft, taken)
        sections = []
        for draft in drafts:
            if not draft.fixed:
                base, number = draft.id, 1
                while draft.id in taken:
                    number += 1
                    draft.id = f"{base}-{number}"
                taken[draft.id] = draft.at
            section = self.section(draft)
            if section is not None:
                sections.append(section)
        return sections

    def section(self, draft: _Draft) -> Section | None:
        node = draft.node
        condition = child(node, "when")
        when = scalar(condition)
        if condition is not None and (when is None or not _RECIPIENT.match(when)):
            self.wrong(
                condition, draft.path, f"when: {when or ''} is not a recipient field", "when: recipient.name"
            )
            when = None
        otherwise = None
        if (written := child(node, "otherwise")) is not None:
            if condition is None:
                expected = "when: recipient.name beside it"
                self.wrong(_key(node, "otherwise"), draft.path, "otherwise stands without a when", expected)
            else:
                otherwise = self.otherwise(written, draft)
        block = scalar(child(node, "block")) or ""
        return Section(
            draft.id,
            block,
            without(node, *META),
            node,
            draft.path,
            when,
            *self.tongue(node, draft.path),
            otherwise,
        )

    def tongue(self, node: Node, path: str) -> tuple[str | None, str | None]:
        """The language and the direction that a section gives itself; the language is looked up later."""
        lang, way = child(node, "lang"), child(node, "dir")
        if lang is not None and not scalar(lang):
            self.wrong(lang, f"{path}, lang", "this is not a language tag", "such as en-GB or he")
        if way is not None and scalar(way) not in ("ltr", "rtl"):
            self.wrong(way, f"{path}, dir", f"{scalar(way) or 'this'} is no direction", "ltr or rtl")
            way = None
        return scalar(lang) or None, scalar(way)

    def otherwise(self, node: Node, draft: _Draft) -> Section | None:
        """What the others get: a section of its own, or fields that differ. Its id is the section's."""
        path, before = f"{draft.path}, otherwise", len(self.mistakes)
        if not is_mapping(node):
            self.wrong(node, path, "otherwise is a mapping", "fields that differ, or block: or standing:")
            return None
        whole = child(node, "block") is not None or child(node, "standing") is not None
        for key, _value in items(node):
            if key.value in ("id", "when", "otherwise"):
                self.wrong(key, path, f"{key.value} cannot stand in otherwise", "beside it, for both")
            elif key.value == "set" and not whole:
                expected = "the field itself, field: value"
                self.wrong(key, path, "set belongs to a standing section", expected)
        if len(self.mistakes) > before:
            return None
        if not whole:
            if not node.value:
                self.wrong(node, path, "otherwise changes nothing", "fields that differ")
                return None
            return Section(draft.id, "", without(node, *META), node, path, None, *self.tongue(node, path))
        found = self.entry(node, path, ())
        if len(found) != 1:
            if found:
                name = scalar(child(node, "standing"))
                message = f"{name} holds several sections, and otherwise stands for one"
                self.wrong(node, path, message, "a standing section that holds one")
            return None
        made = found[0]
        for name in ("when", "otherwise"):
            if child(made.node, name) is not None:
                message = f"the section in otherwise has a {name}: of its own"
                self.wrong(_key(made.node, name), made.path, message, "one without conditions")
                return None
        fields, block = without(made.node, *META), scalar(child(made.node, "block")) or ""
        return Section(
            draft.id, block, fields, made.node, made.path, None, *self.tongue(made.node, made.path)
        )


def _key(node: Node, name: str) -> Node:
    return next((key for key, _value in items(node) if key.value == name), node)


def _deep_put(node: Node, way: Sequence[str], value: Node, key: Node) -> Node:
    """`value` at the end of `way`; its keys stand where `key` does."""
    name = make_scalar(way[0], key)
    if len(way) == 1:
        return put(node, way[0], value, name)
    inner = child(node, way[0])
    if inner is None or not is_mapping(inner):
        inner = make_mapping([], key)
    return put(node, way[0], _deep_put(inner, way[1:], value, key), name)
