"""A patch held against a campaign. Enters: a patch, an expanded campaign; leaves: what it comes to, mistakes.

Everything is judged by the campaign as it stands before any patch, so what is wrong with a patch is wrong in
every variant that has it, and patches come out the same in whatever order they are looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from handbill.base.errors import Fault, Mistake, nearest
from handbill.base.frozen import dataclass, field
from handbill.base.source import Node, child, entries, is_mapping, place, plain
from handbill.expand import META, Expanded, Section, expand_more
from handbill.loader import Loader
from handbill.vary.fields import Defaults, Shape, Specs, Way, locate, of_block
from handbill.vary.patch import FIXED, HEAD, Edit, Move, Patch, Replace, Spot, fixed

Touched = tuple[str, Way]  # a section's id ("" for the campaign) and the way to a field, () for all of it
ADDS = "adds a section"
_MOST_LISTED = 30  # ids in one message


@dataclass(frozen=True, slots=True)
class Touch:
    """One thing that a patch does to one place."""

    said: str
    at: Node
    value: Any = None  # two patches that do the same with the same value do not fight


@dataclass(frozen=True, slots=True)
class Ground:
    """What patches are held against."""

    expanded: Expanded
    specs: Specs
    standing: Mapping[str, Path]
    loader: Loader
    defaults: Defaults
    brand: str = ""  # where a variant chose it

    def shape(self, block: str) -> Shape:
        return of_block(block, self.specs)


@dataclass(frozen=True, slots=True)
class Change:
    """A patch that fits. `label` is how messages call it, `path` opens them."""

    label: str
    path: str
    edits: Mapping[str, tuple[tuple[Edit, Way], ...]] = field(default_factory=dict)  # by section
    replaced: Mapping[str, Section] = field(default_factory=dict)
    added: tuple[tuple[Spot, tuple[Section, ...]], ...] = ()
    moves: tuple[Move, ...] = ()
    drops: frozenset[str] = frozenset()
    touches: Mapping[Touched, Touch] = field(default_factory=dict)
    moved: Mapping[str, Touch] = field(default_factory=dict)
    anchors: Mapping[str, Touch] = field(default_factory=dict)  # where its own moves go


def change_of(patch: Patch, ground: Ground, label: str, path: str, at: Node) -> tuple[Change, list[Mistake]]:
    """What a patch comes to. Mistakes: unknown ids and fields, what changes nothing, what fights itself."""
    work = _Fitting(ground, label, path, at)
    return work.run(patch), work.mistakes


class _Fitting:
    def __init__(self, ground: Ground, label: str, path: str, at: Node) -> None:
        self.ground, self.label, self.path, self.at = ground, label, path, at
        self.sections = {one.id: one for one in ground.expanded.sections}
        self.mistakes: list[Mistake] = []
        self.touches: dict[Touched, Touch] = {}

    def wrong(self, node: Node, part: str, message: str, expected: str = "", near: str = "") -> None:
        self.mistakes.append(Mistake(place(node), f"{self.path}, {part}", message, expected, near))

    def run(self, patch: Patch) -> Change:
        drops: dict[str, Node] = {}
        edits: list[tuple[Edit, Way]] = []
        for edit in (*patch.edits, *self.dropped(patch.drops, drops)):
            way = self.edit(edit)
            if way is not None:
                edits.append((edit, way))
        replaced = {one.id: section for one in patch.replaces if (section := self.replace(one)) is not None}
        moved = self.moves(patch.moves)
        by_section: dict[str, list[tuple[Edit, Way]]] = {}
        for edit, way in edits:
            by_section.setdefault(edit.section, []).append((edit, way))
        change = Change(
            self.label, self.path,
            {name: tuple(several) for name, several in by_section.items()},
            replaced, tuple(self.adds(patch)), tuple(patch.moves), frozenset(drops), self.touches,
            {one.id: Touch(f"moves {one.id}", one.at, str(one.spot)) for one in patch.moves},
            {one.spot.id: Touch(f"moves {one.id} {one.spot}", one.at, None) for one in moved},
        )  # fmt: skip
        self.itself(change)
        return change

    def known(self, name: str, node: Node, part: str) -> bool:
        if name in self.sections:
            return True
        if name in FIXED:
            self.wrong(node, part, *fixed(name))
            return False
        ids = list(self.sections)
        shown = ", ".join(ids[:_MOST_LISTED]) + (", …" if len(ids) > _MOST_LISTED else "")
        near = nearest(name, ids)
        message = f"no section {name}" + (f" for {self.ground.brand}" if self.ground.brand else "")
        self.wrong(node, part, message, f"one of {shown}" if ids else "", near)
        return False

    def touch(self, key: Touched, made: Touch, part: str) -> None:
        before = self.touches.setdefault(key, made)
        if before is not made:
            what = "the same again" if before.said == made.said else f"and the same patch {before.said}"
            self.wrong(made.at, part, f"{made.said}, {what} ({place(before.at)})", "one of the two")

    # -- fields

    def edit(self, edit: Edit) -> Way | None:
        """The way to an edit's field; None when it has no place or changes nothing."""
        part, dropping = ("set", False) if edit.value is not None else ("drop", True)
        if not edit.section:
            root, shape = self.ground.expanded.head, Shape()
            if len(edit.steps) > 1 and edit.steps[0] in self.sections:
                message = f"{edit.steps[0]} is a section's id as well as a field of the campaign"
                self.wrong(edit.at, part, message, "another id for the section")
                return None
        elif not edit.steps:
            names = [*HEAD, *self.sections]
            expected = f"set: {{{edit.name}.field: …}}" if edit.name in self.sections else ""
            expected = expected or "id.field, or one of " + ", ".join(HEAD)
            near = "" if edit.name in self.sections else nearest(edit.name, names)
            self.wrong(edit.at, part, f"{edit.name} names no field", expected, near)
            return None
        elif not self.known(edit.section, edit.at, part):
            return None
        else:
            root, shape = self.root(edit), self.ground.shape(self.sections[edit.section].block)
        try:
            _root, way, old = locate(root, edit.steps, shape, edit.at)
        except Fault as fault:
            self.mistakes.append(fault.at(place(edit.at), f"{self.path}, {part}, {edit.name}"))
            return None
        if dropping and (old is None or plain(old) is None):
            fields = [key for key in plain(root) if key not in ("block", "id", "standing", "set")]
            near = nearest(edit.steps[0], fields) if len(edit.steps) == 1 else ""
            self.wrong(edit.at, part, f"there is no {edit.name} to drop", "", near)
            return None
        if dropping and self.needed(edit, way, shape):
            self.wrong(edit.at, part, f"{edit.name} cannot be left out", "another value, under set:")
            return None
        if edit.value is not None and _same(old, edit.value):
            if not edit.implied:
                message = f"{edit.name} has that value already"
                where = f" ({place(old)})" if old is not None else ""
                self.wrong(edit.at, part, message + where, "another value, or no line")
            return None
        said = f"drops {edit.name}" if dropping else f"sets {edit.name}"
        value = ("drop",) if edit.value is None else ("set", plain(edit.value))
        self.touch((edit.section, way), Touch(said, edit.at, value), part)
        return way

    def needed(self, edit: Edit, way: Way, shape: Shape) -> bool:
        """Whether a field is one that its section, or the campaign, cannot do without."""
        if not edit.section:
            return way in (("subject",), ("send",))
        *above, last = way
        node = self.root(edit)
        for step in above:
            inner = entries(node)[step] if isinstance(step, int) else child(node, step)
            if inner is None:
                return False
            shape, node = (shape.entry(inner) if isinstance(step, int) else shape.below(step)), inner
        spec = shape.fields.get(str(last))
        return last == shape.code != "" or (spec is not None and bool(spec.required))

    def root(self, edit: Edit) -> Node:
        section = self.sections[edit.section]
        return section.whole if edit.steps[0] in META else section.node

    def dropped(self, names: Sequence[Node], drops: dict[str, Node]) -> Iterator[Edit]:
        """Sections go into `drops`, fields come back."""
        for node in names:
            name = node.value
            head, _dot, rest = name.partition(".")
            if rest or (head in HEAD and head not in self.sections):
                if head in HEAD:
                    yield Edit("", tuple(name.split(".")), None, node, name)
                else:
                    yield Edit(head, tuple(rest.split(".")), None, node, name)
            elif self.known(name, node, "drop"):
                drops[name] = node
                self.touch((name, ()), Touch(f"drops {name}", node, "drop"), "drop")

    # -- sections

    def replace(self, one: Replace) -> Section | None:
        if not self.known(one.id, one.at, "replace"):
            return None
        if is_mapping(one.node) and (given := child(one.node, "id")) is not None and given.value != one.id:
            self.wrong(given, f"replace, {one.id}", f"the section keeps its id {one.id}", "no id:")
            return None
        old = self.sections[one.id]
        bare = Expanded(self.ground.expanded.doc, self.ground.expanded.head, ())
        found, mistakes = expand_more([(one.node, one.path)], bare, self.ground.standing, self.ground.loader)
        self.mistakes.extend(mistakes)
        if mistakes or not found:
            return None
        if len(found) > 1:
            message = f"{len(found)} sections in place of one"
            self.wrong(one.at, "replace", message, "drop, and add with sections:")
            return None
        made = found[0]
        if _content(made) == _content(old):
            self.wrong(one.at, "replace", f"{one.id} is that section already", "another section, or no line")
            return None
        self.touch((one.id, ()), Touch(f"replaces {one.id}", one.at, plain(one.node)), "replace")
        return Section(
            one.id, made.block, made.node, made.whole, made.path, made.when, made.lang, made.dir,
            made.otherwise,
        )  # fmt: skip

    def adds(self, patch: Patch) -> Iterator[tuple[Spot, tuple[Section, ...]]]:
        """Together, so that numbers of ids go on from one addition to the next."""
        nodes = [pair for add in patch.adds for pair in add.nodes]
        for add in patch.adds:
            self.known(add.spot.id, add.spot.at, "add")
        ground = self.ground
        made, mistakes = expand_more(nodes, ground.expanded, ground.standing, ground.loader)
        self.mistakes.extend(mistakes)
        for add in patch.adds:
            paths = tuple(path for _node, path in add.nodes)
            mine = tuple(one for one in made if one.path.startswith(paths))
            for one in mine:
                touch = Touch(f"{ADDS} {one.id}", child(one.whole, "id") or one.whole, one.path)
                self.touches.setdefault((one.id, ()), touch)  # an id used twice has been named
            yield add.spot, mine

    def moves(self, moves: Sequence[Move]) -> list[Move]:
        """One after the other; each must change the order that the one before left."""
        order, fitting = list(self.sections), []
        for one in moves:
            if not (self.known(one.id, one.at, "move") and self.known(one.spot.id, one.spot.at, "move")):
                continue
            if one.spot.id == one.id:
                self.wrong(one.spot.at, "move", f"{one.id} moves to where it is", "another section's id")
                continue
            after = moved(order, one)
            if after == order:
                self.wrong(one.at, "move", f"{one.id} stands {one.spot} already", "another place, or no line")
                continue
            order = after
            fitting.append(one)
        return fitting

    def itself(self, change: Change) -> None:
        """What in a patch fights another part of it."""
        for first, second in fights(change, change):
            message = f"{second.said}, and the same patch {first.said} ({place(first.at)})"
            self.mistakes.append(Mistake(place(second.at), self.path, message, "one of the two"))


def moved(order: Sequence[str], move: Move) -> list[str]:
    """Ids in order, with one elsewhere."""
    rest = [one for one in order if one != move.id]
    at = rest.index(move.spot.id) + (0 if move.spot.before else 1)
    return [*rest[:at], move.id, *rest[at:]]


def fights(one: Change, other: Change) -> Iterator[tuple[Touch, Touch]]:
    """What the two cannot both do, `other`'s second; a change and itself are looked at once each way."""
    for (section, way), made in other.touches.items():
        for length in range(len(way) + 1):
            if one is other and length == len(way):
                continue
            against = one.touches.get((section, way[:length]))
            if against is not None and (length < len(way) or against.value != made.value):
                yield against, made
        if not way and section in one.moved and made.said.startswith("drops"):
            yield one.moved[section], made
    if one is other:
        return
    for (section, way), made in one.touches.items():
        for length in range(len(way)):
            against = other.touches.get((section, way[:length]))
            if against is not None:
                yield made, against
        if not way and section in other.moved and made.said.startswith("drops"):
            yield made, other.moved[section]
    for name, touch in other.moved.items():
        if name in one.moved and one.moved[name].value != touch.value:
            yield one.moved[name], touch
        elif name in one.anchors:
            yield one.anchors[name], touch
    for name, touch in other.anchors.items():
        if name in one.moved:
            yield one.moved[name], touch


def ordered(several: Iterable[tuple[Edit, Way]]) -> list[Edit]:
    """Values first, then drops from the end of each list, so that no number shifts under another."""
    sets, drops = list[Edit](), list[tuple[list[tuple[bool, str]], Edit]]()
    for edit, way in several:
        if edit.value is not None:
            sets.append(edit)
        else:
            drops.append(([(isinstance(one, int), str(one).zfill(6)) for one in way], edit))
    return [*sets, *(edit for _way, edit in sorted(drops, key=lambda pair: pair[0], reverse=True))]


def _same(old: Node | None, new: Node) -> bool:
    return bool((plain(old) if old is not None else None) == plain(new))


def _content(section: Section) -> tuple[Any, ...]:
    """What a section says, wherever it is written."""
    whole = {key: value for key, value in plain(section.whole).items() if key not in ("id", "standing")}
    return section.block, whole
