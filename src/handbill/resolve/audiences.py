"""Whom a claim reaches. Enters: valid sections and a catalogue; leaves: the products that each kind of
recipient is shown. A claim made to all of them must hold for the one for whom it is smallest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import product
from typing import Any, NamedTuple

from handbill.library.block import field_value
from handbill.validate import ValidSection, all_sections

#: Conditions that are told apart. Products under any further one count for nobody, so that claims stay small.
MOST_CONDITIONS = 8


class Shown(NamedTuple):
    """Rows of the products in one section: `rows` where `when` holds (or nothing is asked), else `others`."""

    when: str | None
    rows: tuple[Any, ...]
    others: tuple[Any, ...] = ()


def shown(valid: ValidSection, catalogue: Any) -> Shown:
    """What a section of the stack shows; unknown products are reported where they stand, not here."""
    rows = _rows((valid, *(one for row in valid.cells.values() for one in row)), catalogue)
    others = _rows(all_sections((valid.otherwise,)), catalogue) if valid.otherwise is not None else ()
    return Shown(valid.section.when, rows, others)


def audiences(stack: Iterable[Shown]) -> tuple[tuple[Any, ...], ...]:
    """The products of each kind of recipient, each product once, in the order of the mail.

    Recipient fields are independent: with n of them there are 2^n kinds. Without conditions there is one.
    """
    stack = [one for one in stack if one.rows or one.others]
    fields = list(dict.fromkeys(one.when for one in stack if one.when))[:MOST_CONDITIONS]
    kinds = []
    for holds in product((True, False), repeat=len(fields)):
        known = dict(zip(fields, holds, strict=True))
        rows = {row.sku: row for one in stack for row in _for(one, known)}
        kinds.append(tuple(rows.values()))
    return tuple(kinds)


def _for(one: Shown, known: dict[str, bool]) -> Sequence[Any]:
    """What a recipient sees of whom `known` says which conditions hold."""
    if one.when is None:
        return one.rows
    if one.when not in known:
        return ()
    return one.rows if known[one.when] else one.others


def _rows(sections: Iterable[ValidSection], catalogue: Any) -> tuple[Any, ...]:
    rows: dict[str, Any] = {}
    for valid in sections:
        for name, spec in valid.block.spec.fields.items():
            value = field_value(valid.values, name)
            if value is None or spec.type not in ("product", "products"):
                continue
            for entry in value if isinstance(value, tuple) else (value,):
                row = catalogue.get(entry.sku) if catalogue is not None else None
                if row is not None:
                    rows.setdefault(entry.sku, row)
    return tuple(rows.values())
