"""JSON files with places. Enters: the text of a list of objects; leaves: rows of cells as a CSV file gives.

RFC 8259. Numbers and booleans stay the text they were written as (9.90 is no float); a key written twice in
one object, on which the RFC leaves readers free, is refused.
"""

from __future__ import annotations

import json
import re
from typing import Any, NoReturn

from handbill.base.errors import Mistake, MistakesError, Place
from handbill.catalogue.sheet import Cell, Row, Sheet

MAX_DEPTH = 8

_SPACE = re.compile(r"[ \t\n]*+")
_STRING = re.compile(r'"[^"\\\x00-\x1f]*+(?:\\.[^"\\\x00-\x1f]*+)*+"')
_BARE = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?(?![\w.])|(?:true|false|null)\b")
_NO_TEXT = re.compile("[\0\ud800-\udfff]")


def read_json(text: str, label: str) -> Sheet:
    """The sheet in `text`; raises MistakesError where the JSON ends to make sense."""
    return _Reader(text, label).sheet()


class _Reader:
    def __init__(self, text: str, label: str) -> None:
        self.text, self.label = text, label
        self.position = 0
        self.name = ""
        self.mistakes: list[Mistake] = []
        self._line, self._start, self._counted = 1, 0, 0

    def sheet(self) -> Sheet:
        sheet = Sheet(mistakes=self.mistakes)
        self.skip()
        if not self.take("["):
            self.stop("no list", "a list of objects: [{…}, {…}]")
        headers: dict[str, Cell] = {}
        number = 0
        while not self.closes("]", number):
            number += 1
            self.name = f"item {number}"
            line, column = self.spot()
            if self.text.startswith("{", self.position):
                cells = self.object(1)
                sheet.rows.append(Row(self.name, line, column, cells))
                for key, cell in cells.items():
                    headers.setdefault(key, cell._replace(value=key))
            else:
                self.value(1)
                self.refuse(line, column, "not an object", "{…}")
        self.name = ""
        self.skip()
        if self.position < len(self.text):
            self.stop("text after the end of the list")
        sheet.headers = list(headers.values())
        return sheet

    def value(self, depth: int) -> Any:
        """The value here: text, None, a list or a mapping."""
        if depth > MAX_DEPTH:
            self.stop(f"nested more than {MAX_DEPTH} levels deep")
        first = self.text[self.position : self.position + 1]
        if first == '"':
            return self.string()
        if first == "{":
            return {key: cell.value for key, cell in self.object(depth).items()}
        if first == "[":
            self.position += 1
            items: list[Any] = []
            while not self.closes("]", len(items)):
                items.append(self.value(depth + 1))
            return items
        match = _BARE.match(self.text, self.position)
        if match is None:
            self.stop("JSON syntax: no value", "text in double quotes, a number, a list or an object")
        self.position = match.end()
        return None if match[0] == "null" else match[0]

    def object(self, depth: int) -> dict[str, Cell]:
        self.position += 1
        cells: dict[str, Cell] = {}
        count = 0
        while not self.closes("}", count):
            count += 1
            line, column = self.spot()
            if not self.text.startswith('"', self.position):
                self.stop("JSON syntax: no key", "a key in double quotes")
            key = self.string()
            self.skip()
            if not self.take(":"):
                self.stop("JSON syntax: no colon after the key", ":")
            self.skip()
            where = self.spot()
            value = self.value(depth + 1)
            if key in cells:
                self.refuse(line, column, f"{key!r} is written twice (first at line {cells[key].line})")
            else:
                cells[key] = Cell(value, *where)
        return cells

    def string(self) -> str:
        match = _STRING.match(self.text, self.position)
        if match is None:
            self.stop("JSON syntax: text that is never closed or holds a line break", 'a closing ", and \\n')
        try:
            text = json.loads(match[0]) if "\\" in match[0] else match[0][1:-1]
        except json.JSONDecodeError as error:
            self.position += error.pos
            self.stop(f"JSON syntax: {error.msg}")
        found = _NO_TEXT.search(text)
        if found:
            self.refuse(*self.spot(), f"the text holds U+{ord(found[0]):04X}, which is no character")
        self.position = match.end()
        return str(text).replace("\r\n", "\n").replace("\r", "\n")

    def closes(self, mark: str, count: int) -> bool:
        """Whether the list or object ends here; else the comma before the next of its entries is passed."""
        self.skip()
        if self.take(mark):
            return True
        if count and not self.take(","):
            self.stop("JSON syntax: the next entry is not parted", f", or {mark}")
        self.skip()
        return False

    def skip(self) -> None:
        match = _SPACE.match(self.text, self.position)
        self.position = match.end() if match else self.position

    def take(self, mark: str) -> bool:
        here = self.text.startswith(mark, self.position)
        self.position += here
        return here

    def spot(self) -> tuple[int, int]:
        """Line and column; only ever asked going forward, so each line break is counted once."""
        breaks = self.text.count("\n", self._counted, self.position)
        if breaks:
            self._line += breaks
            self._start = self.text.rfind("\n", self._counted, self.position) + 1
        self._counted = self.position
        return self._line, self.position - self._start + 1

    def refuse(self, line: int, column: int, message: str, expected: str = "") -> None:
        self.mistakes.append(Mistake(Place(self.label, line, column), self.name, message, expected))

    def stop(self, message: str, expected: str = "") -> NoReturn:
        self.refuse(*self.spot(), message, expected)
        raise MistakesError(self.mistakes)
