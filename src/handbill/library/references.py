"""What block.yaml says of itself, cross-checked. Enters: a block and its nodes; leaves: mistakes in place.

Slots, choices, items and headings refer to each other by name; a wrong name would else fail only when some
campaign came to it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from handbill.base.errors import Fault, Mistake, nearest
from handbill.base.source import Node, child, find, place
from handbill.brand.style import BASE, HouseStyle
from handbill.library.block import Block, look_up
from handbill.library.spec import Cycle, FieldSpec

Way = tuple[str, ...]


def all_fields(fields: Mapping[str, FieldSpec], prefix: str = "") -> Iterator[tuple[str, FieldSpec]]:
    """Every field by dotted name, those of list entries and items included."""
    for name, field in fields.items():
        yield prefix + name, field
        yield from all_fields(field.of, f"{prefix}{name}.")


def check_references(block: Block, house: HouseStyle, root: Node) -> list[Mistake]:
    """Every reference in a block.yaml that leads nowhere."""
    spec = block.spec
    try:
        widths = block.widths(house)
    except Fault as too_wide:
        return [too_wide.at(place(child(root, "slots") or root), "slots")]
    found = []
    for way, fault in _faults(block, house, widths):
        found.append(fault.at(place(find(root, way)[0]), ".".join(way)))
    if spec.heading is not None and spec.heading not in spec.fields:
        known = list(spec.fields)
        where = place(child(root, "heading") or root)
        found.append(_unknown("field", spec.heading, known).at(where, "heading"))
    return found


def _unknown(what: str, name: str, known: list[str]) -> Fault:
    expected = "one of " + ", ".join(known) if known else ""
    return Fault(f"no {what} {name}", expected=expected, nearest=nearest(name, known))


def _faults(block: Block, house: HouseStyle, widths: Mapping[str, Any]) -> Iterator[tuple[Way, Fault]]:
    def level(
        fields: Mapping[str, FieldSpec], way: Way, above: Mapping[str, FieldSpec]
    ) -> Iterator[tuple[Way, Fault]]:
        choices = {name: one for name, one in {**above, **fields}.items() if one.type == "choice"}
        for name, field in fields.items():
            here = (*way, name)
            # a field's own entries may decide too: a product's layout says how wide its picture is
            choices |= {one: inner for one, inner in field.of.items() if inner.type == "choice"}
            for fault in _leads(field.slot, choices):
                yield (*here, "slot"), fault
            for slot in leaves(field.slot):
                if field.type == "cells" and slot in block.spec.slots:
                    continue  # cells take a whole row: one column each
                try:
                    block.pixels(slot, house) if slot.startswith("var(") else look_up(slot, widths, "slot")
                except Fault as unknown:
                    yield (*here, "slot"), unknown
            for fault in _leads(field.lower, choices):
                yield (*here, "lower"), fault
            for lower in leaves(field.lower):
                try:
                    block.pixels(lower, house) if lower.startswith("var(") else look_up(
                        lower, widths, "lower"
                    )
                except Fault as unknown:
                    yield (*here, "lower"), unknown
            for fault in _leads(field.on, choices):
                yield (*here, "on"), fault
            for on in leaves(field.on):
                if on not in house.colours[BASE]:
                    yield (*here, "on"), _unknown("colour role", on, list(house.colours[BASE]))
            if field.tint is not None and field.tint not in house.colours[BASE]:
                yield (*here, "tint"), _unknown("colour role", field.tint, list(house.colours[BASE]))
            for fault in _leads(field.ratio, choices):
                yield (*here, "ratio"), fault
            for ratio in leaves(field.ratio):
                if not re.fullmatch(r"[1-9]\d{0,3}:[1-9]\d{0,3}", ratio):
                    yield (*here, "ratio"), Fault(f"{ratio!r} is not a ratio", expected="such as 5:4")
            yield from _named(field, fields, here)
            yield from level(field.of, (*here, "of"), {**above, **fields})

    yield from level(block.spec.fields, ("fields",), {})


def _named(field: FieldSpec, fields: Mapping[str, FieldSpec], here: Way) -> Iterator[tuple[Way, Fault]]:
    for key, name, types in (
        ("overlap", field.overlap, ("number",)),
        ("passed_to", field.passed_to, ("products", "product", "list")),
    ):
        known = [one for one, other in fields.items() if other.type in types]
        if name is not None and name not in known:
            yield (*here, key), _unknown(f"{types[0]} field", name, known)
    if isinstance(field.default, Cycle):
        for option in field.default.cycle:
            if option not in field.options:
                yield (*here, "default"), _unknown("option", option, list(field.options))
        for name, option in field.default.among.items():
            other = fields.get(name)
            if other is None or option not in other.options:
                yield (*here, "default"), Fault(f"among: {name} has no option {option}")


def _leads(value: Any, choices: Mapping[str, FieldSpec]) -> Iterator[Fault]:
    """Faults of `{choice: {option: …, else: …}}`."""
    if not isinstance(value, Mapping):
        return
    for name, cases in value.items():
        choice = choices.get(name)
        if choice is None or not isinstance(cases, Mapping):
            yield _unknown("choice", name, list(choices))
            continue
        for option, inner in cases.items():
            if option != "else" and option not in choice.options:
                yield _unknown(f"option of {name}", option, list(choice.options))
            yield from _leads(inner, choices)


def leaves(value: Any) -> Iterator[str]:
    """The texts in nested mappings."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from leaves(inner)
