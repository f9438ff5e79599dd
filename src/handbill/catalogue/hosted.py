"""Where pictures are hosted. Enters: the file that uploading wrote; leaves: an address for each name.

A picture's name holds a hash of its content and of how it was made, so an address that was right once stays
right. Addresses follow RFC 3986.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.files import inside
from handbill.base.frozen import dataclass
from handbill.base.source import Node, place
from handbill.base.urls import hosted_url
from handbill.catalogue.objects import read_json
from handbill.catalogue.sheet import Cell, Row, decode, read_csv

MAX_BYTES = 20_000_000
_COLUMNS = ("file", "address")
_FORMATS = (".csv", ".tsv", ".json")


@dataclass(frozen=True, slots=True)
class Hosted:
    """Addresses by picture name. `file` is the map's name for messages, relative to the workspace."""

    file: str
    addresses: Mapping[str, str]


def load_hosted(name: str, folders: Sequence[Path], root: Path, at: Node) -> Hosted:
    """The map `name` of the first of `folders` that has it. Raises MistakesError with all mistakes in it.

    `at` is the field that names the file.
    """
    try:
        paths = [inside(root, folder, name) for folder in folders]
        if paths[0].suffix.lower() not in _FORMATS:
            raise Fault(f"{name} is not a map of pictures", expected="a .csv, .tsv or .json file")
        path = next((one for one in paths if one.is_file()), None)
        if path is None:
            others = [one.name for one in folders[0].glob("*.*") if one.suffix.lower() in _FORMATS]
            expected = "a .csv file with the columns file and address, which may be empty below them"
            raise Fault(f"no such file: {name}", expected=expected, nearest=nearest(name, others))
        if path.stat().st_size > MAX_BYTES:
            raise Fault(f"{name} has more than the {MAX_BYTES:,} bytes allowed")
        raw = path.read_bytes()
    except Fault as fault:
        raise MistakesError([fault.at(place(at), "hosted")]) from None
    except OSError as error:
        raise MistakesError([Mistake(place(at), "hosted", f"cannot be read: {error.strerror}")]) from None
    return read(raw, path.relative_to(root).as_posix())


def read(raw: bytes, label: str) -> Hosted:
    """The map in a file's bytes. Raises MistakesError."""
    text = decode(raw, label)
    if label.lower().endswith(".json"):
        sheet = read_json(text, label)
    else:
        sheet = read_csv(text, label, lambda names: sum(one.lower() in _COLUMNS for one in names))
    wrong = list(sheet.mistakes)
    known = {cell.value.lower(): cell.value for cell in sheet.headers}
    if sheet.headers:
        for column in _COLUMNS:
            if column not in known:
                near, where = nearest(column, known), Place(label, 1, 1)
                wrong.append(Mistake(where, "", f"no column for {column}", "file, address", near))
    if wrong:
        raise MistakesError(wrong)
    found: dict[str, tuple[str, int]] = {}
    for row in sheet.rows:
        _add(row, known, label, found, wrong)
    if wrong:
        raise MistakesError(wrong)
    return Hosted(label, {name: address for name, (address, _line) in found.items()})


def _add(
    row: Row, known: Mapping[str, str], label: str, found: dict[str, tuple[str, int]], wrong: list[Mistake]
) -> None:
    """A row's entry into `found`, or its mistakes into `wrong`."""
    nothing = Cell("", row.line, row.column)
    file, address = (row.cells.get(known[name], nothing) for name in _COLUMNS)
    name, written = (one.value.strip() if isinstance(one.value, str) else "" for one in (file, address))
    before = len(wrong)

    def refuse(column: str, cell: Cell, fault: Fault) -> None:
        wrong.append(fault.at(Place(label, cell.line, cell.column), f"{row.name}, {column}"))

    if not name:
        refuse("file", file, Fault("no file", expected="a finished picture's name, as in out/"))
    try:
        hosted_url(written)
    except Fault as fault:
        refuse("address", address, fault)
    if len(wrong) > before:
        return
    first = found.setdefault(name, (written, row.line))
    if first[0] != written:
        refuse("file", file, Fault(f"{name} has another address at line {first[1]}", expected="one address"))
