"""The sheet that a translator fills, and the file of texts that comes of it.

CSV is held to RFC 4180 by way of Python's csv module, in the dialects that spreadsheets write.
"""

# ruff: noqa: E501, PT018 - messages whole, on one line

from __future__ import annotations

import csv
import io
import random
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import example, given
from hypothesis import strategies as st
from tests.conftest import Shop

from handbill.base.errors import MistakesError, Place
from handbill.base.source import parse_yaml
from handbill.cli.main import cli
from handbill.texts.read import read_texts
from handbill.texts.sheet import Line, inert, mark, read_sheet, restored, write_sheet
from handbill.texts.source import Key, Source, stamp
from handbill.texts.write import Comments, Kept, comments_of, file_bytes

# What begins a formula, by OWASP's page on CSV injection (from memory).
FORMULA = ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"]
# Any text that a mail may hold: no control characters but line break and tab, no line separators.
WORDS = st.text(
    st.characters(exclude_categories=["Cs", "Cc", "Cn"], exclude_characters="\u2028\u2029\ufeff") | st.sampled_from("\n\t=+-@'\"“,;#:|[]{}$"),
    max_size=40,
)  # fmt: skip
KEYS = [Key("", "subject"), Key("top", "headline"), Key("top", "button.label"), Key("list", "products.A | 1.caption"),
        Key("top", "copy", "arm=quiet")]  # fmt: skip


def line(key: Key, text: str, translation: str = "", most: int | None = None) -> Line:
    return Line(Source(key, text, (), Place("x.yaml", 1, 1), True, most), translation)


def known(lines: list[Line]) -> dict[Key, Source]:
    return {one.source.key: one.source for one in lines}


def as_spreadsheet(rows: list[list[str]], *, separator: str, ends: str, bom: bool, quotes: int) -> bytes:
    out = io.StringIO()
    if ends == "\r":  # the csv module leaves "\n" bare there, as no spreadsheet does
        quotes = csv.QUOTE_ALL
    csv.writer(out, delimiter=separator, lineterminator=ends, quoting=quotes).writerows(rows)  # type: ignore[arg-type]
    return (b"\xef\xbb\xbf" if bom else b"") + out.getvalue().encode()


def parsed(data: bytes, separator: str = ",") -> list[list[str]]:
    text = data.decode("utf-8-sig")
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))


# -- formulas in cells


@pytest.mark.parametrize("sign", FORMULA)
def test_what_begins_a_formula_is_made_inert(sign: str) -> None:
    for text in (f"{sign}1+1", f" {sign}cmd", f"'{sign}x", sign):
        assert inert(text) == f"'{text}"
        assert restored(inert(text)) == text


def test_other_text_stays_as_it_is() -> None:
    for text in ("Words", "1 = 1", "'Tis the season", "a+b", ""):
        assert inert(text) == restored(text) == text


@given(st.text())
@example("'='")
@example("''+")
def test_any_text_comes_back_from_a_cell(text: str) -> None:
    cell = inert(text)
    assert restored(cell) == text
    assert not cell.startswith(tuple(FORMULA))
    assert not cell.lstrip().startswith(tuple(FORMULA))


def test_a_formula_that_was_typed_is_text() -> None:
    lines = [line(KEYS[1], "Save"), line(KEYS[2], "More")]
    rows = parsed(write_sheet(lines, "spring", "en", "de"))
    rows[1][1], rows[2][1] = '=HYPERLINK("http://x.example";"y")', "'-20 %"
    raw = as_spreadsheet(rows, separator=",", ends="\r\n", bom=True, quotes=csv.QUOTE_MINIMAL)
    assert [one.text for one in read_sheet(raw, "t.csv", known(lines), "spring", "de")] == [
        '=HYPERLINK("http://x.example";"y")',
        "-20 %",
    ]


# -- the sheet


def test_two_columns_with_limits_and_keys() -> None:
    lines = [
        line(KEYS[1], "=Now", "'=Jetzt", most=80),
        Line(Source(KEYS[0], "A letter", (), Place("x"), True, best=60), "Ein Brief", changed=True),
    ]
    data = write_sheet(lines, "spring", "en-IE", "de-DE")
    assert data.startswith(b"\xef\xbb\xbf") and data.endswith(b"\r\n")
    assert parsed(data) == [
        ["spring, en-IE", "de-DE"],
        ["'=Now\n[top: headline | at most 80 characters]", "''=Jetzt"],
        ["A letter\n[subject | best within 60 characters | changed since it was translated]", "Ein Brief"],
    ]


@given(
    st.lists(st.tuples(WORDS, WORDS), min_size=len(KEYS), max_size=len(KEYS)),
    st.sampled_from([",", ";", "\t"]),
)
def test_csv_readers_see_what_was_meant(texts: list[tuple[str, str]], separator: str) -> None:
    lines = [line(key, *pair) for key, pair in zip(KEYS, texts, strict=True)]
    rows = parsed(write_sheet(lines, "spring", "en", "de", separator), separator)
    assert rows[1:] == [[inert(f"{one.source.text}\n{mark(one)}"), inert(one.translation)] for one in lines]


@given(
    st.lists(st.tuples(WORDS, WORDS), min_size=len(KEYS), max_size=len(KEYS)),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["\r\n", "\n", "\r"]),
    st.booleans(),
    st.sampled_from([csv.QUOTE_ALL, csv.QUOTE_MINIMAL, csv.QUOTE_NONNUMERIC]),
    st.integers(0, 9),
)
def test_whatever_a_spreadsheet_makes_of_it_comes_back(
    texts: list[tuple[str, str]], separator: str, ends: str, bom: bool, quotes: int, seed: int
) -> None:
    """Saved anew with another separator, line end, quoting, with or without the mark, rows in any order."""
    lines = [line(key, *pair) for key, pair in zip(KEYS, texts, strict=True)]
    head, *rows = parsed(write_sheet(lines, "spring", "en", "de"))
    random.Random(seed).shuffle(rows)
    raw = as_spreadsheet([head, *rows], separator=separator, ends=ends, bom=bom, quotes=quotes)
    back = {one.source.key: one for one in read_sheet(raw, "t.csv", known(lines), "spring", "de")}
    for one in lines:
        if one.translation.strip():
            assert back[one.source.key].text == one.translation
            assert back[one.source.key].made_from == stamp(one.source.text)
        else:
            assert one.source.key not in back


def test_utf_16_as_spreadsheets_call_unicode_text() -> None:
    lines = [line(KEYS[1], "Save")]
    raw = 'spring, en\tde\r\n"Save\n[top: headline]"\tRetten\r\n'.encode("utf-16")
    assert read_sheet(raw, "t.csv", known(lines), "spring", "de")[0].text == "Retten"


@pytest.mark.parametrize(
    ("sheet", "messages"),
    [
        ("", ["t.csv:1:1: the file is empty"]),
        ("one\n", ["t.csv:1:1: row 1: one column; expected the row that export wrote: spring, its language | de"]),
        ("winter, en;de\n", ["t.csv:1:1: row 1: the sheet is for winter, not for spring; expected the row that export wrote: spring, its language | de"]),
        ('"spring, en";fr\n', ["t.csv:1:1: row 1: the sheet is for fr, not for de; expected the row that export wrote: spring, its language | de"]),
        ('"spring, en";de\nWords;Worte\n"Words\n[top: headlin]";Worte\n', [
            "t.csv:2:1: row 2: the first column does not say which text it is; expected its last line as export wrote it, such as [top: headline]",
            "t.csv:3:1: row 3: the campaign has no text top: headlin; expected a key of this campaign as it is now, which a new export has, or no such row; nearest: top: headline"]),
        ('"spring, en";de\n"A\n[top: headline]";B\n"A\n[top: headline]";C\n"A\n[top: headline]";B\n', [
            "t.csv:5:18: row 3: top: headline is translated otherwise in row 2; expected one translation"]),
        ('"spring, en";de\n"A\n[top: headline]";B;C;D\n', ["t.csv:3:20: row 2: 4 cells; expected 2 as in the header; a cell that holds ; stands in quotes"]),
        ('"spring, en";de\n"A\n[top: headline]";B"\n"C', ["t.csv:4:1: row 3: a quote that is never closed; expected a closing \""]),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_sheet(sheet: str, messages: list[str]) -> None:
    with pytest.raises(MistakesError) as caught:
        read_sheet(sheet.encode(), "t.csv", known([line(KEYS[1], "A")]), "spring", "de")
    assert [str(one) for one in caught.value.mistakes] == messages


# -- the file


@given(st.lists(WORDS.filter(lambda one: one != ""), min_size=len(KEYS), max_size=len(KEYS)))
def test_any_text_comes_back_from_the_file(texts: list[str]) -> None:
    kept = [Kept(key, text, stamp(text)) for key, text in zip(KEYS, texts, strict=True)]
    data = file_bytes(kept)
    read, mistakes = read_texts(parse_yaml(data, "t.yaml").root, "t.yaml", "de")
    assert mistakes == []
    assert {(one.key, one.text, one.made_from) for one in read.entries.values()} == {
        (one.key, one.text, one.made_from) for one in kept
    }
    again = [Kept(one.key, one.text, one.made_from) for one in read.entries.values()]
    assert file_bytes(again, read) == data


def test_comments_policies_and_order_stay() -> None:
    text = (
        "# Orla translates.\nhandbill: 1\nuntranslated: keep\nmail:\n  # shorter than the original\n"
        "  subject: Ein Brief\nsections:\n  # the opening\n  top:\n    headline: |-\n      Eins\n      # kein Kommentar\n"
        "    # du, not Sie\n    copy: Zwei\n# the end\n"
    )
    read, _ = read_texts(parse_yaml(text.encode(), "t.yaml").root, "t.yaml", "de")
    kept = [Kept(one.key, one.text) for one in read.entries.values()]
    assert file_bytes(kept, read, comments_of(text, read)).decode() == (
        "# Orla translates.\nhandbill: 1\nuntranslated: keep\nmail:\n  # shorter than the original\n"
        "  subject: Ein Brief\nsections:\n  top:\n    # the opening\n    headline: |-\n      Eins\n      # kein Kommentar\n"
        "    # du, not Sie\n    copy: Zwei\n# the end\n"
    )
    assert (
        comments_of("handbill: 1\n", read_texts(parse_yaml(b"handbill: 1", "t").root, "t", "de")[0])
        == Comments()
    )


# -- the commands

STACK = (
    "  - block: hero\n    id: top\n    headline: Light for a year\n    copy: It burns until ${offer.ends:day}.\n"
    "    button: {label: See it, link: /lamps}\n    picture: {file: wren.png, alt: A lamp}\n"
)
OFFER = "offer: {kind: markdown, ends: 2027-01-20T20:00}"


def run(*arguments: object) -> Result:
    return CliRunner().invoke(cli, ["texts", *map(str, arguments)])


def fill(shop: Shop, path: Path, words: dict[str, str]) -> Path:
    """The sheet as a translator sends it back; what is not in `words` becomes "DE" and the text."""
    done = run("export", path, "--language", "de-DE")
    assert done.exit_code == 0, done.output
    head, *rows = parsed(done.stdout_bytes)
    for row in rows:
        text, _break, last = row[0].rpartition("\n")
        name = last.strip("[]").partition(" | ")[0]
        row[1] = words.get(name, f"DE {text}")
    return shop.put(
        "de.csv",
        as_spreadsheet([head, *rows], separator=";", ends="\r\n", bom=True, quotes=csv.QUOTE_MINIMAL),
    )


def lines_of(done: Result) -> list[str]:
    assert done.exit_code != 0, done.output
    assert isinstance(done.exception, MistakesError) and done.exception.exit_code == 2
    return [str(one) for one in done.exception.mistakes]


def test_out_and_in_again(shop: Shop) -> None:
    path = shop.campaign(STACK, OFFER)
    done = run("import", path, fill(shop, path, {}), "--language", "de-DE")
    assert done.exit_code == 0, done.output
    assert done.stdout.endswith("campaigns/texts/de-DE.yaml written: 5 new, 0 as they were\n")
    file = shop.root / "campaigns/texts/de-DE.yaml"
    first = file.read_bytes()
    assert b"    copy: DE It burns until ${offer.ends:day}.\n" in first
    assert run("check", path).stdout == "complete: de-DE\n"
    done = run("import", path, fill(shop, path, {}), "--language", "de-DE")
    assert done.stdout.endswith("written: 0 new, 5 as they were\n")
    assert file.read_bytes() == first


def test_what_is_left_can_be_asked_for_alone(shop: Shop) -> None:
    path = shop.campaign(STACK, OFFER)
    run("import", path, fill(shop, path, {"top: copy": ""}), "--language", "de-DE")
    shop.change("campaigns/spring.yaml", "See it", "See them")
    rows = parsed(run("export", path, "--language", "de-DE", "--left").stdout_bytes)
    assert rows[1:] == [
        ["It burns until ${offer.ends:day}.\n[top: copy | at most 400 characters]", ""],
        [
            "See them\n[top: button.label | at most 60 characters | changed since it was translated]",
            "DE See it",
        ],
    ]


def test_a_changed_text_stays_marked_until_someone_says_otherwise(shop: Shop) -> None:
    path = shop.campaign(STACK, OFFER)
    run("import", path, fill(shop, path, {}), "--language", "de-DE")
    shop.change("campaigns/spring.yaml", "See it", "See them")
    same = fill(shop, path, {"top: button.label": "DE See it"})
    run("import", path, same, "--language", "de-DE")
    complaint = lines_of(run("check", path, "--language", "de-DE"))
    assert len(complaint) == 1 and "top: button.label: made from a text that has changed" in complaint[0]
    run("import", path, same, "--language", "de-DE", "--accept")
    assert run("check", path, "--language", "de-DE").exit_code == 0


def test_translations_can_be_accepted_by_name(shop: Shop) -> None:
    path = shop.campaign(STACK, OFFER)
    run("import", path, fill(shop, path, {}), "--language", "de-DE")
    shop.change("campaigns/spring.yaml", "See it", "See them")
    shop.change("campaigns/spring.yaml", "A lamp", "Two lamps")
    done = run("accept", path, "top: picture.alt", "--language", "de-DE")
    assert done.stdout.startswith("top: picture.alt\n") and done.stdout.endswith("1 marked\n")
    assert len(lines_of(run("check", path))) == 1
    assert lines_of(run("accept", path, "top: alt", "--language", "de-DE"))[0].endswith(
        "campaigns/texts/de-DE.yaml: no translation of top: alt; expected a key of the file; nearest: top: picture.alt"
    )
    run("accept", path, "--language", "de-DE")
    assert run("check", path).exit_code == 0


def test_a_sheet_with_mistakes_writes_nothing(shop: Shop) -> None:
    path = shop.campaign(STACK, OFFER)
    words = {"top: headline": "x" * 81, "top: copy": "Sie brennt bis ${offer.end}.", "subject": "Zwei\nZeilen",
             "top: picture.alt": "${", "top: button.label": "y" * 60}  # fmt: skip
    sheet = fill(shop, path, words)
    lines = lines_of(run("import", path, sheet, "--language", "de-DE"))
    assert [one.removeprefix(str(sheet)).partition(": ")[2] for one in lines] == [
        "row 2, subject: the subject takes no line break; expected one line",
        "row 3, top: headline: 81 characters, more than 80; expected a shorter text",
        "row 4, top: copy: ${offer.ends} is missing; expected every fact of the text: ${offer.ends:day}; nearest: ${offer.end}",
        'row 6, top: picture.alt: `${` is not closed; expected a "}" after the name, and quotes around a value that holds ${…} when it stands inside [ ] or { } or before ": "',
    ]
    assert not (shop.root / "campaigns/texts").exists()


def test_a_spreadsheet_may_eat_an_apostrophe(shop: Shop) -> None:
    """As one did that was tried: it takes an apostrophe at a cell's beginning for its own mark of text."""
    path = shop.campaign(STACK.replace("A lamp", '"\'Tis a lamp"'), OFFER)
    run("import", path, fill(shop, path, {"top: headline": "'n Licht"}), "--language", "de-DE")
    first = (shop.root / "campaigns/texts/de-DE.yaml").read_bytes()
    sheet = fill(shop, path, {"top: headline": "n Licht", "top: picture.alt": "DE 'Tis a lamp"})
    text = sheet.read_text("utf-8")
    assert "\"'Tis a lamp" in text
    sheet.write_text(text.replace("\"'Tis a lamp", '"Tis a lamp'), "utf-8")
    done = run("import", path, sheet, "--language", "de-DE")
    assert done.stdout.endswith("written: 0 new, 5 as they were\n") and done.stderr == ""
    assert (shop.root / "campaigns/texts/de-DE.yaml").read_bytes() == first


def test_what_is_no_mistake_is_noted(shop: Shop) -> None:
    path = shop.campaign(STACK, OFFER)
    words = {"subject": "Z" * 61, "top: copy": "Bis ${offer.ends:time}, ${brand.name}.",
             "top: headline": "2026/03/04"}  # fmt: skip
    sheet = fill(shop, path, words)
    shop.change("campaigns/spring.yaml", "A lamp", "Two lamps")
    done = run("import", path, sheet, "--language", "de-DE")
    assert done.exit_code == 0
    assert [one.partition(".csv:")[2].partition(": ")[2] for one in done.stderr.splitlines()] == [
        "row 2, subject: 61 characters: lists of mails show about 60; expected the offer at the beginning",
        "row 3, top: headline: '2026/03/04' has no word in it; expected words, where a spreadsheet has made a number or a date of them",
        "row 4, top: copy: ${brand.name} is not in the text that it translates",
        "row 6, top: picture.alt: the text has changed since the sheet was written; expected a new sheet, or a look at the translation",
    ]


AS = "expected a sheet saved as CSV in UTF-8, or as Unicode text"


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", ":1:1: the file is empty"),
        (b"\xef\xbb\xbf", ":1:1: the file is empty"),
        ("spring, en;de-DE\nfür\n".encode("latin-1"), f":2:2: not UTF-8; {AS}"),
        ("spring, en;de-DE\n“für”\n".encode("cp1252"), f":2:1: not UTF-8; {AS}"),
        (b"\xff\xfe\x00\xd8\x00\xd8", f": not UTF-16, as it says it is; {AS}"),
        (b"PK\x03\x04\x14\x00", f": a spreadsheet's own kind of file, not CSV; {AS}"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", f": a spreadsheet's own kind of file, not CSV; {AS}"),
        (b'"spring, en",de-DE\nA\0,b\n', ":2:2: a NUL byte; expected text"),
        (b'"spring, en",de-DE\n"A\n[top: headline]"\n',
         ": no cell of the column de-DE is filled; expected a translation beside its text"),
        (b'"spring, en",de-DE\n"A\n[top: headline]",' + b"x" * (1 << 20),
         ":3:18: row 2, top: headline: 1048576 characters, more than 80; expected a shorter text"),
        (b"x" * (5 << 20), ": the sheet has 5,242,880 bytes, more than the 4,194,304 allowed"),
        (b'"spring, en",de-DE\n"A\n[gone: headline]",B\n',
         ":2:1: row 2: the campaign has no text gone: headline; expected a key of this campaign as it is now, which a new export has, or no such row; nearest: top: headline"),
        (b'"A\n[top: headline]",B\n', ":1:1: row 1: the sheet is for A\\u000a[top: headline], not for spring; expected the row that export wrote: spring, its language | de-DE"),
    ],
)  # fmt: skip
def test_odd_sheets(shop: Shop, data: bytes, message: str) -> None:
    """One line each, and the file of texts as it was."""
    path = shop.campaign(STACK, OFFER)
    texts = shop.put("campaigns/texts/de-DE.yaml", "handbill: 1  # begun\n")
    sheet = shop.put("in.csv", data)
    (line,) = lines_of(run("import", path, sheet, "--language", "de-DE"))
    assert line.removeprefix(str(sheet)) == message
    assert texts.read_text("utf-8") == "handbill: 1  # begun\n"


@pytest.mark.parametrize(
    ("separator", "ends", "encoding", "bom"),
    [
        (",", "\r\n", "utf-8", True), (";", "\r\n", "utf-8", True), (";", "\n", "utf-8", False),
        ("\t", "\r\n", "utf-16", False), ("\t", "\n", "utf-8", False), (",", "\r", "utf-8", False),
    ],
)  # fmt: skip
def test_however_a_spreadsheet_saves_it(
    shop: Shop, separator: str, ends: str, encoding: str, bom: bool
) -> None:
    """The same file of texts from each; rows in another order, empty ones, a third column with remarks."""
    path = shop.campaign(STACK, OFFER)
    head, *rows = parsed(fill(shop, path, {"top: headline": "Licht für ein Jahr; hell"}).read_bytes(), ";")
    assert run("import", path, shop.root / "de.csv", "--language", "de-DE").exit_code == 0
    file = shop.root / "campaigns/texts/de-DE.yaml"
    expected = file.read_bytes()
    file.unlink()
    more = [["", "", ""], *([*row, "why so?"] for row in reversed(rows)), ["", "", ""]]
    data = as_spreadsheet(
        [[*head, "remarks"], *more], separator=separator, ends=ends, bom=bom, quotes=csv.QUOTE_MINIMAL
    )
    shop.put("in.csv", data.decode().encode(encoding))
    done = run("import", path, shop.root / "in.csv", "--language", "de-DE")
    assert done.exit_code == 0, done.exception
    assert file.read_bytes() == expected


def test_a_row_may_lack_the_cell_that_nobody_filled(shop: Shop) -> None:
    """Some programs leave out what is empty at a row's end."""
    path = shop.campaign(STACK, OFFER)
    sheet = fill(shop, path, {"top: copy": ""})
    text = sheet.read_text("utf-8-sig")
    sheet.write_text(text.replace('characters]";\n', 'characters]"\n'), "utf-8")
    assert text.count('characters]";\n') == 1
    done = run("import", path, sheet, "--language", "de-DE")
    assert done.stdout.endswith("written: 4 new, 0 as they were, 1 still to translate\n")


def test_a_folder_is_no_sheet(shop: Shop) -> None:
    path = shop.campaign(STACK, OFFER)
    (shop.root / "in.csv").mkdir()
    assert lines_of(run("import", path, shop.root / "in.csv", "--language", "de-DE")) == [
        f"{shop.root}/in.csv: a folder; expected a sheet that export wrote, filled: FILE.csv"
    ]


@pytest.mark.parametrize("name", ["campaigns/spring.yaml", "campaigns", "brands/pellow/products.csv"])
def test_an_export_goes_over_nothing_of_ours(shop: Shop, name: str) -> None:
    path = shop.campaign(STACK, OFFER)
    out = shop.root / name
    before = out.read_bytes() if out.is_file() else b""
    (line,) = lines_of(run("export", path, "--language", "de-DE", "--out", out))
    assert line.removeprefix(f"{out}: ") in (
        "cannot hold the sheet; expected a file NAME.csv",
        "is there already, and no such sheet; expected another name, or the sheet imported or put away first",
    )
    assert (out.read_bytes() if out.is_file() else b"") == before


def test_an_export_goes_over_no_translation_that_was_not_taken_in(shop: Shop) -> None:
    path = shop.campaign(STACK, OFFER)
    arguments = ("export", path, "--language", "de-DE", "--out", shop.root / "de.csv")
    assert run(*arguments).exit_code == 0
    assert run(*arguments).exit_code == 0  # nobody has filled it
    sheet = fill(shop, path, {})
    filled = sheet.read_bytes()
    assert lines_of(run(*arguments)) == [
        f"{sheet}: is there already, and row 2 has not been imported; expected another name, or the sheet "
        "imported or put away first"
    ]
    assert sheet.read_bytes() == filled
    assert run("import", path, sheet, "--language", "de-DE").exit_code == 0
    assert run(*arguments).exit_code == 0


def test_a_link_that_a_translation_lacks_is_noted(shop: Shop) -> None:
    stack = '  - {block: copy, id: top, copy: "Read [how we mend](/repairs), or [write](mailto:us@pellow.example)."}\n'
    path = shop.campaign(stack)
    sheet = fill(
        shop,
        path,
        {"top: copy": "Lies, [wie wir flicken](/flicken), oder [schreib](mailto:us@pellow.example)."},
    )
    done = run("import", path, sheet, "--language", "de-DE")
    assert done.exit_code == 0
    assert done.stderr.splitlines() == [
        f"note: {sheet}:5:40: row 3, top: copy: the link to /repairs is not in it; expected [words](/repairs)"
    ]


ARMS = """\
variants:
  axes:
    arm:
      base: {}
      quiet: {set: {top.headline: Hush}, drop: [end]}
      more: {add: {after: top, section: {block: note, id: extra, copy: Extra words.}}}
    language: [en-IE, de-DE]
"""


def test_sections_that_arms_add_and_drop(shop: Shop) -> None:
    """What one arm alone adds is asked for under that arm; what another drops stays with the others."""
    path = shop.campaign(STACK + "  - {block: copy, id: end, copy: Goodbye.}\n", OFFER)
    path.write_text(path.read_text("utf-8") + ARMS, "utf-8")
    assert run("import", path, fill(shop, path, {}), "--language", "de-DE").exit_code == 0
    texts = (shop.root / "campaigns/texts/de-DE.yaml").read_text("utf-8").partition("\n\n")[0]
    assert texts.endswith(
        "  end:\n    copy: DE Goodbye.\nvariants:\n  arm=quiet:\n    sections:\n      top:\n        headline: DE Hush\n"
        "  arm=more:\n    sections:\n      extra:\n        copy: DE Extra words."
    )
    assert run("check", path).stdout == "complete: de-DE\n"
    text = path.read_text("utf-8")
    path.write_text(
        text.replace("  - {block: copy, id: end, copy: Goodbye.}\n", "").replace(", drop: [end]", ""), "utf-8"
    )
    (line,) = lines_of(run("check", path))
    assert line.rpartition("shop/")[2] == (
        "campaigns/texts/de-DE.yaml:11:5: end: copy: no section end with words of its own; expected one of top, footer-nav"
    )


def test_a_campaign_among_others_has_a_file_of_its_own(shop: Shop) -> None:
    shop.campaign(STACK, OFFER, name="winter")
    path = shop.campaign(STACK, OFFER)
    run("import", path, fill(shop, path, {}), "--language", "de-DE")
    assert (shop.root / "campaigns/texts/spring/de-DE.yaml").exists()


def test_wrong_uses_of_the_commands(shop: Shop) -> None:
    path = shop.campaign(STACK, OFFER)
    assert lines_of(run("export", path, "--language", "en-IE")) == [
        "--language: the campaign is written in en-IE; expected another language"
    ]
    assert lines_of(run("export", path, "--language", "Deutsch")) == [
        "--language: Deutsch is not a language; expected a BCP 47 tag such as de or en-GB"
    ]
    assert lines_of(run("check", path, "--language", "en-IE")) == [
        "--language: the campaign is written in en-IE; expected another language"
    ]
    for command in ("export", "check", "accept"):
        assert lines_of(run(command, path, "--language", "xx-YY")) == [
            '--language: no language data for "xx-YY"; expected a BCP 47 tag such as en-GB'
        ]
        assert lines_of(run(command, path, "--language", "")) == [
            "--language: this is not a language; expected a BCP 47 tag such as de or en-GB"
        ]
    assert lines_of(run("check", path, "--language", "de-DE"))[0].endswith(
        "campaigns/spring.yaml: no texts in de-DE for spring; expected campaigns/texts/de-DE.yaml or "
        "campaigns/texts/spring/de-DE.yaml; handbill texts export begins one"
    )
    assert lines_of(run("import", path, shop.root / "no.csv", "--language", "de-DE"))[0].endswith(
        "no.csv: no such file; expected a sheet that export wrote, filled: FILE.csv"
    )
    assert lines_of(run("export", shop.root, "--language", "de-DE"))[0].endswith(
        "a folder, not a campaign; expected a file such as campaigns/NAME.yaml"
    )
    assert run("check", path).stdout == "no file of texts yet\n"


def test_an_export_goes_to_a_file(shop: Shop) -> None:
    path = shop.campaign(STACK, OFFER)
    out = shop.root / "sheets/de.csv"
    done = run("export", path, "--language", "de-DE", "--out", out, "--separator", "semicolon")
    assert done.stdout == f"{out} written, 5 texts to translate into de-DE\n"
    assert parsed(out.read_bytes(), ";")[0] == ["spring, en-IE", "de-DE"]
    link = shop.root / "link.csv"
    link.symlink_to(out)
    assert lines_of(run("export", path, "--language", "de-DE", "--out", link))[0].endswith(
        "link.csv: cannot hold the sheet; expected a file NAME.csv"
    )
