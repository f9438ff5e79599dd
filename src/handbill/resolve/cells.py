"""Cells. Enters: the valid sections inside a section; leaves: their fields, resolved to the cell's width."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from handbill.resolve.values import Cell

if TYPE_CHECKING:
    from handbill.library.spec import FieldSpec
    from handbill.resolve.section import SectionResolver


def cells(
    at: SectionResolver, name: str, spec: FieldSpec, chosen: Mapping[str, str], tone: str
) -> tuple[Cell, ...]:
    """The cells of a field in order; the slot's columns are their widths. Mistakes are added to `at`'s."""
    widths = _columns(at, spec, chosen)
    made = []
    for number, valid in enumerate(at.valid.cells.get(name, ())):
        width = widths[min(number, len(widths) - 1)]
        inner = type(at)(at.shop, valid, at.links, at.voice, at.facts.used, width)
        fields = inner.run(tone)
        at.mistakes.extend(inner.mistakes)
        at.addresses.extend(inner.addresses)
        at.sends = at.sends or inner.sends
        made.append(Cell(valid.block.name, {"level": 2, "inner": 3, **fields}))
    return tuple(made)


def _columns(at: SectionResolver, spec: FieldSpec, chosen: Mapping[str, str]) -> list[int]:
    row: Any = spec.slot
    while isinstance(row, Mapping):
        choice, cases = next(iter(row.items()))
        row = cases.get(chosen.get(choice), cases.get("else"))
    columns = at.widths.get(row)
    if not isinstance(columns, Mapping):
        return [at.widths["inset"]]
    return [width for column, width in columns.items() if column != "gap"]
