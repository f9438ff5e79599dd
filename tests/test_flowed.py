"""Flowed text against RFC 3676: what `flow` writes, a reader built from the RFC's own rules reads back."""

from __future__ import annotations

import quopri

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handbill.write.eml import quoted_printable
from handbill.write.flowed import flow

LONG = "The kettle that the ridge walkers asked for is back in enamel, and it goes out at midnight on Friday."
LINK = "https://orrowby.example/winter/last-call/" + "k" * 120


def unflow(text: str) -> str:
    """RFC 3676 §4.1-4.4, DelSp=no: unstuff, keep the signature mark, join a flowed line to the next."""
    paragraphs, held = [], ""
    for line in text.split("\n"):
        content = line[1:] if line.startswith(" ") else line
        held += content
        if content == "-- " or not content.endswith(" "):
            paragraphs.append(held)
            held = ""
    assert not held, "the text ends in a soft break"
    return "\n".join(paragraphs)


def trimmed(text: str) -> str:
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return "\n".join(line if line == "-- " else line.rstrip(" ") for line in lines)


def test_soft_breaks_leave_a_space_and_lines_fit() -> None:
    lines = flow(LONG).split("\n")  # R31, RFC 3676 §4.2: at most 78 with the space
    assert len(lines) == 2
    assert lines[0].endswith(" ")
    assert not lines[1].endswith(" ")
    assert all(len(line) <= 78 for line in lines)
    assert "".join(lines) == LONG


def test_hard_breaks_stay_hard() -> None:
    assert flow("Kettle: 35.99   \nwas 89.99\n\nEnds Friday ") == "Kettle: 35.99\nwas 89.99\n\nEnds Friday"


@pytest.mark.parametrize(
    ("line", "stuffed"),
    [
        (" indented", "  indented"),
        ("From Orrowby with love", " From Orrowby with love"),
        ("> 20 cm wide", " > 20 cm wide"),
        ("Fromage", "Fromage"),
        ("from Orrowby", "from Orrowby"),
    ],
)
def test_space_stuffing(line: str, stuffed: str) -> None:
    assert flow(line) == stuffed  # R31, RFC 3676 §4.4


@pytest.mark.parametrize("start", [" ", ">", "From "])
def test_a_wrapped_line_is_stuffed_too(start: str) -> None:
    text = "w" * 72 + " " + start + "more words that follow on the second line"
    lines = flow(text).split("\n")
    assert len(lines) == 2
    assert all(len(line) <= 78 and not line.startswith((">", "From ")) for line in lines)
    assert unflow("\n".join(lines)) == text


def test_the_signature_mark_is_untouched() -> None:
    assert flow("Bye\n-- \nOrrowby") == "Bye\n-- \nOrrowby"  # R31, RFC 3676 §4.3
    assert flow("Bye\n--  \nOrrowby") == "Bye\n--\nOrrowby"


@pytest.mark.parametrize("before", ["", "w" * 72 + " ", LONG + " "])
def test_wrapping_never_makes_a_signature_mark(before: str) -> None:
    flowed = flow(f"{before}-- {LINK} and on")
    assert "-- " not in flowed.split("\n")
    assert unflow(flowed) == f"{before}-- {LINK} and on"


@pytest.mark.parametrize("text", [LINK, "日本語の本文は空白なしで続きます。" * 9])
def test_what_has_no_spaces_is_left_alone(text: str) -> None:
    assert flow(text) == text
    assert text in flow(f"{LONG} {text} {LONG}")


def test_a_wall_of_spaces_still_fits() -> None:
    text = "a" + " " * 300 + "b"  # R01: no line may reach 998, spaces included
    assert max(map(len, flow(text).split("\n"))) <= 78
    assert unflow(flow(text)) == text


def test_quoted_printable_leaves_flowed_lines_whole() -> None:
    coded = quoted_printable((flow(f"{LONG} {LONG}") + "\n").encode())
    assert b"=\r\n" not in coded
    stuffed = flow("> " + "w" * 71 + " " + "w" * 70) + "\n" + flow("w " * 37 + "w" * 5)
    assert b"=\r\n" not in quoted_printable((stuffed + "\n").encode())
    assert b"=20\r\n" in coded


words = st.text(st.sampled_from("ab é日>-. F") | st.characters(exclude_categories=["Cs"]), max_size=12)
lines = st.lists(words | st.sampled_from(["--", "From", ">", "", LINK, "w" * 73]), max_size=30).map(" ".join)


@given(st.lists(lines, max_size=5).map("\n".join))
def test_any_text_comes_back(text: str) -> None:
    coded = quoted_printable((flow(text) + "\n").encode())
    decoded = quopri.decodestring(coded.replace(b"\r\n", b"\n")).decode()
    assert unflow(decoded.removesuffix("\n")) == trimmed(text)
    assert max(map(len, coded.split(b"\r\n"))) <= 76  # R09, RFC 2045 §6.7


@given(st.lists(lines, max_size=5).map("\n".join))
def test_only_lines_of_one_word_are_long(text: str) -> None:
    for line in flow(text).split("\n"):
        assert len(line) <= 78 or " " not in line.removeprefix(" ").removeprefix("-- ").rstrip(" ")
