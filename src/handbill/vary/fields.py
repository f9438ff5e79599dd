"""Fields by name. Enters: a section's node and an address such as `products.K-210.caption`; leaves: the way.

Lists are entered by number, products and reviews by their codes as well. What an author wrote short (a code
for a product, a file for a picture) is written out where an address leads into it. Blocks say which is which.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from handbill.base.errors import Fault, nearest
from handbill.base.frozen import dataclass, field
from handbill.base.source import (
    Node,
    child,
    entries,
    is_mapping,
    is_sequence,
    items,
    make_mapping,
    make_scalar,
    make_sequence,
    plain,
    put,
    scalar,
    without,
)
from handbill.expand import META

if TYPE_CHECKING:
    from handbill.library.spec import BlockSpec, FieldSpec

Way = tuple[str | int, ...]
Specs = Mapping[str, "BlockSpec"]
Defaults = Mapping[str, Mapping[str, Any]]  # what a brand says instead of a block's defaults, by block
_CODE = {"products": "sku", "product": "sku", "reviews": "id", "review": "id"}
_SHORT = {**_CODE, "picture": "file"}
_LABELLED = ("button", "link")
_LISTS = ("products", "reviews", "list", "cells")


@dataclass(frozen=True, slots=True)
class Shape:
    """What is known of a value: its field's type, the fields below it; "" where nothing is known."""

    type: str = ""
    fields: Mapping[str, FieldSpec] = field(default_factory=dict)
    specs: Specs = field(default_factory=dict)
    code: str = ""  # what an entry of a list is called by

    @property
    def names(self) -> tuple[str, ...]:
        """The fields it may have, as far as they are known; nothing where they are not."""
        if self.type in _LABELLED:
            return ("label", "link")
        if not (self.fields or self.code):
            return ()
        return (*filter(None, [self.code]), "tone", *self.fields)

    def below(self, name: str) -> Shape:
        """The shape of a field."""
        spec = self.fields.get(name)
        if spec is None:
            return Shape("", {}, self.specs)
        return Shape(spec.type, spec.of, self.specs, _CODE.get(spec.type, ""))

    def entry(self, node: Node) -> Shape:
        """The shape of an entry of a list."""
        if self.type == "cells":
            return of_block(scalar(child(node, "block")), self.specs)
        single = {"products": "product", "reviews": "review", "list": "entry"}.get(self.type, "")
        return Shape(single, self.fields, self.specs, self.code)


def of_block(block: str | None, specs: Specs) -> Shape:
    """The shape of a section."""
    spec = specs.get(block or "")
    return Shape("section", spec.fields if spec is not None else {}, specs)


def locate(node: Node, steps: Sequence[str], shape: Shape, key: Node) -> tuple[Node, Way, Node | None]:
    """`node` with all written out that `steps` lead through, the way, and what is there (None: nothing).

    Raises Fault where the steps lead nowhere.
    """
    if not steps:
        return node, (), node
    node = _open(node, steps, shape)
    if is_sequence(node):
        number, used = _entry(node, steps, shape)
        listed = entries(node)
        inner, way, old = locate(listed[number], steps[used:], shape.entry(listed[number]), key)
        if inner is not listed[number]:
            node = make_sequence([*listed[:number], inner, *listed[number + 1 :]], node)
        return node, (number, *way), old
    name, known = steps[0], shape.names
    below = child(node, name)
    if known and name not in known and below is None and not (shape.type == "section" and name in META):
        expected = "one of " + ", ".join(known)
        raise Fault(f"unknown field {name}", expected=expected, nearest=nearest(name, known))
    if below is None and len(steps) == 1:
        return node, (name,), None
    if below is None or (plain(below) is None and len(steps) > 1):
        if shape.below(name).type in _LISTS:
            raise Fault(f"{name} has no entries", expected=f"{name}: with a whole list")
        below = make_mapping([], key)
    inner, way, old = locate(below, steps[1:], shape.below(name), key)
    if inner is not child(node, name):
        written = next((one for one, _value in items(node) if one.value == name), make_scalar(name, key))
        node = put(node, name, inner, written)
    return node, (name, *way), old


def _open(node: Node, steps: Sequence[str], shape: Shape) -> Node:
    """A list or a mapping in place of what is written short. Raises Fault for text that is neither."""
    if shape.type in ("products", "reviews") and not is_sequence(node):
        return make_sequence([node], node)
    if is_mapping(node) or is_sequence(node):
        return node
    short = _SHORT.get(shape.type)
    if short is None:
        raise Fault(f"{scalar(node)!r} is text and has no {steps[0]}", expected="a field")
    return make_mapping([(make_scalar(short, node), node)], node)


def _entry(node: Node, steps: Sequence[str], shape: Shape) -> tuple[int, int]:
    """Which entry of a list, and how many steps say so: a code may hold full stops."""
    codes: dict[str, int] = {}
    if shape.code:
        for number, one in enumerate(entries(node)):
            codes.setdefault(scalar(child(one, shape.code)) or scalar(one) or "", number)
    for used in range(len(steps), 0, -1):
        number = codes.get(".".join(steps[:used]), -1)
        if number >= 0:
            return number, used
    count = len(entries(node))
    if steps[0].isascii() and steps[0].isdecimal() and int(steps[0]) < count:
        return int(steps[0]), 1
    expected = "one of " + ", ".join(filter(None, codes)) if codes else ""
    if not codes:
        expected = f"a number from 0 to {count - 1}" if count else "a whole list"
    raise Fault(f"no entry {steps[0]}", expected=expected, nearest=nearest(steps[0], codes))


def set_at(node: Node, way: Way, value: Node, key: Node) -> Node:
    """A copy of `node` with `value` at the end of `way`, under a key that stands where `key` does."""
    step, rest = way[0], way[1:]
    if isinstance(step, int):
        listed = entries(node)
        listed[step] = set_at(listed[step], rest, value, key) if rest else value
        return make_sequence(listed, node)
    if not rest:
        return put(node, step, value, make_scalar(step, key))
    for written, inner in items(node):
        if written.value == step:
            return put(node, step, set_at(inner, rest, value, key), written)
    raise KeyError(step)  # `locate` has made the way


def drop_at(node: Node, way: Way, at: Node) -> Node:
    """A copy of `node` without what is at the end of `way`. What it is taken from stands where `at` does
    (but for a section itself): if something is missing there now, that is why."""
    step, rest = way[0], way[1:]
    if isinstance(step, int):
        listed = entries(node)
        listed[step : step + 1] = [_dropped(listed[step], rest, at)] if rest else []
        return make_sequence(listed, node)
    if not rest:
        return without(node, step)
    for written, inner in items(node):
        if written.value == step:
            return put(node, step, _dropped(inner, rest, at), written)
    raise KeyError(step)


def _dropped(node: Node, way: Way, at: Node) -> Node:
    made = drop_at(node, way, at)
    if len(way) > 1:
        return made
    return make_sequence(entries(made), at) if is_sequence(made) else make_mapping(list(items(made)), at)
