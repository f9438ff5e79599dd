"""Text widths against the fonts themselves, published metrics and the readers' rules for odd characters."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from handbill.resolve.advances import button_width, text_width

LIBERATION = Path("/usr/share/fonts/truetype/liberation")  # Debian's fonts-liberation
PANGRAM = "The quick brown fox jumps over the lazy dog"
FACES = [
    ("Arial", False, "LiberationSans-Regular.ttf"),
    ("Arial", True, "LiberationSans-Bold.ttf"),
    ("'Times New Roman'", False, "LiberationSerif-Regular.ttf"),
    ("'Times New Roman'", True, "LiberationSerif-Bold.ttf"),
    ("'Courier New'", False, "LiberationMono-Regular.ttf"),
    ("'Courier New'", True, "LiberationMono-Bold.ttf"),
]


def units(text: str, family: str = "Arial", bold: bool = False) -> float:
    """The width in font units: at 2048 px one unit is one px."""
    return text_width(text, family=family, size=2048, bold=bold)


def test_regular_sans_advances() -> None:
    """Row T02, read from Liberation Sans 1.07.4; by row T01 (fontconfig's aliases) the widths are Arial's."""
    groups = {" ": 569, "aen0$€–é": 1139, "A": 1366, "Mm": 1706, "W": 1933, "il": 455, "I.,": 569}
    expected = {letter: width for letters, width in groups.items() for letter in letters}
    expected |= {"-": 682, "%": 1821, "…": 2048}
    assert {letter: units(letter) for letter in expected} == expected


def test_bold_serif_and_mono_advances() -> None:
    """Rows T03 and T04, same source."""
    bold = {"A": 1479, "a": 1139, "e": 1139, "n": 1251, "m": 1821, "i": 569, "l": 569, "W": 1933}
    assert {letter: units(letter, bold=True) for letter in bold} == bold
    serif = {" ": 512, ".": 512, "a": 909, "e": 909, "n": 1024, "0": 1024, "A": 1479, "m": 1593}
    assert {letter: units(letter, "'Times New Roman'") for letter in serif} == serif
    assert {units(letter, "Courier New", bold) for letter in "iW. €" for bold in (False, True)} == {1229}


@pytest.mark.parametrize(
    ("text", "regular", "bold"),
    [
        ("Shop now", 9109, 9783),
        ("$35.99", 6264, 6264),
        ("Up to 60% off", 12409, 13084),
        ("Unsubscribe", 11383, 12405),
        (PANGRAM, 40525, 43810),
    ],
)
def test_strings(text: str, regular: int, bold: int) -> None:
    """Row T06: the same fonts without kerning."""
    assert (units(text), units(text, bold=True)) == (regular, bold)


def test_pixels() -> None:
    """Row T07: units x 16 / 2048."""
    assert text_width("Shop now", family="Arial", size=16) == pytest.approx(71.16, abs=0.005)
    assert text_width("Shop now", family="Arial", size=16, bold=True) == pytest.approx(76.43, abs=0.005)
    assert text_width(PANGRAM, family="Arial", size=16) == pytest.approx(316.60, abs=0.005)


@pytest.mark.parametrize(("text", "published"), [("Shop now", 4447), (PANGRAM, 19786), ("$35.99", 3058)])
def test_helvetica_core_metrics(text: str, published: int) -> None:
    """Row T08: Helvetica's published core metrics, 1000 to the em."""
    assert text_width(text, family="Helvetica", size=1000) == pytest.approx(published, rel=0.001)


# Letter shares of English in percent: the widely reprinted table of R. Lewand, Cryptological Mathematics
# (from memory); row T09 adds a space after every 4.7 letters.
# fmt: off
LETTERS = {
    "e": 12.70, "t": 9.06, "a": 8.17, "o": 7.51, "i": 6.97, "n": 6.75, "s": 6.33, "h": 6.09, "r": 5.99,
    "d": 4.25, "l": 4.03, "c": 2.78, "u": 2.76, "m": 2.41, "w": 2.36, "f": 2.23, "g": 2.02, "y": 1.97,
    "p": 1.93, "b": 1.49, "v": 0.98, "k": 0.77, "j": 0.15, "x": 0.15, "q": 0.10, "z": 0.07,
}
# fmt: on


@pytest.mark.parametrize(
    ("family", "bold", "em"), [("Arial", False, 0.444), ("Arial", True, 0.479), ("serif", False, 0.404)]
)
def test_mean_advance_of_english(family: str, bold: bool, em: float) -> None:
    """Row T09, within one percent since its letter table may differ in the last digit."""
    letters = sum(share * units(letter, family, bold) for letter, share in LETTERS.items()) / sum(
        LETTERS.values()
    )
    assert (4.7 * letters + units(" ", family, bold)) / 5.7 / 2048 == pytest.approx(em, rel=0.01)


@pytest.mark.parametrize(("family", "bold", "file"), FACES)
def test_tables_are_the_installed_fonts(family: str, bold: bool, file: str) -> None:
    """Every character of Latin-1, Latin Extended-A, punctuation and currency, read with fontTools."""
    font: Any = TTFont(LIBERATION / file)
    glyphs, metrics = font.getBestCmap(), font["hmtx"]
    codes = [
        *range(0x20, 0x7F),
        *range(0xA0, 0xAD),
        *range(0xAE, 0x180),
        *range(0x2010, 0x203F),
        0x20AC,
        0x2122,
    ]
    codes = [code for code in codes if code in glyphs]
    assert len(codes) > 330
    assert {c: units(chr(c), family, bold) for c in codes} == {c: metrics[glyphs[c]][0] for c in codes}


def test_georgia() -> None:
    """Georgia's advances as Microsoft's font has them (from memory, so within 0.3 percent, never exact)."""
    for letter, advance in {" ": 494, "A": 1374, "n": 1208, "m": 1802, "W": 2000}.items():
        assert units(letter, "Georgia, serif") == pytest.approx(advance, rel=0.003)
    assert units("Shop now", "Georgia", bold=True) > units("Shop now", "Georgia")


@pytest.mark.parametrize(
    ("stack", "same_as"),
    [
        ("'Fancy Web Font', Georgia, serif", "Georgia"),
        ('"Times New Roman",Times,serif', "Times"),
        ("  ARIAL  ", "Helvetica"),
        ("Nobody Knows", "Arial"),
        ("Nobody Knows, monospace", "Courier"),
        ("ui-serif", "Times"),
    ],
)
def test_first_known_family_of_a_stack(stack: str, same_as: str) -> None:
    """CSS Fonts 4, font-family: names without regard to case, quotes optional, first one available."""
    assert units(PANGRAM, stack) == units(PANGRAM, same_as)
    assert units(PANGRAM, "Verdana, Arial") > units(PANGRAM, "Arial") != units(PANGRAM, "Georgia")


def test_characters_outside_the_tables() -> None:
    """UAX 11 (East Asian width) and UAX 44 (general category)."""
    assert units("日本語。") == 4 * 2048
    assert units("ｶ") == 1024
    assert units("e\u0301") == units("e") == units("e\u200b\u2060\u00ad\ufe0f")
    assert units("\t") == units(" ") == units("\u00a0")
    assert units("🎁") > 2048
    assert 1000 < units("Ж") < 1500
    assert units("ж", bold=True) > units("ж")


def test_letter_spacing_follows_every_shown_character() -> None:
    """CSS Text 3, letter-spacing: after each character, the last one too in all engines."""
    plain = text_width("cafe\u0301", family="Arial", size=16)
    assert text_width("cafe\u0301", family="Arial", size=16, letter_spacing=2) == pytest.approx(plain + 8)
    assert text_width("", family="Arial", size=16, letter_spacing=2) == 0


def test_button_width() -> None:
    """71.16 px (row T07) plus 4 percent is 74.01: 75 px, and 24 px on both sides."""
    assert button_width("Shop now", family="Arial", size=16, padding=24) == 75 + 48
    assert button_width("Shop now", family="Arial", size=16, padding=0, slack=0) == 72
    assert button_width("\u65e5", family="Arial", size=16, padding=0, slack=0) == 16


@given(st.text(max_size=30), st.text(max_size=30), st.sampled_from(["Arial", "Georgia", "Verdana", "mono"]))
def test_widths_add_up(first: str, second: str, family: str) -> None:
    """Without kerning a line is the sum of its parts, whatever the characters."""
    parts = units(first, family) + units(second, family)
    assert units(first + second, family) == pytest.approx(parts)
    assert parts >= 0


def test_tables_are_read_only_when_asked_for() -> None:
    """Importing costs nothing; the tables come with the first width."""
    code = (
        "from handbill.resolve import advances as a; before = a._tables.cache_info().currsize;"
        "a.text_width('x', family='Arial', size=16); print(before, a._tables.cache_info().currsize)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["0", "1"]
