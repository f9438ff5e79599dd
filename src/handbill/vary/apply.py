"""Patching. Enters: an expanded campaign, a variant; leaves: the variant, expanded.

Sections that no patch touches are the very same objects in every variant, and one that the same patches
touch is one object too, so that whatever is made of them can be kept. Fields come first, then moves, then
additions, then drops: a section can go where a dropped one stood.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import combinations
from pathlib import Path

from handbill.base.errors import Mistake
from handbill.base.kept import Kept
from handbill.base.source import Doc, Node, place
from handbill.expand import META, Expanded, Section, reread
from handbill.loader import Loader
from handbill.vary.change import ADDS, Change, Ground, change_of, fights, moved, ordered
from handbill.vary.fields import Defaults, Shape, Specs, drop_at, locate, set_at
from handbill.vary.patch import Edit, language_edit, read_patch
from handbill.vary.plan import BRAND, LANGUAGE, Plan, Value, Variant
from handbill.vary.practice import broken

MANY = 100  # fights of two axes that are all named
MOST = 1_000  # changes and patched sections kept at a time
Fitted = tuple[Change, list[Mistake]]


class Patcher:
    """The variants of one campaign in one brand, made from it `expanded`."""

    def __init__(
        self, plan: Plan, expanded: Expanded, specs: Specs, standing: Mapping[str, Path], loader: Loader,
        defaults: Defaults, brand: str = "",
    ) -> None:  # fmt: skip
        self.plan = plan
        self.ground = Ground(expanded, specs, standing, loader, defaults, brand)
        self._changes: Kept[Fitted] = Kept(MOST)
        self._sections: Kept[tuple[Section, list[Mistake]]] = Kept(MOST)
        self._heads: Kept[tuple[Doc, Node]] = Kept(MOST)

    def run(self, variant: Variant) -> tuple[Expanded, list[Mistake]]:
        """The variant, and what is wrong with its patches, alone or together."""
        fitted = [self._change(one) for one in variant.patches]
        mistakes = [mistake for _change, wrong in fitted for mistake in wrong]
        changes = [change for change, _wrong in fitted]
        for (one, first), (other, second) in combinations(zip(variant.patches, changes, strict=True), 2):
            mistakes.extend(self._example(one, other, fight, second) for fight in _fight(first, second))
        if mistakes or not changes:
            return self.ground.expanded, mistakes
        return self._patched(changes, variant)

    def _example(self, one: Value, other: Value, fight: Mistake, second: Change) -> Mistake:
        """`fight` itself, or where a large axis fights over one line, its first value's fight there."""
        axis, against = (next(a for a in self.plan.axes if a.name == value.axis) for value in (one, other))
        if len(axis.values) * len(against.values) < MANY:
            return fight
        for value in axis.values:
            if value is one:
                break
            change, wrong = self._change(value) if self.plan.together(value, other) else (None, [])
            same = _fight(change, second) if change is not None and not wrong else ()
            if (first := next((f for f in same if f.place == fight.place), None)) is not None:
                return first
        return fight

    def _change(self, value: Value) -> Fitted:
        return self._changes.by(value.label, partial(self._fitted, value))

    def _fitted(self, value: Value) -> Fitted:
        patch, mistakes = read_patch(value.node, value.path, (BRAND, LANGUAGE) if not value.axis else ())
        if mistakes:
            return Change(value.label, value.path), mistakes
        if value.language is not None:
            patch = replace(patch, edits=(*patch.edits, language_edit(value.language)))
        patch, mistakes = broken(patch, self.ground, value.path)
        change, wrong = change_of(patch, self.ground, value.label, value.path, value.at)
        return change, [*mistakes, *wrong]

    def _patched(self, changes: Sequence[Change], variant: Variant) -> tuple[Expanded, list[Mistake]]:
        base, mistakes = self.ground.expanded, list[Mistake]()
        sections = {one.id: one for one in base.sections}
        for name in dict.fromkeys(name for one in changes for name in (*one.replaced, *one.edits) if name):
            mine = [one for one in changes if name in one.replaced or name in one.edits]
            key = (name, *(one.label for one in mine))
            made, wrong = self._sections.by(key, partial(self._section, name, mine))
            sections[name] = made
            mistakes.extend(wrong)
        order = _order(list(sections), changes, sections)
        if not order:
            at, path = next((one.at, one.path) for one in reversed(variant.patches))
            mistakes.append(Mistake(place(at), path, f"no section is left in {variant.id}", "a stack"))
        editing = [one for one in changes if "" in one.edits]
        doc, head = base.doc, base.head
        if editing:
            key = tuple(one.label for one in editing)
            doc, head = self._heads.by(key, lambda: self._head(editing))
        stack = tuple(sections[name] for name in order)
        if head is base.head and len(stack) == len(base.sections) and all(map(_is, stack, base.sections)):
            return base, mistakes
        return Expanded(doc, head, stack), mistakes

    def _section(self, name: str, changes: Sequence[Change]) -> tuple[Section, list[Mistake]]:
        made = next(one for one in self.ground.expanded.sections if one.id == name)
        for change in changes:
            made = change.replaced.get(name, made)
        edits = ordered(pair for change in changes for pair in change.edits.get(name, ()))
        node, whole, shape = made.node, made.whole, self.ground.shape(made.block)
        for edit in edits:
            whole = _edited(whole, edit, shape)
            if edit.steps[0] not in META:
                node = _edited(node, edit, shape)
        if any(edit.steps[0] in META for edit in edits):
            return reread(made, whole, self.ground.standing, self.ground.loader)
        return replace(made, node=node, whole=whole), []

    def _head(self, changes: Sequence[Change]) -> tuple[Doc, Node]:
        doc, head = self.ground.expanded.doc, self.ground.expanded.head
        root = doc.root
        for edit in ordered(pair for change in changes for pair in change.edits[""]):
            root, head = _edited(root, edit, Shape()), _edited(head, edit, Shape())
        return Doc(doc.name, root), head


def _is(one: object, other: object) -> bool:
    return one is other


def _edited(node: Node, edit: Edit, shape: Shape) -> Node:
    node, way, old = locate(node, edit.steps, shape, edit.at)
    if edit.value is not None:
        return set_at(node, way, edit.value, edit.at)
    return drop_at(node, way, edit.at) if old is not None else node


def _order(order: list[str], changes: Sequence[Change], sections: dict[str, Section]) -> list[str]:
    """Ids in the variant's order; added sections are put into `sections`."""
    for change in changes:
        for move in change.moves:
            order = moved(order, move)
    last: dict[str, str] = {}  # what was put after a section goes after what was put there before
    for change in changes:
        for spot, added in change.added:
            names = [one.id for one in added]
            sections.update({one.id: one for one in added})
            at = order.index(spot.id if spot.before else last.get(spot.id, spot.id)) + (not spot.before)
            order[at:at] = names
            if names and not spot.before:
                last[spot.id] = names[-1]
    gone = {name for change in changes for name in change.drops}
    return [name for name in order if name not in gone]


def _fight(first: Change, second: Change) -> Iterator[Mistake]:
    for one, other in fights(first, second):
        message = f"{other.said}, and {first.label} {one.said} ({place(one.at)})"
        expected = "one of the two, or an except: for both"
        if one.said.startswith(ADDS) and other.said.startswith(ADDS):
            expected = "an id: of its own for one of the two"
        yield Mistake(place(other.at), second.path, message, expected)
