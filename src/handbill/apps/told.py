"""Differences told to people. Enters: what differs in a section; leaves: sentences, for a width of terminal.

What several entries of a list share is said once. Programs get every difference by itself (`--format json`).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator, Sequence

from handbill.apps.differ import Change, Part

Key = tuple[str, ...]
LEAST = 40  # columns: what is narrower is left to the terminal
FEW = 2  # changes that are alike and told together


def sentences(part: Part) -> Iterator[str]:
    """What differs, in order; changes that are alike stand where the first of them does."""
    alike: dict[Key, list[Change]] = {}
    for number, change in enumerate(part.changes):
        alike.setdefault(_kind(change) or (str(number),), []).append(change)
    for key, several in alike.items():
        if len(several) < FEW:
            yield _line(several[0].said)
        else:
            yield _line(_TOGETHER[key[0]](several))


def _line(text: str) -> str:
    return " ".join(text.split())


def _kind(change: Change) -> Key:
    """What makes changes alike; nothing for one that stands by itself."""
    if change.kind == "link" and change.entry:
        return ("link", change.before, change.after)
    if change.kind == "look" and change.entry:
        return ("look", change.part, change.before, change.after)
    if change.kind in ("dropped", "added") and change.part and change.field:
        return ("field" if change.entry else "entry", change.kind, change.part)
    return ()


def _links(several: Sequence[Change]) -> str:
    one, names = several[0], ", ".join(change.field for change in several)
    return f"{len(several)} links lead to {one.after} instead of {one.before}: {names}"


def _looks(several: Sequence[Change]) -> str:
    one, names = several[0], ", ".join(change.entry for change in several)
    return f"{one.part}: {one.after or 'none'} instead of {one.before or 'none'} in {names}"


def _entries(several: Sequence[Change]) -> str:
    names = ", ".join(f"“{change.before or change.after}”" for change in several)
    return f"{several[0].part}: {names} {_gone(several[0])}"


def _of_entries(several: Sequence[Change]) -> str:
    values = ", ".join(f"{change.entry} {_value(change)}" for change in several)
    return f"{several[0].part} {_gone(several[0])}: {values}"


def _gone(change: Change) -> str:
    return "left out" if change.kind == "dropped" else "new"


def _value(change: Change) -> str:
    value = change.before or change.after
    return f"“{value}”" if f"“{value}”" in change.said else value


_TOGETHER: dict[str, Callable[[Sequence[Change]], str]] = {
    "link": _links, "look": _looks, "entry": _entries, "field": _of_entries,
}  # fmt: skip


def wrapped(text: str, columns: int | None, first: int, rest: int) -> Iterator[str]:
    """`text` in lines of `columns` cells, the first one `first` cells in, the others `rest`; whole without
    `columns`. East Asian characters take two cells (Unicode Standard Annex 11)."""
    if columns is None or columns < LEAST:
        yield " " * first + text
        return
    line, used = " " * first, first
    empty = True
    for word in text.split(" "):
        size = cells(word)
        if not empty and used + 1 + size > columns:
            yield line
            line, used, empty = " " * rest, rest, True
        line += word if empty else f" {word}"
        used += size + (not empty)
        empty = False
    yield line


def cells(text: str) -> int:
    """How many cells of a terminal a text takes."""
    wide = sum(unicodedata.east_asian_width(one) in "WF" for one in text)
    return len(text) + wide - sum(unicodedata.combining(one) != 0 for one in text)
