"""CSV files with places. Enters: a file's bytes; leaves: rows of cells that know their line and column.

RFC 4180, read a little more widely: UTF-8 with or without a byte-order mark, any line break, `;` or a tab for
the comma, and a quote inside an unquoted cell (12" pan) stands for itself. Lines break inside quotes only as
`\\n`: carriage returns are dropped on the way in.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from handbill.base.errors import Mistake, MistakesError, Place
from handbill.base.frozen import dataclass, field

DELIMITERS = (",", ";", "\t")
ZIP = b"PK\x03\x04"  # how .xlsx and .ods begin, which are ZIP files
NOT_UTF_8 = "not UTF-8"

_QUOTED = re.compile(r'"([^"]*+(?:""[^"]*+)*+)"')


class Cell(NamedTuple):
    """A value and where it starts; line and column (in characters) count from 1."""

    value: Any
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Row:
    """One entry: how messages call it, where it starts, its cells by header."""

    name: str
    line: int
    column: int
    cells: dict[str, Cell]


@dataclass(slots=True)
class Sheet:
    """A file's headers and rows, and what is wrong in its form."""

    headers: list[Cell] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    mistakes: list[Mistake] = field(default_factory=list)


def decode(raw: bytes, label: str) -> str:
    """The text of a UTF-8 file, with `\\n` for every line break; raises MistakesError."""
    if raw.startswith(ZIP):
        message, expected = "a spreadsheet's own kind of file", "its sheet saved as CSV, in UTF-8"
        raise MistakesError([Mistake(Place(label), "", message, expected)])
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8-sig", "replace")
        mistake = Mistake(_end(before, label), "", NOT_UTF_8, expected="a file saved as UTF-8")
        raise MistakesError([mistake]) from None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text:
        where = _end(text[: text.index("\0")], label)
        raise MistakesError([Mistake(where, "", "a NUL byte", expected="text")])
    if not text.strip():
        raise MistakesError([Mistake(Place(label, 1, 1), "", "the file is empty")])
    return text


def _end(text: str, label: str) -> Place:
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return Place(label, text.count("\n") + 1, len(text) - text.rfind("\n"))


def read_csv(text: str, label: str, score: Callable[[Sequence[str]], int], *, ragged: bool = False) -> Sheet:
    """The sheet in `text`. The delimiter is the one under which `score` counts the most known headers.

    Rows number as a spreadsheet shows them, the header first; rows whose cells are all blank are passed over.
    Where rows may be `ragged`, cells that one lacks at its end are empty: some programs leave them out.
    """
    records = max((_Records(text, label, mark) for mark in DELIMITERS), key=lambda one: one.rank(score))
    sheet = Sheet(mistakes=records.mistakes)
    for number, cells in records:
        if not any(cell.value.strip() for cell in cells):
            continue
        if not sheet.headers:
            sheet.headers = [cell._replace(value=cell.value.strip()) for cell in cells]
            names = [cell.value for cell in sheet.headers]
            continue
        name = f"row {number}"
        if ragged and len(cells) < len(names):
            cells += [Cell("", cells[-1].line, cells[-1].column)] * (len(names) - len(cells))
        if len(cells) != len(names):
            extra = len(cells) > len(names)
            odd = cells[len(names)] if extra else cells[0]
            expected = f"{len(names)} as in the header"
            if extra:
                shown = "a tab" if records.mark == "\t" else records.mark
                expected += f"; a cell that holds {shown} stands in quotes"
            where = Place(label, odd.line, odd.column)
            sheet.mistakes.append(Mistake(where, name, f"{len(cells)} cell{'s'[: len(cells) - 1]}", expected))
            continue
        sheet.rows.append(Row(name, cells[0].line, cells[0].column, dict(zip(names, cells, strict=True))))
    return sheet


class _Records:
    """The records of a text under one delimiter; a record that breaks the quoting is noted and left out."""

    def __init__(self, text: str, label: str, mark: str) -> None:
        self.text, self.label, self.mark = text, label, mark
        self.plain = re.compile(f"[^{mark}\n]*+")
        self.mistakes: list[Mistake] = []

    def rank(self, score: Callable[[Sequence[str]], int]) -> tuple[int, int]:
        """Known headers, then cells of the first record, for a file none of whose headers are known."""
        trial = _Records(self.text, self.label, self.mark)
        for _, cells in trial:
            names = [cell.value.strip() for cell in cells]
            if any(names):
                return score(names), len(names)
        return 0, 0

    def __iter__(self) -> Iterator[tuple[int, list[Cell]]]:
        text, position, line, start, number = self.text, 0, 1, 0, 0
        while position < len(text):
            number += 1
            cells: list[Cell] = []
            whole = True
            while True:
                column = position - start + 1
                if not text.startswith('"', position):
                    end = self._plain_end(position)
                    cells.append(Cell(text[position:end], line, column))
                    position = end
                else:
                    match = _QUOTED.match(text, position)
                    if match is None:
                        self._refuse(line, column, number, "a quote that is never closed", 'a closing "')
                        return
                    cells.append(Cell(match[1].replace('""', '"'), line, column))
                    position = match.end()
                    breaks = match[1].count("\n")
                    if breaks:
                        line += breaks
                        start = text.rfind("\n", 0, position) + 1
                    end = self._plain_end(position)
                    if end > position:
                        whole = False
                        advice = 'quotes inside a quoted cell written twice ("")'
                        self._refuse(line, position - start + 1, number, "text after a closing quote", advice)
                        position = end
                if not text.startswith(self.mark, position):
                    break
                position += 1
            position += 1
            line += 1
            start = position
            if whole:
                yield number, cells

    def _plain_end(self, position: int) -> int:
        match = self.plain.match(self.text, position)
        return match.end() if match else position

    def _refuse(self, line: int, column: int, number: int, message: str, expected: str) -> None:
        self.mistakes.append(Mistake(Place(self.label, line, column), f"row {number}", message, expected))
