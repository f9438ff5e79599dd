"""Texts as a two-column sheet. Enters: texts and translations; leaves: CSV, and the rows of a filled one.

RFC 4180: every cell in quotes, CRLF between records. The first column holds the text and, on a last line of
its own, its key and limits in brackets; the second one its translation. Cells that a spreadsheet would work
out as a formula begin with an apostrophe, as OWASP's page on CSV injection advises (the characters from
memory: = + - @ tab, carriage return, line feed, and the full-width forms of the first four).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from handbill.base.errors import Mistake, MistakesError, Place, nearest
from handbill.base.frozen import dataclass
from handbill.catalogue.sheet import NOT_UTF_8, decode, read_csv
from handbill.texts.source import Key, Source, stamp

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
CHANGED = "changed since it was translated"
LEAST_CELLS = 2
_FORMULA = re.compile("['\\s]*[=+\\-@\t\r\n＝＋－＠]")
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")
#: How other files begin that are taken for sheets: ZIP (PKWARE's APPNOTE 4.3.7), the compound file of MS-CFB.
_OTHER = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
_AS = "a sheet saved as CSV in UTF-8, or as Unicode text"
_BOM = "\ufeff"  # by which spreadsheets know UTF-8 (common practice)


@dataclass(frozen=True, slots=True)
class Line:
    """One text to translate, its translation so far, and whether the text has changed since."""

    source: Source
    translation: str = ""
    changed: bool = False


@dataclass(frozen=True, slots=True)
class Filled:
    """A row that came back: which text it is for, that text's hash as exported, and the translation."""

    row: str
    place: Place
    source: Source
    made_from: str
    text: str


def inert(text: str) -> str:
    """`text` as a cell that no spreadsheet works out; `restored` undoes it, for every text."""
    return f"'{text}" if _FORMULA.match(text) else text


def restored(cell: str) -> str:
    """The text of a cell that `inert` made, or that someone typed."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell, 1) else cell


def same_cell(cell: str, text: str) -> bool:
    """Whether a cell holds `text`, or what is left of it where a spreadsheet took the apostrophe at its
    beginning for a mark of its own."""
    return cell == text or (text.startswith("'") and cell == text[1:])


def write_sheet(
    lines: Iterable[Line], campaign: str, source: str, language: str, separator: str = ","
) -> bytes:
    """The sheet, UTF-8 with a byte-order mark; `source` and `language` are tags."""
    records = [(f"{campaign}, {source}", language)]
    records += [(inert(f"{line.source.text}\n{mark(line)}"), inert(line.translation)) for line in lines]
    rows = (separator.join(f'"{cell.replace(chr(34), chr(34) * 2)}"' for cell in cells) for cells in records)
    return (_BOM + "".join(f"{row}\r\n" for row in rows)).encode()


def mark(line: Line) -> str:
    """The line that says which text it is, how long a translation may be, and whether the text changed."""
    source = line.source
    said = [str(source.key)]
    if source.most is not None:
        said.append(f"at most {source.most} characters")
    if source.best is not None:
        said.append(f"best within {source.best} characters")
    if line.changed:
        said.append(CHANGED)
    return f"[{' | '.join(said)}]"


def read_sheet(
    raw: bytes, label: str, known: Mapping[Key, Source], campaign: str, language: str
) -> tuple[Filled, ...]:
    """The rows with a translation. Raises MistakesError with every row that cannot be used, by its number."""
    text = _decoded(raw, label)
    sheet = read_csv(text, label, lambda names: sum(name == language for name in names), ragged=True)
    _check_head(sheet.headers, label, campaign, language)
    first, second = sheet.headers[0].value, sheet.headers[1].value
    mistakes = list(sheet.mistakes)
    names = {str(key): key for key in known}
    found: dict[Key, Filled] = {}
    for row in sheet.rows:
        cell, filled = row.cells[first], restored(row.cells[second].value)
        at = Place(label, cell.line, cell.column)
        words, _break, last = restored(cell.value).rstrip().rpartition("\n")
        name = _name(last, names)
        if name not in names:
            mistakes.append(_unknown(at, row.name, last, name, names))
            continue
        if not filled.strip():
            continue
        key, there = names[name], row.cells[second]
        at, source = Place(label, there.line, there.column), known[key]
        made_from = stamp(source.text if same_cell(words, source.text) else words)
        made = Filled(row.name, at, source, made_from, filled)
        if key in found and found[key].text != filled:
            message, expected = f"{name} is translated otherwise in {found[key].row}", "one translation"
            mistakes.append(Mistake(made.place, row.name, message, expected))
        found.setdefault(key, made)
    if mistakes:
        raise MistakesError(mistakes)
    return tuple(found.values())


def _decoded(raw: bytes, label: str) -> str:
    """The sheet's text. Raises MistakesError for what is no text, and says how it is to be saved."""
    if raw.startswith(_OTHER):
        message = "a spreadsheet's own kind of file, not CSV"
        raise MistakesError([Mistake(Place(label), "", message, _AS)])
    if raw[:2] in _UTF_16:
        try:
            raw = raw.decode("utf-16").encode()
        except UnicodeError:
            raise MistakesError([Mistake(Place(label), "", "not UTF-16, as it says it is", _AS)]) from None
    try:
        return decode(raw, label)
    except MistakesError as error:
        wrong = [replace(one, expected=_AS) if one.message == NOT_UTF_8 else one for one in error.mistakes]
        raise MistakesError(wrong) from None


def _check_head(headers: Sequence[object], label: str, campaign: str, language: str) -> None:
    cells = [str(getattr(one, "value", "")) for one in headers]
    expected = f"the row that export wrote: {campaign}, its language | {language}"
    message = ""
    if len(cells) < LEAST_CELLS:
        message = "one column"
    elif cells[0].partition(",")[0].strip() != campaign:
        message = (
            f"the sheet is for {cells[0].partition(',')[0].strip() or 'no campaign'}, not for {campaign}"
        )
    elif cells[1] != language:
        message = f"the sheet is for {cells[1] or 'no language'}, not for {language}"
    if message:
        raise MistakesError([Mistake(Place(label, 1, 1), "row 1", message, expected)])


def _name(last: str, names: Mapping[str, Key]) -> str:
    """The key in a mark: the longest known one, for a product's code may hold a bar itself."""
    inner = last.strip().removeprefix("[").removesuffix("]")
    fitting = [name for name in names if inner == name or inner.startswith(f"{name} | ")]
    return max(fitting, key=len, default=inner.partition(" | ")[0])


def _unknown(at: Place, row: str, last: str, name: str, names: Mapping[str, Key]) -> Mistake:
    if not (last.strip().startswith("[") and last.strip().endswith("]")):
        message = "the first column does not say which text it is"
        return Mistake(at, row, message, "its last line as export wrote it, such as [top: headline]")
    message = f"the campaign has no text {name}"
    expected = "a key of this campaign as it is now, which a new export has, or no such row"
    return Mistake(at, row, message, expected, nearest(name, names))
