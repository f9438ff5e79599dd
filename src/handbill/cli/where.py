"""How origins are shown: `handbill blocks where` and `handbill compile --explain` as lines and as data."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from handbill.apps.explained import Explained, Explanation, Line
from handbill.apps.places import Origin, Whereabouts
from handbill.base.errors import Place
from handbill.base.letters import beginning, room
from handbill.cli.options import SHELL_NAMES
from handbill.vary.plan import MAIN

LONGEST = 44  # characters of a value on the terminal; `--format json` has it whole


def where_lines(seen: Whereabouts, name: str, root: Path | None) -> Iterator[str]:
    """One brand's view of a block."""
    head = f"{name} for brand {seen.brand}" if seen.brand else name
    if not seen.levels:
        yield f"{head}: not visible"
        return
    first, *hidden = (_level(one.owner, one.folder) for one in seen.levels)
    yield f"{head}: {first}"
    yield from (f"  hides {one}" for one in hidden)
    rows = [
        (one.kind, one.name, one.value, f"{_spot(one.place, root)} ({one.owner})") for one in seen.settings
    ]
    yield from (f"  {line}" for line in _columns(rows))


def explained_lines(made: Explanation, root: Path) -> Iterator[str]:
    """One campaign, section by section."""
    variant = "" if made.variant == MAIN else f", {made.variant}"
    yield f"{made.campaign}{variant} ({_file(made.file, root)})"
    yield from _rows(made.head, root, "  ")
    for section in made.sections:
        yield ""
        yield from _section(section, root, "")
    if made.words:
        yield "\nwords that all blocks share"
        yield from _rows(made.words, root, "  ")
    for language, words in made.other_words.items():
        yield f"\nthe same words in {language}"
        yield from _rows(words, root, "  ")


def explained_data(made: Explanation, root: Path) -> dict[str, Any]:
    """The same as plain data; places are {file, line, column}, named as the user's shell would."""
    data: dict[str, Any] = _moved(asdict(made), root)
    return {**data, "file": _file(made.file, root)}


def _moved(value: Any, root: Path) -> Any:
    if isinstance(value, dict):
        moved = {key: _moved(one, root) for key, one in value.items()}
        if value.keys() == {"file", "line", "column"} or value.get("owner"):
            moved["file"] = _file(value["file"], root)
        return moved
    return [_moved(one, root) for one in value] if isinstance(value, (list, tuple)) else value


def _section(section: Explained, root: Path, before: str) -> Iterator[str]:
    yield f"{before}{section.id}: {section.block} ({section.lives}), {_spot(section.place, root)}"
    yield from _inside(section, (*section.values, *section.words), root, before + "  ")
    other = section.otherwise
    if other is not None and other.differs:
        yield f"{before}  otherwise: the same, but for these lines, {_spot(other.place, root)}"
        known = {*section.values, *section.words}
        more = replace(other, cells=() if other.cells == section.cells else other.cells, not_given=())
        lines = [one for one in (*other.values, *other.words) if one not in known]
        yield from _inside(more, lines, root, before + "    ")
    elif other is not None:
        yield f"{before}  otherwise: {other.block} ({other.lives}), {_spot(other.place, root)}"
        yield from _inside(other, (*other.values, *other.words), root, before + "    ")


def _inside(section: Explained, lines: Sequence[Line], root: Path, before: str) -> Iterator[str]:
    yield from _rows(lines, root, before)
    if section.not_given:
        yield f"{before}not given: {', '.join(section.not_given)}"
    for cell in section.cells:
        yield from _section(cell, root, before)


def _rows(lines: Sequence[Line], root: Path, before: str) -> Iterator[str]:
    rows = [(one.field, _short(one.value), _said(one, root)) for one in lines]
    return (before + line for line in _columns(rows))


def _said(line: Line, root: Path) -> str:
    text = _origin(line.origin, root)
    return f"{text}; found {_file(line.file, root)} ({line.owner})" if line.file else text


def _origin(origin: Origin, root: Path) -> str:
    return f"{_spot(origin.place, root)} ({origin.what})" if origin.place is not None else origin.what


def _spot(place: Place, root: Path | None) -> str:
    return f"{_file(place.file, root)}:{place.line}" if place.line else _file(place.file, root)


def _file(name: str, root: Path | None) -> str:
    """A file of the workspace as the user's shell would name it."""
    if root is None or name.startswith(SHELL_NAMES):
        return name
    return os.path.normpath(os.path.join(os.path.relpath(root), name))


def _level(owner: str, folder: Path) -> str:
    return owner if owner == "built in" else f"{owner}, {os.path.relpath(folder)}"


def _short(value: str) -> str:
    text = " ".join(value.split())
    return text if room(text) <= LONGEST else beginning(text, LONGEST - 1).rstrip() + "…"


def _columns(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]) - 1)] if rows else []
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        yield "  ".join([*cells, row[-1]]).rstrip()
