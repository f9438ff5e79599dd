"""`variants:` of a campaign. Enters: its node; leaves: a `Plan`, and every mistake in how it is written."""

from __future__ import annotations

import re
from array import array
from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from math import prod

from handbill.base.errors import Mistake, nearest
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
    place,
    plain,
    scalar,
)
from handbill.models.read import NAME, PATTERNS, TAG, kind
from handbill.vary.patch import intended, read_patch
from handbill.vary.plan import BRAND, LANGUAGE, MAIN, MOST, MOST_ID, NAMED, Axis, Plan, Value

PARTS = ("axes", "only", "except", "named", "practice", "same")
PRACTICE = "practice"  # the axis of arms that break a rule of the trade
USUAL = "usual"  # its baseline
MOST_AXES = 12
MOST_TRIMS = 200  # entries of only, and of except
Trim = Mapping[str, frozenset[str]]  # by axis, the values that match
_VALUE = re.compile(r"[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*")
_LONGEST = 60  # characters of a name
_PATCH = "set, drop, add, move or replace, or a brand: or language: of its own"
#: Names that some file system keeps for itself, or that the output has for other things.
_TAKEN = {
    MAIN, "pictures", "manifest", "con", "prn", "aux", "nul",
    *(f"{port}{number}" for port in ("com", "lpt") for number in range(10)),
}  # fmt: skip


def read_plan(doc: Doc) -> tuple[Plan, list[Mistake]]:
    """A campaign's variants. With mistakes the plan holds what could be read, perhaps `main` alone."""
    reading = _Reading(doc)
    return reading.run(), reading.mistakes


class _Reading:
    def __init__(self, doc: Doc) -> None:
        self.doc = doc
        self.mistakes: list[Mistake] = []
        self.same = False

    def wrong(self, node: Node, path: str, message: str, expected: str = "", near: str = "") -> None:
        self.mistakes.append(Mistake(place(node), f"variants{path}", message, expected, near))

    def run(self) -> Plan:
        root = self.doc.root
        key = next((one for one, _value in items(root) if one.value == "variants"), None)
        node = child(root, "variants")
        if node is None or key is None:
            return Plan(self.doc)
        if not is_mapping(node) or not node.value:
            what = "this names no variants" if is_mapping(node) or plain(node) is None else "not a mapping"
            self.wrong(node, "", what, "axes: or named: below variants:")
            return Plan(self.doc)
        for part, value in items(node):
            if part.value not in PARTS:
                near, expected = nearest(part.value, PARTS), "one of " + ", ".join(PARTS)
                if not near and is_mapping(value):
                    expected += f"; an axis stands below them, axes: {{{part.value}: …}}"
                self.wrong(part, "", f"unknown field {part.value}", expected, near)
        same = child(node, "same")
        if same is not None and scalar(same) != "intended":
            self.wrong(same, ", same", f"{scalar(same) or 'this'} is not a choice", "same: intended")
        self.same = intended(node)
        axes = [*self.axes(child(node, "axes")), *self.practice(child(node, "practice"))]
        named = list(self.named(child(node, "named")))
        self.differing(axes, child(node, "axes"))
        if not axes and not named and not self.mistakes:
            self.wrong(key, "", "this names no variants", "axes: or named: below variants:")
        if len(axes) > MOST_AXES:
            self.wrong(axes[MOST_AXES].at, ", axes", f"{len(axes)} axes", f"at most {MOST_AXES}")
            return Plan(self.doc)
        count = prod(len(axis.values) for axis in axes)
        if count > MOST:
            message = f"the axes multiply to {count:,} variants, more than the {MOST:,} allowed"
            self.wrong(child(node, "axes") or key, ", axes", message, "fewer values, or several campaigns")
            return Plan(self.doc)
        longest = sum(max(len(one.label) for one in axis.values) + 1 for axis in axes) - 1
        if longest > MOST_ID:
            message = f"ids of {longest} characters, which name folders"
            self.wrong(child(node, "axes") or key, ", axes", message, f"shorter names, {MOST_ID} in all")
        plan = Plan(self.doc, axes, named, None, self.same, key)
        return self.trimmed(plan, node)

    # -- axes

    def axes(self, node: Node | None) -> Iterator[Axis]:
        if node is None:
            return
        if not is_mapping(node) or not node.value:
            self.wrong(node, ", axes", "axes is a mapping of axes by name", "axes: {arm: {control: {}, …}}")
            return
        for key, value in items(node):
            path = f", axes, {key.value}"
            if not re.fullmatch(NAME, key.value) or len(key.value) > _LONGEST:
                what, expected = PATTERNS[NAME]
                self.wrong(key, ", axes", f"{key.value!r} is not {what}", expected)
                continue
            if key.value == NAMED:
                self.wrong(key, ", axes", f"{NAMED} stands for named variants", "another name")
                continue
            values = tuple(self.values(key, value, path))
            if values:
                yield Axis(key.value, key, values)

    def values(self, axis: Node, node: Node, path: str) -> Iterator[Value]:
        name, listed = axis.value, is_sequence(node)
        example = f"{name}: {{name: {{set: {{…}}}}}}"
        if name in (LANGUAGE, BRAND):
            example = f"{name}: [name, name]"
        if not (is_mapping(node) or listed) or not node.value:
            self.wrong(node, path, "an axis has values", example)
            return
        if listed and name not in (LANGUAGE, BRAND, PRACTICE):
            self.wrong(node, path, "names alone change nothing; this axis takes patches", example)
            return
        pairs = [(one, None) for one in entries(node)] if listed else list(items(node))
        seen: dict[str, Node] = {}
        bare: list[Node] = []
        for key, patch in pairs:
            if not self.named_well(key, path, name, seen):
                continue
            own = f"variants{path}, {key.value}"
            if patch is not None:
                read, wrong = read_patch(patch, own)
                self.mistakes.extend(wrong)
                equals = self.same or intended(patch) or name in (LANGUAGE, BRAND)
                if not (wrong or read or equals):
                    bare.append(key)
            elif name == PRACTICE and key.value != USUAL:
                patch = _practice(key)
            yield Value(
                name, key.value, key, patch, own, key if name == BRAND else None,
                key if name == LANGUAGE else None, intended(patch),
            )  # fmt: skip
        if len(bare) > 1:
            first = f"{bare[0].value} (line {place(bare[0]).line})"
            message = f"{bare[1].value} changes nothing, and neither does {first}"
            self.wrong(bare[1], path, message, "one baseline, or same: intended for a test of equals")

    def named_well(self, key: Node, path: str, axis: str, seen: dict[str, Node]) -> bool:
        """Whether a value's name can be one; a mistake otherwise."""
        name = scalar(key) or ""
        if axis == LANGUAGE and not re.fullmatch(TAG, name):
            what, expected = PATTERNS[TAG]
            self.wrong(key, path, f"{name or 'this'} is not {what}", expected)
        elif not _VALUE.fullmatch(name):
            self.wrong(key, path, f"{name or 'this'} is not a name", "letters, digits and hyphens")
        elif len(name) > _LONGEST:
            self.wrong(key, path, f"a name of {len(name)} characters", f"at most {_LONGEST}")
        elif name.lower() in seen:
            first = seen[name.lower()]
            message, expected = f"{name} is there already (line {place(first).line})", "each name once"
            if first.value != name:
                message = f"{name} and {first.value} (line {place(first).line}) would share a folder"
                expected = "names that differ in more than capitals"
            self.wrong(key, path, message, expected)
        else:
            seen[name.lower()] = key
            return True
        return False

    def practice(self, node: Node | None) -> Iterator[Axis]:
        """Rules of the trade by name: an axis of the campaign as it is, and of arms that break one each."""
        if node is None:
            return
        listed = entries(node) if is_sequence(node) else [node] if scalar(node) else []
        seen: dict[str, Node] = {}
        path, values = ", practice", []
        for key in listed:
            if self.named_well(key, path, PRACTICE, seen):
                values.append(Value(PRACTICE, key.value, key, _practice(key), f"variants{path}, {key.value}"))
        if not listed:
            self.wrong(node, path, "no rule is named", "practice: [NAME, …]")
        if values:
            usual = Value(PRACTICE, USUAL, node, None, f"variants{path}")
            yield Axis(PRACTICE, node, (usual, *values))

    def differing(self, axes: Sequence[Axis], node: Node | None) -> None:
        names: dict[str, Node] = {}
        for axis in axes:
            if axis.name in names:
                self.wrong(axis.at, "", f"{axis.name} is an axis already", "one of the two")
            names[axis.name] = axis.at

    def named(self, node: Node | None) -> Iterator[Value]:
        if node is None:
            return
        path = ", named"
        if not is_mapping(node) or not node.value:
            self.wrong(node, path, "named variants are a mapping", "named: {id: {set: {…}}}")
            return
        for key, patch in items(node):
            own = f"variants{path}, {key.value}"
            if not re.fullmatch(NAME, key.value) or len(key.value) > _LONGEST:
                what, expected = PATTERNS[NAME]
                self.wrong(key, path, f"{key.value!r} is not {what}", expected)
                continue
            if key.value in _TAKEN:
                self.wrong(
                    key, path, f"{key.value} is a name that output or some computer keeps", "another name"
                )
                continue
            if not is_mapping(patch):
                self.wrong(
                    patch, f"{path}, {key.value}", f"{kind(plain(patch))} where a patch is expected", _PATCH
                )
                continue
            read, wrong = read_patch(patch, own, (BRAND, LANGUAGE))
            self.mistakes.extend(wrong)
            brand, language = (self.chosen(patch, axis, own) for axis in (BRAND, LANGUAGE))
            asked = any(child(patch, axis) is not None for axis in (BRAND, LANGUAGE))
            if not (wrong or read or asked or intended(patch)):
                self.wrong(key, path, f"{key.value} changes nothing", _PATCH)
            yield Value("", key.value, key, patch, own, brand, language, intended(patch))

    def chosen(self, patch: Node, axis: str, path: str) -> Node | None:
        """The brand or language that a named variant is for."""
        node = child(patch, axis)
        if node is None:
            return None
        pattern = TAG if axis == LANGUAGE else NAME
        name = scalar(node)
        if name is None or not re.fullmatch(pattern, name):
            what, expected = PATTERNS[pattern]
            self.mistakes.append(
                Mistake(place(node), f"{path}, {axis}", f"{name or 'this'} is not {what}", expected)
            )
            return None
        return node

    # -- only, except

    def trimmed(self, plan: Plan, node: Node) -> Plan:
        only = list(self.trims(child(node, "only"), "only", plan))
        drop = list(self.trims(child(node, "except"), "except", plan))
        if self.mistakes or not (only or drop):
            return plan
        kept, used = _kept(plan, [trim for _node, trim in only], [trim for _node, trim in drop])
        for at, (where, _trim) in enumerate((*only, *drop)):
            if at not in used:
                part, message = "only", "every variant that this keeps is kept already"
                if at >= len(only):
                    part, message = "except", "no variant that this leaves out is there"
                self.wrong(where, f", {part}", message, "another choice, or no line")
        if not kept:
            message = "only and except leave no variant" if only else "this leaves no variant"
            self.wrong(drop[-1][0], ", except", message, "at least one")
            return plan
        return Plan(plan.doc, plan.axes, plan.named, kept, plan.same, plan.at)

    def trims(self, node: Node | None, part: str, plan: Plan) -> Iterator[tuple[Node, Trim]]:
        """Partial choices: for each axis named, the values that match."""
        if node is None:
            return
        known = {axis.name: [one.name for one in axis.values] for axis in plan.axes}
        listed = entries(node) if is_sequence(node) else [node]
        example = f"{part}: [{{axis: value}}]"
        if not listed or len(listed) > MOST_TRIMS:
            what = f"{len(listed)} choices" if listed else f"{part} holds nothing"
            self.wrong(node, f", {part}", what, f"at most {MOST_TRIMS}" if listed else example)
            return
        for one in listed:
            if not is_mapping(one) or not one.value:
                self.wrong(one, f", {part}", "a choice is a mapping", example)
                continue
            trim: dict[str, frozenset[str]] = {}
            for axis, values in items(one):
                if axis.value not in known:
                    expected = "one of " + ", ".join(known) if known else "axes to choose from"
                    near, message = nearest(axis.value, known), f"no axis {axis.value}"
                    if axis.value == NAMED:
                        message += f": {part} trims axes, and leaves named variants as they are"
                    self.wrong(axis, f", {part}", message, expected, near)
                    continue
                chosen = entries(values) if is_sequence(values) else [values]
                for value in chosen:
                    if scalar(value) not in known[axis.value]:
                        names = known[axis.value]
                        near = nearest(scalar(value) or "", names)
                        message = f"{axis.value} has no value {scalar(value) or ''}".rstrip()
                        self.wrong(value, f", {part}", message, "one of " + ", ".join(names), near)
                if not chosen:
                    self.wrong(values, f", {part}", f"no value of {axis.value}", example)
                trim[axis.value] = frozenset(scalar(value) or "" for value in chosen)
            yield one, trim


def _kept(plan: Plan, only: Sequence[Trim], drop: Sequence[Trim]) -> tuple[array[int], set[int]]:
    """The places in the product that are left, and which of the trims (in one row) did anything.

    Each value knows the trims that it fits as the bits of a number, so a variant's are one `and` away.
    """
    trims = (*only, *drop)
    fits = [
        [
            sum(1 << at for at, trim in enumerate(trims) if one.name in trim.get(axis.name, (one.name,)))
            for one in axis.values
        ]
        for axis in plan.axes
    ]
    keeps = (1 << len(only)) - 1
    kept, used = array("I"), set[int]()
    for number, bits in enumerate(product(*fits)):
        found = (1 << len(trims)) - 1
        for one in bits:
            found &= one
        keep, out = found & keeps, found & ~keeps
        if only and not keep:
            continue
        used.add(_first(keep))  # one that fits only what an earlier one fits says nothing
        used.add(_first(out))
        if not out:
            kept.append(number)
    return kept, used


def _first(bits: int) -> int:
    return (bits & -bits).bit_length() - 1


def _practice(key: Node) -> Node:
    """The patch that breaks one rule."""
    return make_mapping([(make_scalar("practice", key), make_scalar(key.value, key))], key)
