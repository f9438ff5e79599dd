"""A patch as data. Enters: what a variant changes, as written; leaves: its changes, each with its place.

Nothing is looked up in the campaign yet: `change` does that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from handbill.base.errors import Mistake, nearest
from handbill.base.frozen import dataclass
from handbill.base.source import (
    Node,
    child,
    entries,
    is_mapping,
    is_sequence,
    items,
    make_scalar,
    place,
    plain,
    scalar,
)
from handbill.models.read import kind

PARTS = ("set", "drop", "add", "move", "replace", "practice", "same")
#: The campaign's own fields that a patch may change, and those that it may not.
HEAD = ("subject", "preheader", "offer", "language", "dir", "send")
FIXED = {
    "brand": "a brand axis",
    "campaign": "one campaign: for all variants",
    "handbill": "one version of the format",
    "stack": "drop, add, move, replace, or set: {id.field: value}",
    "variants": "patches without variants of their own",
}
WHOLE = ("block", "standing", "id", "set")  # of a section; another block is another section
MOST = 1_000  # changes of one patch


@dataclass(frozen=True, slots=True)
class Edit:
    """A field set, or with no `value` dropped. `section` is "" for the campaign's own; `name` as written.

    What is `implied` (the language of a value on the language axis) may say what is so already.
    """

    section: str
    steps: tuple[str, ...]
    value: Node | None
    at: Node
    name: str
    implied: bool = False


@dataclass(frozen=True, slots=True)
class Spot:
    """Before or after which section."""

    id: str
    before: bool
    at: Node

    def __str__(self) -> str:
        return f"{'before' if self.before else 'after'} {self.id}"


@dataclass(frozen=True, slots=True)
class Add:
    """Sections to put in, each with the path that opens its messages."""

    nodes: tuple[tuple[Node, str], ...]
    spot: Spot


@dataclass(frozen=True, slots=True)
class Move:
    """A section to put elsewhere."""

    id: str
    spot: Spot
    at: Node


@dataclass(frozen=True, slots=True)
class Replace:
    """Another section under an id."""

    id: str
    node: Node
    at: Node
    path: str


@dataclass(frozen=True, slots=True)
class Patch:
    """All that one value of an axis, or one named variant, changes. `drops` are names as written."""

    edits: tuple[Edit, ...] = ()
    drops: tuple[Node, ...] = ()
    adds: tuple[Add, ...] = ()
    moves: tuple[Move, ...] = ()
    replaces: tuple[Replace, ...] = ()
    practice: tuple[Node, ...] = ()

    def __bool__(self) -> bool:
        return bool(
            self.edits or self.drops or self.adds or self.moves or self.replaces or self.practice
        )  # fmt: skip


def read_patch(node: Node | None, path: str, more: Sequence[str] = ()) -> tuple[Patch, list[Mistake]]:
    """A patch from its node, with every mistake in how it is written. Keys of `more` are the caller's."""
    reading = _Reading(path)
    return reading.run(node, more), reading.mistakes


def fixed(name: str) -> tuple[str, str]:
    """Why no patch changes one of the campaign's own fields, and what does."""
    said = {"campaign": "name", "handbill": "format"}.get(name, name)
    return f"a patch cannot change the campaign's own {said}", FIXED[name]


def intended(node: Node | None) -> bool:
    """Whether a patch, or `variants`, says `same: intended`."""
    return scalar(child(node, "same")) == "intended"


class _Reading:
    def __init__(self, path: str) -> None:
        self.path = path
        self.mistakes: list[Mistake] = []

    def wrong(self, node: Node, part: str, message: str, expected: str = "", near: str = "") -> None:
        path = f"{self.path}, {part}" if part else self.path
        self.mistakes.append(Mistake(place(node), path, message, expected, near))

    def run(self, node: Node | None, more: Sequence[str]) -> Patch:
        if node is None:
            return Patch()
        known = (*PARTS, *more)
        if not is_mapping(node):
            expected = "set, drop, add, move or replace, or {} for the campaign as it is"
            self.wrong(node, "", f"{kind(plain(node))} where a patch is expected", expected)
            return Patch()
        for key, value in items(node):
            if key.value not in known:
                near = nearest(key.value, known)
                expected = "one of " + ", ".join(known)
                if "." in key.value or key.value in HEAD:
                    expected, near = f"set: {{{key.value}: …}}", ""
                self.wrong(key, "", f"unknown field {key.value}", expected, near)
            if key.value == "same" and scalar(value) != "intended":
                self.wrong(value, "same", f"{scalar(value) or 'this'} is not a choice", "same: intended")
        patch = Patch(
            tuple(self.edits(child(node, "set"))), tuple(self.names(child(node, "drop"), "drop", "id")),
            tuple(self.adds(child(node, "add"))), tuple(self.moves(child(node, "move"))),
            tuple(self.replaces(child(node, "replace"))),
            tuple(self.names(child(node, "practice"), "practice", "NAME")),
        )  # fmt: skip
        count = len(patch.edits) + len(patch.drops) + len(patch.adds) + len(patch.moves) + len(patch.replaces)
        if count > MOST:
            self.wrong(
                node, "", f"{count:,} changes, more than the {MOST:,} allowed", "a campaign of its own"
            )
            return Patch()
        return patch

    def pairs(self, node: Node | None, part: str, expected: str) -> Iterator[tuple[Node, Node]]:
        """The entries of a mapping; anything else, and a mapping of nothing, is a mistake."""
        if node is None:
            return
        if not is_mapping(node):
            self.wrong(node, part, f"{part} is a mapping", expected)
        elif not node.value:
            self.wrong(node, part, f"{part} holds nothing", expected)
        yield from items(node)

    def edits(self, node: Node | None) -> Iterator[Edit]:
        for key, value in self.pairs(node, "set", "set: {id.field: value}"):
            steps = tuple(key.value.split("."))
            if not all(steps):
                self.wrong(key, "set", f"{key.value} names no field", "id.field, such as top.headline")
            elif steps[0] in FIXED and not steps[1:]:
                self.wrong(key, "set", *fixed(steps[0]))
            elif steps[0] in HEAD:
                yield Edit("", steps, value, key, key.value)
            elif steps[1:2] and steps[1] in WHOLE:
                expected = f"replace: {{{steps[0]}: a whole section}}"
                self.wrong(key, "set", f"{steps[1]} of a section cannot be set", expected)
            else:
                yield Edit(steps[0], steps[1:], value, key, key.value)

    def names(self, node: Node | None, part: str, what: str) -> Iterator[Node]:
        if node is None:
            return
        found = entries(node) if is_sequence(node) else [node]
        if not found:
            self.wrong(node, part, f"{part} holds nothing", f"{part}: [{what}]")
        for one in found:
            if scalar(one):
                yield one
            else:
                self.wrong(one, part, f"{part} is a list of names", f"{part}: [{what}]")

    def spot(self, node: Node, part: str, meant: set[str]) -> Spot | None:
        """What `before` or `after` says; exactly one of them does. Where one was `meant` and misspelt, that
        has been named."""
        ways = ("before", "after")
        found = [(key, value) for key, value in items(node) if key.value in ways]
        if not found and meant.intersection(ways):
            return None
        if len(found) != 1:
            what = "before and after exclude each other" if found else "nothing says where it goes"
            self.wrong(found[1][0] if found else node, part, what, "before: id or after: id")
            return None
        key, value = found[0]
        name = scalar(value)
        if name is None:
            self.wrong(value, part, f"{key.value} names a section", f"{key.value}: id")
            return None
        return Spot(name, key.value == "before", value)

    def unknown(self, node: Node, part: str, known: Sequence[str]) -> set[str]:
        """Names keys that may not stand here; those of `known` that they may stand for come back."""
        meant: set[str] = set()
        for key, _value in items(node):
            if key.value not in known:
                near, expected = nearest(key.value, known), "one of " + ", ".join(known)
                self.wrong(key, part, f"unknown field {key.value}", expected, near)
                meant.add(near)
        return meant

    def adds(self, node: Node | None) -> Iterator[Add]:
        example = "add: [{after: id, section: {block: name}}]"
        if node is None:
            return
        if is_sequence(node) and not entries(node):
            self.wrong(node, "add", "add holds nothing", example)
        for number, one in enumerate(entries(node) if is_sequence(node) else [node]):
            part = f"add[{number}]" if is_sequence(node) else "add"
            if not is_mapping(one):
                self.wrong(one, part, "an addition is a mapping", example)
                continue
            meant = self.unknown(one, part, ("before", "after", "section", "sections"))
            spot = self.spot(one, part, meant)
            alone, several = child(one, "section"), child(one, "sections")
            if alone is not None and several is not None:
                self.wrong(several, part, "section and sections exclude each other", "one of them")
            elif alone is not None:
                if spot is not None:
                    yield Add(((alone, f"{self.path}, {part}"),), spot)
            elif several is None:
                if not meant.intersection(("section", "sections")):
                    self.wrong(one, part, "no section to add", "section: or sections:")
            elif not entries(several):
                self.wrong(several, part, "sections is a list of sections", "- block: name")
            elif spot is not None:
                path = f"{self.path}, {part}, sections"
                yield Add(tuple((each, f"{path}[{at}]") for at, each in enumerate(entries(several))), spot)

    def moves(self, node: Node | None) -> Iterator[Move]:
        example = "move: {id: {after: id}}"
        for key, value in self.pairs(node, "move", example):
            part = f"move, {key.value}"
            if not is_mapping(value):
                self.wrong(value, part, "a move says where to", example)
                continue
            spot = self.spot(value, part, self.unknown(value, part, ("before", "after")))
            if spot is not None:
                yield Move(key.value, spot, key)

    def replaces(self, node: Node | None) -> Iterator[Replace]:
        for key, value in self.pairs(node, "replace", "replace: {id: {block: name}}"):
            yield Replace(key.value, value, key, f"{self.path}, replace, {key.value}")


def language_edit(value: Node) -> Edit:
    """What a value on the language axis changes besides its patch."""
    return Edit("", ("language",), make_scalar(value.value, value), value, "language", True)
