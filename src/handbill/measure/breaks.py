"""Where a line may break. Enters: text without white space; leaves: its units.

UAX #14 (Unicode 16; Brahmic clusters of LB28a and the dictionaries that Thai, Lao and Khmer need are left
out), and on top of it what Chromium does between two ASCII characters: it breaks after `-`, after `?` before
a word, and before an opening bracket, but not after `/`, `!` or `|`. Small kana start lines, as in CSS
`line-break: auto`.
"""

from __future__ import annotations

import unicodedata
from bisect import bisect_right
from functools import lru_cache
from pathlib import Path

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
_WORD = frozenset(_LETTERS + "0123456789")
_OPENING = frozenset("(<[{")
_BEFORE_OPENING = frozenset('!"#%&)*+,.:;=>\\]|}~')
_AFTER_HYPHEN = frozenset("\"#%&'(*+-<=>@[\\^_`{|~" + _LETTERS)
_AFTER_QUESTION = frozenset("#$%&(*+-<=>@[\\^_`{|~" + _LETTERS + "0123456789")
DICTIONARY = "SA"  # the class of scripts that break by dictionary
_PLAIN = frozenset(_LETTERS + "0123456789.,;:'\"$€£/&@_+=*#%!’‘“”\u00a0")


def units(word: str, *, tailored: bool = True) -> tuple[str, ...]:
    """The parts of `word` that stay whole. `tailored` is as Chromium breaks, otherwise UAX #14 alone."""
    if tailored and _PLAIN.issuperset(word):
        return (word,)
    cuts = [i for i in range(1, len(word)) if _tailored(word, i, tailored)]
    return tuple(word[i:j] for i, j in zip([0, *cuts], [*cuts, len(word)], strict=True))


def may_break(text: str, at: int) -> bool:
    """Whether a line may end before `text[at]`, as Chromium breaks; white space is the caller's matter."""
    return _tailored(text, at, True)


def needs_dictionary(text: str) -> bool:
    """Whether the text is in a script whose words only a dictionary finds."""
    return not text.isascii() and any(line_class(one) == DICTIONARY for one in text)


def _tailored(text: str, at: int, tailored: bool) -> bool:
    before, after = text[at - 1], text[at]
    if tailored and "!" <= before <= "~" and "!" <= after <= "~":
        if before == "-":
            if "0" <= after <= "9":
                return at > 1 and text[at - 2] in _WORD
            return after in _AFTER_HYPHEN
        if before == "?":
            return after in _AFTER_QUESTION
        return after in _OPENING and before in _BEFORE_OPENING
    return _allowed(text, at)


@lru_cache(maxsize=1)
def _table() -> tuple[list[int], list[str]]:
    lines = Path(__file__).with_name("line_breaks.txt").read_text("ascii").split()
    return [int(code, 16) for code in lines[::2]], lines[1::2]


@lru_cache(maxsize=8192)
def line_class(character: str) -> str:
    """The Line_Break property (UAX #14, section 5), unresolved."""
    starts, classes = _table()
    return classes[bisect_right(starts, ord(character)) - 1]


@lru_cache(maxsize=8192)
def _resolved(character: str) -> str:
    """LB1; CJ as ID."""
    found = line_class(character)
    if found in ("AI", "SG", "XX", "AK", "AP", "AS"):
        return "AL"
    if found == "SA":
        return "CM" if unicodedata.category(character) in ("Mn", "Mc") else "AL"
    return {"CJ": "ID", "VF": "CM", "VI": "CM"}.get(found, found)


def _wide(character: str) -> bool:
    return unicodedata.east_asian_width(character) in ("F", "W", "H")


def _allowed(text: str, at: int) -> bool:
    """The rules from LB4 on, for the place before `text[at]`."""
    after = _resolved(text[at])
    base = at - 1
    while base > 0 and _resolved(text[base]) in ("CM", "ZWJ") and _carries(text[base - 1]):
        base -= 1
    before = _resolved(text[base])
    if before in ("CM", "ZWJ"):
        before = "AL"  # LB10
    last = _resolved(text[at - 1])
    if before in ("BK", "CR", "LF", "NL"):
        return True
    if after in ("BK", "CR", "LF", "NL", "ZW"):
        return False
    if before == "ZW":
        return True
    if last == "ZWJ" or (after in ("CM", "ZWJ") and _carries(text[at - 1])):
        return False  # LB8a, LB9
    if after in ("CM", "ZWJ"):
        after = "AL"
    if "WJ" in (before, after) or before == "GL":
        return False  # LB11, LB12
    if after == "GL":
        return before in ("BA", "HY", "SP", "HH")
    if after in ("CL", "CP", "EX", "SY", "IS"):
        return False  # LB13
    if before == "OP" or (before == "QU" and _initial(text, base)):
        return False  # LB14, LB15a
    if after == "QU" and _final(text, at):
        return False  # LB15b
    if before in ("CL", "CP") and after == "NS":
        return False  # LB16
    if before == "B2" and after == "B2":
        return False  # LB17
    return _later(text, base, at, before, after)


def _later(text: str, base: int, at: int, before: str, after: str) -> bool:
    """From LB19 on."""
    if after == "QU" or before == "QU":
        return _quotes(text, base, at, before, after)
    if "CB" in (before, after):
        return True
    if (before in ("HY", "HH") or text[base] == "\u2010") and after == "AL" and base == 0:
        return False  # LB20a
    if after in ("BA", "HY", "NS", "HH") or before == "BB":
        return False  # LB21
    if before in ("HY", "BA", "HH") and base > 0 and _resolved(text[base - 1]) == "HL" and after != "HL":
        return False  # LB21a
    if (before == "SY" and after == "HL") or after == "IN":
        return False  # LB21b, LB22
    pair = (before, after)
    letters = ("AL", "HL")
    if (before in letters and after == "NU") or (before == "NU" and after in letters):
        return False  # LB23
    if (before == "PR" and after in ("ID", "EB", "EM")) or (before in ("ID", "EB", "EM") and after == "PO"):
        return False  # LB23a
    if (before in ("PR", "PO") and after in letters) or (before in letters and after in ("PR", "PO")):
        return False  # LB24
    if _number(text, base, at, before, after):
        return False
    if (
        pair in _HANGUL
        or (before in _HANGUL_ALL and after == "PO")
        or (before == "PR" and after in _HANGUL_ALL)
    ):
        return False  # LB26, LB27
    if before in letters and after in letters:
        return False  # LB28
    if before == "IS" and after in letters:
        return False  # LB29
    if before in (*letters, "NU") and after == "OP" and not _wide(text[at]):
        return False  # LB30
    if before == "CP" and after in (*letters, "NU") and not _wide(text[base]):
        return False
    if before == "RI" and after == "RI":
        return _flags(text, base) % 2 == 0  # LB30a
    return not (before == "EB" and after == "EM")  # LB30b, LB31


_HANGUL = frozenset(
    [("JL", one) for one in ("JL", "JV", "H2", "H3")]
    + [(a, b) for a in ("JV", "H2") for b in ("JV", "JT")]
    + [(a, "JT") for a in ("JT", "H3")]
)
_HANGUL_ALL = frozenset(("JL", "JV", "JT", "H2", "H3"))


def _carries(character: str) -> bool:
    """Whether combining marks join it (LB9)."""
    return _resolved(character) not in ("BK", "CR", "LF", "NL", "SP", "ZW")


def _initial(text: str, at: int) -> bool:
    """LB15a: an opening quotation mark after the start or something that opens."""
    if unicodedata.category(text[at]) != "Pi":
        return False
    return at == 0 or _resolved(text[at - 1]) in ("OP", "QU", "GL", "SP", "ZW", "CB")


def _final(text: str, at: int) -> bool:
    """LB15b: a closing quotation mark before the end or something that closes."""
    if unicodedata.category(text[at]) != "Pf":
        return False
    closing = ("SP", "GL", "WJ", "CL", "QU", "CP", "EX", "IS", "SY", "BK", "CR", "LF", "NL", "ZW")
    return at == len(text) - 1 or _resolved(text[at + 1]) in closing


def _quotes(text: str, base: int, at: int, before: str, after: str) -> bool:
    """LB19 and LB19a: no break beside a quotation mark, but on the outer side of curly ones in wide text."""
    if after == "QU":
        if unicodedata.category(text[at]) != "Pi":
            return False
        if not _wide(text[base]) or at == len(text) - 1 or not _wide(text[at + 1]):
            return False
    if before == "QU":
        if unicodedata.category(text[base]) != "Pf":
            return False
        if not _wide(text[at]) or base == 0 or not _wide(text[base - 1]):
            return False
    return True


def _number(text: str, base: int, at: int, before: str, after: str) -> bool:
    """LB25: numbers, with their signs, stay whole."""
    if after == "NU":
        if before in ("PO", "PR", "HY", "NU", "IS"):
            return True
        return before == "SY" and _in_number(text, base - 1)
    if before in ("PO", "PR") and after == "OP":
        return at + 1 < len(text) and _resolved(text[at + 1]) in ("NU", "IS")
    if after in ("PO", "PR"):
        if before == "NU":
            return True
        if before in ("CL", "CP", "SY", "IS"):
            return _in_number(text, base - 1)
    return False


def _in_number(text: str, at: int) -> bool:
    while at >= 0 and _resolved(text[at]) in ("SY", "IS"):
        at -= 1
    return at >= 0 and _resolved(text[at]) == "NU"


def _flags(text: str, at: int) -> int:
    """Regional indicators in a row up to `at`."""
    count = 0
    while at >= 0 and _resolved(text[at]) == "RI":
        count += 1
        at -= 1
    return count
