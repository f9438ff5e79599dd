"""YAML with places: what is read as written, what is refused, and where.

YAML 1.2.2 (yaml.org/spec/1.2.2): §10.3 nulls of the core schema, §3.2.1.3 unique keys, §5.1 characters,
§6.1 tabs.
Merge keys: yaml.org/type/merge.html.
"""

# ruff: noqa: E501 - messages are compared whole, on one line

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handbill.base.errors import Mistake, MistakesError, Place, nearest
from handbill.base.source import (
    MAX_BYTES,
    child,
    entries,
    find,
    key_place,
    make_mapping,
    merge,
    parse_yaml,
    place,
    plain,
    put,
    read_yaml,
)


def read(text: str | bytes) -> Any:
    return plain(parse_yaml(text if isinstance(text, bytes) else text.encode(), "f.yaml").root)


def refused(text: str | bytes) -> list[str]:
    with pytest.raises(MistakesError) as caught:
        read(text)
    return [str(one) for one in caught.value.mistakes]


@pytest.mark.parametrize(
    "text", ["0123", "12:30", "9.90", "1e3", "yes", "NO", "on", "2027-01-15", "0x1F", "1_000", ".inf"]
)
def test_plain_scalars_stay_as_written(text: str) -> None:
    assert read(f"a: {text}") == {"a": text}


@pytest.mark.parametrize("text", ["~", "null", "Null", "NULL", ""])
def test_the_core_schemas_nulls(text: str) -> None:
    assert read(f"a: {text}\nb: 'null'") == {"a": None, "b": "null"}


def test_merge_keys_and_anchors() -> None:
    text = "a: &a {x: 1, y: 2}\nb: {<<: *a, y: 3}\nc: {<<: [{z: 9}, *a], x: 5}\nd: *a\ne: {<<: {<<: *a}}\n"
    assert read(text) == {
        "a": {"x": "1", "y": "2"}, "b": {"y": "3", "x": "1"}, "c": {"x": "5", "z": "9", "y": "2"},
        "d": {"x": "1", "y": "2"}, "e": {"x": "1", "y": "2"},
    }  # fmt: skip


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"])
def test_places_count_lines_and_characters(ending: str, bom: bytes) -> None:
    root = parse_yaml(bom + ending.join(["ä: 1", "b:", "  - 😀: x", "  -   y"]).encode(), "f.yaml").root
    second = entries(child(root, "b"))
    assert [str(place(one)) for one in second] == ["f.yaml:3:5", "f.yaml:4:7"]
    assert str(place(find(second[0], ("😀",))[0])) == "f.yaml:3:8"
    assert str(key_place(root, ("b",))) == "f.yaml:2:1"


DEEP = "a0: &a0 [x]\n" + "".join(f"a{n}: &a{n} [[*a{n - 1}]]\n" for n in range(1, 200))
BOMB = "a0: &a0 [x, x]\n" + "".join(f"a{n}: &a{n} [*a{n - 1}, *a{n - 1}]\n" for n in range(1, 30))


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("", "f.yaml:1:1: the file is empty"),
        ("# only words\n", "f.yaml:1:1: the file is empty"),
        ("a: 1\nb: 2\na: 3", "f.yaml:3:1: 'a' is written twice (first at line 1)"),
        ("a: {b: 1, 'b': 2}", "f.yaml:1:11: 'b' is written twice (first at line 1)"),
        ("a: !!int 3", "f.yaml:1:4: explicit tags are not allowed (tag:yaml.org,2002:int); expected a plain value"),
        ("a: !python/object:os.system x", "f.yaml:1:4: explicit tags are not allowed (!python/object:os.system); expected a plain value"),
        ("a: &x [*x]", "f.yaml:1:4: an alias refers to a value that contains it"),
        ("a: *x", "f.yaml:1:4: YAML syntax: found undefined alias"),
        ("[a]: 1", "f.yaml:1:1: a key must be a word; expected name: value"),
        ("'': 3", "f.yaml:1:1: a key is empty; expected name: value"),
        ("a: {<<: 3}", "f.yaml:1:9: << merges a mapping; expected <<: *name of a mapping"),
        ("a: 1\n---\nb: 2", "f.yaml:2:1: YAML syntax: a second document begins here; a file holds one"),
        ("a: 1\n\tb: 2", "f.yaml:2:1: YAML syntax: a tab indents this line; expected spaces"),
        ("ä: b\n€: x\x07y", "f.yaml:2:8: a character that YAML does not allow"),
        ("ä: ".encode() + b"\xff", "f.yaml:1:4: not UTF-8; expected a file saved as UTF-8"),
        ("a: {b: ${x.y}}", "f.yaml:1:9: YAML syntax: did not find expected ',' or '}'; a value that holds ${…} needs quotes inside { }, [ ] and before ': '"),
        ("a: ${x} off: now", 'f.yaml:1:4: YAML syntax: `: ` ends a text without quotes; expected quotes: a: "${x} off: now"'),
        (DEEP, "f.yaml:32:6: nested more than 64 levels deep"),
        ("x" * (MAX_BYTES + 1), "f.yaml: the file has 1,048,577 bytes, more than the 1,048,576 allowed"),
    ],
)  # fmt: skip
def test_what_is_refused_and_where(text: str | bytes, line: str) -> None:
    assert refused(text) == [line]


@pytest.mark.parametrize("text", ["[" * 100_000, "- " * 50_000, "a: {" * 5_000, "[" * 66 + "]" * 66])
def test_deep_nesting_is_refused_without_recursion(text: str) -> None:
    (line,) = refused(text)
    assert "nest" in line


def test_an_alias_bomb_is_counted_not_unfolded() -> None:
    assert refused(BOMB)[-1].startswith("f.yaml:1:1: aliases unfold to ")


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused_in_one_line_each(raw: bytes) -> None:
    try:
        parse_yaml(raw, "f.yaml")
    except MistakesError as error:
        for mistake in error.mistakes:
            assert str(mistake).isprintable() or "\n" not in str(mistake)
            assert mistake.place.line >= 1


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=30))
def test_quoted_text_comes_back_whole(text: str) -> None:
    escaped = text.replace("'", "''").replace("\ufeff", "")
    if not {"\u2028", "\u2029"} & set(escaped):
        assert read(f"a: '{escaped}'") == {"a": text.replace("\ufeff", "")}


def test_what_is_not_a_file_of_one_mapping(tmp_path: Path) -> None:
    (tmp_path / "list.yaml").write_text("- a\n")
    os.mkfifo(tmp_path / "pipe.yaml")
    (tmp_path / "folder.yaml").mkdir()
    for name, line in {
        "list.yaml": "n:1:1: the file is not a mapping; expected name: value",
        "pipe.yaml": "n: not a file; expected a YAML file",
        "folder.yaml": "n: not a file; expected a YAML file",
        "none.yaml": "n: no such file",
    }.items():
        with pytest.raises(MistakesError) as caught:
            read_yaml(tmp_path / name, "n")
        assert [str(one) for one in caught.value.mistakes] == [line]


def test_changes_make_new_nodes_and_keep_places() -> None:
    base = parse_yaml(b"a: {x: 1, y: 2}\nb: [1]", "base.yaml").root
    over = parse_yaml(b"\na: {y: 3, z: 4}\nb: [2]", "over.yaml").root
    both = merge(base, over)
    assert plain(both) == {"a": {"x": "1", "y": "3", "z": "4"}, "b": ["2"]}
    assert [str(place(find(both, way)[0])) for way in (("a", "x"), ("a", "y"))] == [
        "base.yaml:1:8",
        "over.yaml:2:8",
    ]
    assert plain(base) == {"a": {"x": "1", "y": "2"}, "b": ["1"]}
    assert plain(put(base, "c", make_mapping([], base)))["c"] == {}


def test_messages_are_one_line_whatever_was_written() -> None:
    line = str(Mistake(Place("f", 1, 2), "a\nb", "x\x1b[31m\u202ey\u2028"))
    assert line == "f:1:2: a\\u000ab: x\\u001b[31m\\u202ey\\u2028"


@pytest.mark.parametrize(
    ("word", "known", "near"),
    [
        ("K-1O2", ["K-101", "K-102", "S-110"], "K-102"),
        ("product_stack", ["product-stack", "press"], "product-stack"),
        ("Masthead", ["masthead"], "masthead"),
        ("zzz", ["masthead"], ""),
        ("x", [], ""),
    ],
)
def test_the_nearest_spelling(word: str, known: list[str], near: str) -> None:
    assert nearest(word, known) == near
