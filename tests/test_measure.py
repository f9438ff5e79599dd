"""Measuring without a browser. Sources stand beside each check; sums by hand are of the fonts' own units."""

from __future__ import annotations

from itertools import pairwise
from math import isfinite
from pathlib import Path

import pytest
import uharfbuzz
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st
from uniseg.linebreak import line_break_units
from uniseg.wordbreak import words as uniseg_words

from handbill.dom import parse
from handbill.measure import Layout, Screen, band, known, measure, readings
from handbill.measure.bidi import ordered
from handbill.measure.breaks import units
from handbill.measure.columns import Column, fixed_widths, spread
from handbill.measure.fonts import FOLDER, face, sized
from handbill.measure.words import count_words

PANGRAM = "The quick brown fox jumps over the lazy dog"


# Check values T02 to T06: Liberation 1.07.4, whose advances 2.x keeps; units of 2,048 to the em.
@pytest.mark.parametrize(
    ("name", "letters", "expected"),
    [
        ("sans-regular", " ", 569),
        ("sans-regular", "aen0$€–é", 1139),
        ("sans-regular", "A", 1366),
        ("sans-regular", "Mm", 1706),
        ("sans-regular", "W", 1933),
        ("sans-regular", "il", 455),
        ("sans-regular", "I.,", 569),
        ("sans-regular", "-", 682),
        ("sans-regular", "%", 1821),
        ("sans-regular", "…", 2048),
        ("sans-bold", "A", 1479),
        ("sans-bold", "ae", 1139),
        ("sans-bold", "n", 1251),
        ("sans-bold", "m", 1821),
        ("sans-bold", "il", 569),
        ("serif-regular", " .", 512),
        ("serif-regular", "ae", 909),
        ("serif-regular", "n0", 1024),
        ("serif-regular", "A", 1479),
        ("serif-regular", "m", 1593),
        ("mono-regular", "aMi. ", 1229),
    ],
)
def test_advances_of_the_twins(name: str, letters: str, expected: int) -> None:
    assert {face(name).width(one) for one in letters} <= {expected, expected - 1, expected + 1}


def test_vertical_metrics() -> None:
    """Check value T05, and how Chromium rounds them."""
    sans = face("sans-regular")
    assert (sans.ascent, sans.descent, sans.gap) == (1854, 434, 67)
    at_16 = sized("sans", 400, False, 16.0, 0.0, 0.0, 1.0)
    assert (at_16.ascent, at_16.descent, at_16.normal_height) == (14, 3, 18)


@pytest.mark.parametrize(
    ("text", "sans", "bold"),
    [
        ("Shop now", 9109, 9783),
        ("$35.99", 6264, 6264),
        ("Up to 60% off", 12409, 13084),
        ("Unsubscribe", 11383, 12405),
        (PANGRAM, 40525, 43810),
    ],
)
def test_strings_without_kerning(text: str, sans: int, bold: int) -> None:
    """Check value T06."""
    off = {"kern": False}
    assert face("sans-regular").width(text, off) == pytest.approx(sans, abs=2)
    assert face("sans-bold").width(text, off) == pytest.approx(bold, abs=2)


def test_px() -> None:
    """Check value T07; kerning leaves both strings as they are."""
    regular, bold = (sized("sans", weight, False, 16.0, 0.0, 0.0, 1.0) for weight in (400, 700))
    assert regular.width("Shop now") == pytest.approx(71.16, abs=0.01)
    assert bold.width("Shop now") == pytest.approx(76.43, abs=0.01)
    assert regular.width(PANGRAM) == pytest.approx(316.60, abs=0.01)
    # Check value T08: Helvetica's core metrics at 1,000 to the em.
    assert regular.width("$35.99") * 1000 / 16 == pytest.approx(3058, rel=0.001)


def test_kerning_is_on() -> None:
    """`kern` in the fonts' GPOS tables: A and V close up, and so does A with a space."""
    sans = sized("sans", 400, False, 20.48, 0.0, 0.0, 1.0)
    assert sans.width("AV") < sans.width("A") + sans.width("V")
    assert sans.width("A B") < sans.width("A") + sans.width(" ") + sans.width("B")


LATIN = [chr(n) for n in (*range(32, 127), *range(0xA1, 0x250), 0x2013, 0x2019, 0x20AC)]
LETTERS = st.text("AVTYeoarfi lwW.,'’-", min_size=1, max_size=24)


@given(
    st.sampled_from(sorted(FOLDER.glob("*.ttf"))),
    st.text(st.sampled_from(LATIN), min_size=1),
)
def test_sums_of_pairs_are_what_harfbuzz_says_of_the_whole(path: Path, text: str) -> None:
    """HarfBuzz itself, asked for the whole text at once."""
    font = uharfbuzz.Font(uharfbuzz.Face(path.read_bytes()))
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    uharfbuzz.shape(font, buffer)
    own = face(path.stem)
    assert own.width(text) == sum(one.x_advance for one in buffer.glyph_positions)
    if text.isascii():
        spread = [0] * len(text)
        for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            spread[info.cluster] += position.x_advance
        assert own.letters(text) == spread


@given(LETTERS)
def test_words_add_up_to_the_whole_paragraph(text: str) -> None:
    """HarfBuzz over the whole text at once gives what the kept words give together."""
    words = text.split()
    if not words:
        return
    for twin in ("sans", "serif", "georgia", "mono"):
        font = sized(twin, 400, False, 16.0, 0.0, 0.0, 1.0)
        total = font.word(words[0])[0]
        for before, after in pairwise(words):
            total += font.word(before)[1] + font.leads.get(after[0], 0.0) + font.word(after)[0]
        assert total == pytest.approx(font.width(" ".join(words)), abs=0.02)


def test_shipped_fonts_keep_their_licences_and_no_reserved_name() -> None:
    """SIL Open Font License 1.1, conditions 2 and 3."""
    for name in ("liberation", "gelasio"):
        assert "SIL OPEN FONT LICENSE" in (FOLDER / f"LICENSE-{name}.txt").read_text("utf-8").upper()
    files = sorted(Path(FOLDER).glob("*.ttf"))
    assert len(files) == 20
    for file in files:
        font = TTFont(file)
        family = font["name"].getDebugName(1)
        assert family == f"Handbill {file.stem}"


# Check values T11 to T13, by UAX #14.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Save $35.99 today", "Save |$35.99 |today"),
        ("60% off", "60% |off"),
        ("well-known", "well-|known"),
        ("price:\u00a0$5", "price:\u00a0$5"),
        ("(up to 50%)", "(up |to |50%)"),
        ("e-mail/newsletter", "e-|mail/|newsletter"),
        ("50\u202f% de", "50\u202f% |de"),
        ("A\u2011B", "A\u2011B"),
        ("日本語", "日|本|語"),
        ("$ 5", "$ |5"),
        ("100 €", "100 |€"),
        ("a\u200bb", "a\u200b|b"),
        ("a\u2060b", "a\u2060b"),
        ("a\u00adb", "a\u00ad|b"),
        ("a—b", "a|—|b"),
        ("ab!", "ab!"),
        ("50%", "50%"),
        ("$5", "$5"),
        ("語。", "語。"),
    ],
)
def test_line_breaks(text: str, expected: str) -> None:
    assert list(line_break_units(text)) == expected.split("|")
    mine = [part for word in text.split(" ") for part in units(word, tailored=False)]
    assert mine == expected.replace(" ", "").split("|")


# Between two ASCII characters Chromium (156, seen) breaks by a table of its own.
@pytest.mark.parametrize(
    ("word", "expected"),
    [
        ("and/or", "and/or"),
        ("ready?yes", "ready?|yes"),
        ("10-20", "10-|20"),
        ("(-1", "(-1"),
        ("a(b)[c]", "a(b)|[c]"),
        ("yes!no", "yes!no"),
        ("a…b", "a…|b"),
        ("a–b", "a–|b"),
        ("https://a.b/c?d=e", "https://a.b/c?|d=e"),
        ("っか", "っ|か"),
    ],
)
def test_line_breaks_as_chromium_has_them(word: str, expected: str) -> None:
    assert list(units(word)) == expected.split("|")


@given(st.text("aZ9-–—…!.,:;/()[]%$€“”‘’日語。א\u00a0\u2011\u200b", min_size=1, max_size=7))
def test_line_breaks_against_another_reading_of_the_standard(text: str) -> None:
    """uniseg 0.10, where it and UAX #14 revision 53 agree: not around quotation marks."""
    if any(one in "“”‘’" for one in text):
        return
    assert "".join(units(text, tailored=False)) == text
    assert list(units(text, tailored=False)) == list(line_break_units(text))


# UAX #29 word boundaries; what the counter adds is told in its module.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("The quick (“brown”) fox can’t jump 32.3 feet, right?", 9),
        ("", 0),
        ("— & …", 0),
        ("e-mail", 2),
        ("Größe 42,5 cm", 3),
        ("Купить сейчас", 2),
        ("日本語", 3),
        ("한국어 문장", 2),
        ("l'heure d’été", 2),
        ("3.500 €", 1),
    ],
)
def test_words(text: str, expected: int) -> None:
    assert count_words(text) == expected
    if expected and not any("\u3000" < one < "\ua000" for one in text):
        assert sum(any(one.isalnum() for one in word) for word in uniseg_words(text)) == expected


@pytest.mark.parametrize(
    ("kinds", "rtl", "expected"),
    [  # UAX #9, rules L2, W7, N1 and N2, worked by hand
        ("LNL", False, [0, 1, 2]),
        ("RNR", False, [2, 1, 0]),
        ("RNR", True, [2, 1, 0]),
        ("RNLNL", True, [2, 3, 4, 1, 0]),
        ("LNRNRNL", False, [0, 1, 4, 3, 2, 5, 6]),
        ("RNE", True, [2, 1, 0]),
        ("LNE", True, [0, 1, 2]),
    ],
)
def test_order_of_pieces(kinds: str, rtl: bool, expected: list[int]) -> None:
    assert ordered(list(kinds), rtl) == expected


def column(least: float, most: float, fixed: bool = False, percent: float | None = None) -> Column:
    made = Column()
    made.least, made.most, made.fixed, made.percent = least, most, fixed, percent
    return made


@pytest.mark.parametrize(
    ("columns", "inner", "expected"),
    [  # CSS Tables 3 sections 4.1 and 4.3, worked by hand
        ([column(10, 100), column(10, 100)], 100, [50, 50]),
        ([column(10, 40), column(10, 160)], 110, [10 + 30 / 2, 10 + 150 / 2]),
        ([column(10, 100), column(10, 300)], 800, [200, 600]),
        ([column(20, 140, fixed=True), column(10, 500)], 300, [140, 160]),
        ([column(10, 50, percent=0.25), column(10, 50)], 200, [50, 150]),
        ([column(60, 60), column(60, 60)], 100, [60, 60]),
        ([column(10, 100, fixed=True), column(10, 300, fixed=True)], 800, [200, 600]),
    ],
)
def test_columns(columns: list[Column], inner: float, expected: list[float]) -> None:
    assert spread(columns, inner) == pytest.approx(expected)


def test_fixed_columns() -> None:
    """CSS 2.2 section 17.5.2.1."""
    assert fixed_widths([10.0, None, None], 3, 110) == [10, 50, 50]
    assert fixed_widths([(0.5,), None], 2, 200) == [100, 100]
    assert fixed_widths([50.0, 50.0], 2, 200) == [100, 100]


MAIL = """<!DOCTYPE html><html lang="en"><head><title>x</title></head>
<body style="margin:0;font-family:'Courier New';font-size:10px;line-height:20px;word-break:break-word">
<table width="100%" cellpadding="0" cellspacing="0">
<tr><td bgcolor="#ffffff"><img src="p/logo.png" width="100" style="display:block;height:auto"></td></tr>
<tr><td style="padding:10px">{copy}<table cellpadding="0" cellspacing="0"><tr><td bgcolor="#000000">
<a href="https://shop.example/sale" style="display:block;padding:12px 20px;color:#ffffff">Save 60% now</a>
</td></tr></table></td></tr>
<tr><td style="padding:0 10px"><p style="margin:0">CODE</p> <a href="https://shop.example/a#x">one</a>
<a href="https://shop.example/a">two</a> <a href="https://shop.example/b">three</a></td></tr>
</table></body></html>"""


def laid(copy: str = "", width: int = 320, **more: object) -> Layout:
    html = MAIL.replace("{copy}", copy).encode()
    return measure(parse(html), Screen(width, **more), pictures={"logo.png": (200, 80)})  # type: ignore[arg-type]


def test_a_mail_worked_by_hand() -> None:
    """Courier's letters are 1,229 / 2,048 em: 6.0009765625 px each at 10 px. Heights and paddings add up."""
    layout = laid('<p style="margin:0 0 6px">' + "word " * 30 + "</p>")
    # 300 px hold ten words of four letters and nine spaces (49 letters, 294.05 px): three lines.
    seen = readings(layout, amounts=["60%"], codes=["code"])
    assert [(one.id, one.y, one.height) for one in layout.sections] == [
        ("row-1", 0, 40),
        ("row-2", 40, 10 + 60 + 6 + 44 + 10),
        ("row-3", 170, 40),
    ]
    assert seen.texts[0].lines == 3
    assert layout.height == 210
    button = seen.main
    assert button is not None
    assert button.label == "Save 60% now"
    assert button.painted == pytest.approx((10, 116, 12 * 6.0009765625 + 40, 44), abs=0.02)
    assert button.link.at_least(44)
    assert button.fill == (0, 0, 0, 1.0)
    assert seen.main_in_first_screen
    assert seen.amount is not None
    assert (seen.amount.y, seen.amount.section) == (128, "row-2")
    assert seen.code is not None
    assert seen.code.section == "row-3"
    assert (seen.destinations, seen.destinations_before_main) == (3, 0)
    assert seen.picture_share == pytest.approx(100 * 40 / (320 * 210))
    assert seen.words == 30 + 3 + 4
    assert seen.screens == pytest.approx(210 / 844)
    assert layout.notes == ()


def test_what_lies_outside_is_told() -> None:
    cases = {
        '<div style="display:flex"><p>x</p></div>': "display: flex",
        '<p style="position:absolute">x</p>': "position: absolute",
        '<img src="unknown.png" width="20">': "sizes of some pictures",
        "<p>\u0e2a\u0e27\u0e31\u0e2a\u0e14\u0e35</p>": "no shipped font",
        "<p>one<p>two": "repairs",
        '<table><tr><td rowspan="2">x</td></tr></table>': "spans rows",
    }
    for copy, said in cases.items():
        layout = laid(copy)
        assert layout.approximate
        assert any(said in note for note in layout.notes), (copy, layout.notes)


def test_other_platforms_give_a_band() -> None:
    html = MAIL.replace("{copy}", "<p>" + "word " * 60 + "</p>").replace("Courier New", "Verdana").encode()
    low, high = band(parse(html), Screen(320, platform="ios"))
    assert low.banded
    assert low.height < high.height
    same = band(parse(MAIL.encode()), Screen(320, platform="ios"))
    assert same[0] is same[1]
    with pytest.raises(KeyError):
        measure(parse(html), Screen(320, platform="fridge"))


def test_bands_from_memory_are_marked() -> None:
    """Palatino's band was measured on its metric copy (fontconfig's aliases: P052), Verdana's was not."""
    for stack, platform, memory in (
        ("Verdana, Arial", "ios", ("verdana",)),
        ("Verdana, Arial", "android", ()),
        ("Palatino, serif", "macos", ()),
        ("-apple-system, Arial", "ios", ("-apple-system",)),
        ("-apple-system, Arial", "windows", ()),
        ("Arial", "ios", ()),
        ("monospace", "android", ("monospace",)),
    ):
        html = f'<html><head></head><body><p style="font-family:{stack}">words</p></body></html>'
        assert measure(parse(html.encode()), Screen(320, platform=platform)).remembered == memory, stack


def test_dark_rules_and_hidden_parts() -> None:
    html = (
        MAIL.replace("{copy}", '<p class="d">only dark</p><div style="display:none">never</div>')
        .replace(
            "<title>",
            "<style>.d{display:none} @media (prefers-color-scheme:dark){.d{display:block}}</style><title>",
        )
        .encode()
    )
    light = readings(measure(parse(html), Screen(320), pictures={"logo.png": (200, 80)}))
    dark = readings(measure(parse(html), Screen(320, scheme="dark"), pictures={"logo.png": (200, 80)}))
    assert "only dark" not in [one.text for one in light.texts]
    assert "only dark" in [one.text for one in dark.texts]
    assert not any("never" in one.text for one in dark.texts)
    assert dark.height > light.height


def test_boxes_are_frozen_and_nested() -> None:
    box = laid("<p>x</p>").box
    with pytest.raises(AttributeError):
        box.x = 1.0  # type: ignore[misc]
    found = [one for one in box.iter() if one.element is not None and one.element.tag == "p"]
    assert found[0].lines[0].height == 20


def test_nesting_costs_no_more_than_its_square() -> None:
    """Tables in tables around something too wide: they are laid out again only so often."""
    inner = '<img src="logo.png" width="900" style="display:block">'
    for _ in range(40):
        inner = f'<table width="100%"><tr><td style="padding:1px">{inner}</td></tr></table>'
    layout = laid(inner)
    assert layout.width == pytest.approx(900 + 40 * 2 + 20, abs=45 * 4)
    cells = '<img src="logo.png" width="900">'
    for _ in range(30):
        cells = f'<table><tr><td width="20">a</td><td>{cells}</td></tr></table>'
    assert laid(cells).width > 900


def test_what_is_nested_too_deep_is_left_out() -> None:
    layout = laid("<div>" * 3000 + "deep" + "</div>" * 3000)
    assert any("nested deeper" in note for note in layout.notes)


SHARED = (
    '<table width="100%" cellpadding="0" cellspacing="0"><tr><td style="padding:8px;vertical-align:middle">'
    '<table cellpadding="0" cellspacing="0"><tr><td><p style="margin:0;font:16px/20px Verdana">the same ☃'
    ' words in <b>every</b> mail</p></td><td><img src="a/pot.png" style="width:40%"></td></tr></table>'
    "</td></tr></table>"
)


def _mail(before: str, after: str) -> str:
    return f"<html><head></head><body><div><p>{before}</p>{SHARED}<p>{after}</p>{SHARED}</div></body></html>"


def _seen(layout: Layout) -> object:
    """All that a layout says, by places in the file."""
    places = [(one.start, one.tag, place) for one, place in layout.places.items()]
    lined = [(one.start, lines) for one, lines in layout.lined]
    return layout.height, layout.width, layout.notes, layout.banded, places, lined, layout.text_area


def test_tables_seen_before_come_out_as_if_they_were_new() -> None:
    """The oracle is the same engine without what it keeps."""
    pot, tall = {"pot.png": (80, 50)}, {"pot.png": (80, 200)}
    mails = [_mail("one", "two " * n) for n in range(1, 9)]
    kept = [
        _seen(measure(parse(mail.encode()), Screen(width), pictures=sizes))
        for mail in mails for width in (390, 320) for sizes in (pot, tall, {})
    ]  # fmt: skip
    fresh = []
    for mail in mails:
        for width in (390, 320):
            for sizes in (pot, tall, {}):
                known.forget()
                fresh.append(_seen(measure(parse(mail.encode()), Screen(width), pictures=sizes)))
    assert kept == fresh
    assert len({str(one) for one in kept}) == len(kept)  # the mails, widths and sizes do differ


def test_hostile_markup_is_measured_somehow() -> None:
    for markup in (
        "<table>" * 60,
        '<p style="width:1e30px;font-size:1e9px;line-height:-5px">x</p>',
        '<p style="letter-spacing:-50px;margin:-1e9px">words and words</p>',
        '<td width="99999999999999999999">x</td>',
        '<table><tr><td colspan="1000000">x</td></tr></table>',
        "<p>" + "x" * 20_000 + "</p>",
        '<img src="%" width="-3" height="abc">',
        "\u200d\ufe0f\u0301",
        '<div style="display:inline"><table><tr></tr></table></div>',
    ):
        layout = laid(markup)
        assert layout.height >= 0
        readings(layout)


# Markup outside what is measured exactly: what a browser would do with it and we do without.
ODD = [
    ("display:flex", "display: flex"),
    ("display:inline-grid", "display: inline-grid"),
    ("display:-webkit-box;-webkit-line-clamp:2", "-webkit-line-clamp: 2"),
    ("position:absolute;top:0", "position: absolute"),
    ("position:sticky", "position: sticky"),
    ("width:calc(100% - 20px)", "width: calc(100% - 20px)"),
    ("padding:1vw 2vh", "padding: 1vw 2vh"),
    ("font-size:clamp(12px, 4vw, 30px)", "font-size: clamp(12px, 4vw, 30px)"),
    ("width:var(--wide)", "width: var(--wide)"),
    ("min-width:max-content", "min-width: max-content"),
    ("transform:rotate(9deg)", "transform: rotate(9deg)"),
    ("columns:2", "columns: 2"),
    ("writing-mode:vertical-rl", "writing-mode: vertical-rl"),
    ("aspect-ratio:2", "aspect-ratio: 2"),
    ("hyphens:auto", "hyphens: auto"),
]


@pytest.mark.parametrize(("style", "said"), ODD)
def test_styles_that_are_not_worked_out_are_told(style: str, said: str) -> None:
    """Each is CSS that browsers act on: Flexbox 1, Grid 2, Positioned Layout 3, Values 4, Sizing 4,
    Multicol 1, Transforms 1, Writing Modes 4, Text 4."""
    html = f'<html><head></head><body><div style="{style}">some words</div></body></html>'
    layout = measure(parse(html.encode()), Screen(390))
    assert layout.approximate
    assert f"measured without {said}" in layout.notes


@pytest.mark.parametrize(
    "style", ["width:10rem", "width:72pt", "columns:auto", "zoom:1", "transform:none", "float:left;width:50%"]
)
def test_styles_that_change_nothing_or_are_worked_out_are_not_told(style: str) -> None:
    html = f'<html><head></head><body><div style="{style}">some words</div></body></html>'
    assert measure(parse(html.encode()), Screen(390)).notes == ()


@pytest.mark.parametrize(
    ("css", "said"),
    [
        ("@supports (display:grid) { p { padding: 9px } }", "rules in @supports are left out"),
        ("@layer base { p { padding: 9px } }", "rules in @layer are left out"),
        ("p:nth-child(2) { padding: 9px }", "selector not understood: p:nth-child(2)"),
        ("p::before { content: none }", "selector not understood: p::before"),
        ("a:hover { padding: 9px } @media (min-resolution: 3dppx) { p { padding: 9px } }", None),
        ("@media (-webkit-min-device-pixel-ratio: 0) and (max-width: 500px) { p { margin: 0 } }", None),
    ],
)
def test_rules_that_are_not_read_are_told(css: str, said: str | None) -> None:
    html = f"<html><head><style>{css}</style></head><body><p>words</p></body></html>"
    assert measure(parse(html.encode()), Screen(390)).notes == ((said,) if said else ())


STYLES = [
    *(style for style, _ in ODD), "float:left;width:50%", "float:right", "clear:both", "display:none",
    "display:inline-block;width:40px", "display:table", "display:table-cell", "display:inline-table",
    "width:0;padding:9999px", "margin:-40px auto", "width:120%", "max-width:10%;min-width:90%", "height:0",
    "overflow:hidden;height:1px", "white-space:pre", "white-space:nowrap", "word-break:break-all",
    "line-height:0", "font-size:0", "font:italic 700 40px/1 Georgia", "letter-spacing:-9px",
    "text-indent:-99px",
    "vertical-align:-30px", "vertical-align:top", "border:99px solid", "direction:rtl", "position:relative",
    "box-sizing:border-box;width:10px;padding:50px", "table-layout:fixed;width:100%",
    "border-collapse:collapse",
    "width:nonsense", "padding:", "min-height:100px;max-height:10px", "margin:0 auto;width:-5px",
]  # fmt: skip
TAGS = [
    "div",
    "p",
    "span",
    "a",
    "table",
    "tr",
    "td",
    "th",
    "tbody",
    "ul",
    "li",
    "h1",
    "center",
    "b",
    "font",
    "form",
    "svg",
    "input",
    "button",
    "details",
]


LEAVES = [
    "", " ", "words and words", "Donaudampfschifffahrt" * 3, "שלום 12", "一二三", "สวัสดี", "<br>", "<hr>",
    '<img src="x.png">', '<img width="40%" height="0">', "<wbr>", "&nbsp;", "\u2066a\u2069", "<p>", "</td>",
    '<img src="x.png" style="float:left;width:5000px">', "<!-- -->", "&#0;",
]  # fmt: skip
SPANS = ["", ' rowspan="3"', ' colspan="0"', ' colspan="7"', ' width="30%"', ' width="x"']


@st.composite
def markup(draw: st.DrawFn, depth: int = 0) -> str:
    if depth > 4 or draw(st.integers(0, 3)) == 0:
        return draw(st.sampled_from(LEAVES))
    tag, style = draw(st.sampled_from(TAGS)), draw(st.sampled_from(STYLES))
    span = draw(st.sampled_from(SPANS))
    inside = "".join(draw(st.lists(markup(depth + 1), max_size=3)))
    return f'<{tag} style="{style}"{span}>{inside}</{tag}>'


@settings(deadline=2000, max_examples=150)
@given(markup(), st.sampled_from([0, 320, 390, 600]))
def test_any_markup_is_measured_without_a_crash(body: str, width: int) -> None:
    """Whatever a block of the user's own holds. Sizes are numbers, and no box is of less than nothing."""
    html = f"<!DOCTYPE html><html><head></head><body>{body}</body></html>"
    layout = measure(parse(html.encode()), Screen(width))
    seen = readings(layout)
    for place in layout.places.values():
        assert all(isfinite(one) for one in place)
        assert place[2] >= 0
        assert place[3] >= 0
    assert isfinite(layout.height)
    assert layout.width >= width
    assert seen.words >= 0
