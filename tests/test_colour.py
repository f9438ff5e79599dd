"""Colours and contrast, against published values and coloraide.

Sources: WCAG 2.2, definitions of relative luminance and contrast ratio (rows W01 to W11 of the values there);
IEC 61966-2-1; CSS Color 4; B. Ottosson's table for OKLab (from memory, confirmed by coloraide).
"""

from __future__ import annotations

import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st

from handbill.colour.dark import WAYS, inverted, shown
from handbill.colour.names import NAMES
from handbill.colour.oklab import from_rgb, to_rgb
from handbill.colour.srgb import (
    as_ratio,
    contrast,
    encoded,
    is_large,
    linear,
    luminance,
    needed,
    over,
    parse,
    rgb,
    written,
)

CHANNELS = st.tuples(*[st.integers(0, 255)] * 3)
WHITE, BLACK = (255, 255, 255), (0, 0, 0)


@pytest.mark.parametrize(
    ("ink", "ground", "ratio"),
    [
        # on white: W05, W06
        ("#000", "#fff", 21.00), ("#333", "#fff", 12.63), ("#595959", "#fff", 7.00),
        ("#5a5a5a", "#fff", 6.90),
        ("#666", "#fff", 5.74), ("#757575", "#fff", 4.61), ("#767676", "#fff", 4.54), ("#777", "#fff", 4.48),
        ("#808080", "#fff", 3.95), ("#949494", "#fff", 3.03), ("#999", "#fff", 2.85),
        ("#00f", "#fff", 8.59), ("#00e", "#fff", 9.40), ("#008000", "#fff", 5.14), ("#b22222", "#fff", 6.68),
        ("#1e90ff", "#fff", 3.24), ("#ff8c00", "#fff", 2.33), ("#ff0", "#fff", 1.07),
        # on black, and between: W07
        ("#757575", "#000", 4.56), ("#747474", "#000", 4.49), ("#00f", "#000", 2.44), ("#f00", "#00f", 2.15),
        ("#fff", "#121212", 18.73),
    ],
)  # fmt: skip
def test_contrast_is_as_published(ink: str, ground: str, ratio: float) -> None:
    assert contrast(rgb(ink), rgb(ground)) == pytest.approx(ratio, abs=0.005)
    assert contrast(rgb(ink), rgb(ground)) == contrast(rgb(ground), rgb(ink))


def test_nothing_is_rounded_before_it_is_compared() -> None:
    """W04, W08: 3.9985 and 2.9953 print as 4.00 and 3.00 and do not reach them; ours print what they do."""
    red, grey = contrast(rgb("#f00"), WHITE), contrast(rgb("#959595"), WHITE)
    assert (round(red, 2), round(grey, 2)) == (4.00, 3.00)
    assert red < 4
    assert grey < 3
    assert (as_ratio(red), as_ratio(grey), as_ratio(21.0)) == ("3.99:1", "2.99:1", "21.00:1")


@given(CHANNELS, CHANNELS)
def test_contrast_agrees_with_coloraide(one: tuple[int, int, int], other: tuple[int, int, int]) -> None:
    """W09: coloraide's luminance has more digits; the two agree to two decimals of the ratio, relative."""
    theirs = Color(written(one)).contrast(Color(written(other)), method="wcag21")
    assert contrast(one, other) == pytest.approx(theirs, rel=2e-3)


def test_alpha_is_laid_over_first() -> None:
    """W10."""
    for alpha, grey, ratio in ((0.54, "#757575", 4.61), (0.6, "#666666", 5.74), (0.38, "#9e9e9e", 2.68)):
        colour = parse(f"rgba(0, 0, 0, {alpha})")
        assert colour is not None
        laid = over(colour, WHITE)
        assert written(laid) == grey
        assert contrast(laid, WHITE) == pytest.approx(ratio, abs=0.005)


def test_large_text_needs_less() -> None:
    """W03 and W11: 18 pt is 24 px; 14 pt is 18.67 px, and has to be bold."""
    assert [needed(size, 400) for size in (16, 23.99, 24)] == [4.5, 4.5, 3.0]
    assert [is_large(size, 700) for size in (18.66, 18.67, 19)] == [False, True, True]
    assert not is_large(20, 400)


def test_the_transfer_curve_is_the_standards() -> None:
    """C01 and C02."""
    for level, light in (
        (0, 0),
        (10, 0.003035),
        (11, 0.003347),
        (119, 0.184475),
        (128, 0.215861),
        (188, 0.502886),
    ):
        assert linear(level) == pytest.approx(light, abs=5e-7)
    assert encoded(0.18) == pytest.approx(0.461356, abs=5e-7)
    assert encoded(0.5) == pytest.approx(0.735357, abs=5e-7)
    assert (luminance(BLACK), luminance(WHITE)) == (0, pytest.approx(1))


def test_the_named_colours_are_all_there() -> None:
    """C03, CSS Color 4 section 6.1."""
    assert len(NAMES) == 148
    assert len(set(NAMES.values())) == 139
    known = {"tomato": "#ff6347", "papayawhip": "#ffefd5", "lightgoldenrodyellow": "#fafad2",
             "darkolivegreen": "#556b2f", "rebeccapurple": "#663399", "gray": "#808080",
             "grey": "#808080"}  # fmt: skip
    assert {name: NAMES[name] for name in known} == known
    reprinted = {"mediumpurple": "#9370db", "palevioletred": "#db7093"}  # older tables have them otherwise
    assert {name: NAMES[name] for name in reprinted} == reprinted
    for name, value in NAMES.items():
        assert name in reprinted or Color(name).convert("srgb").to_string(hex=True) == Color(value).to_string(
            hex=True
        )


@pytest.mark.parametrize(
    ("text", "colour"),
    [
        ("#1a2", (17, 170, 34, 1.0)), ("#1A2335", (26, 35, 53, 1.0)), ("#0000", (0, 0, 0, 0.0)),
        ("#ffffff80", (255, 255, 255, 128 / 255)), ("rgb(1, 2, 3)", (1, 2, 3, 1.0)),
        ("RGB(1 2 3 / 50%)", (1, 2, 3, 0.5)),
        ("rgb(100%, 0%, 50%)", (255, 0, 128, 1.0)), ("transparent", (0, 0, 0, 0.0)),
        ("Tomato", (255, 99, 71, 1.0)),
        ("rgb(300, -4, 0)", (255, 0, 0, 1.0)), ("#12", None), ("hsl(0 0% 0%)", None), ("", None),
        ("inherit", None),
    ],
)  # fmt: skip
def test_colours_are_read(text: str, colour: tuple[int, int, int, float] | None) -> None:
    assert parse(text) == colour


def test_oklab_is_as_published() -> None:
    """C05 (coloraide): OKLab of sRGB's corners."""
    for name, lab in (
        ("red", (0.62796, 0.22486, 0.12585)), ("lime", (0.86644, -0.23389, 0.17950)),
        ("blue", (0.45201, -0.03246, -0.31153)),
    ):  # fmt: skip
        assert from_rgb(rgb(name)) == pytest.approx(lab, abs=2e-5)
    assert from_rgb(rgb("#767676"))[0] == pytest.approx(0.5658, abs=5e-5)  # C06


@given(CHANNELS)
def test_oklab_there_and_back_is_the_same_colour(colour: tuple[int, int, int]) -> None:
    assert from_rgb(colour) == pytest.approx(Color(written(colour)).convert("oklab").coords(), abs=2e-5)
    assert max(abs(a - b) for a, b in zip(to_rgb(from_rgb(colour)), colour, strict=True)) <= 1


@given(CHANNELS)
def test_inversion_turns_lightness_round_and_keeps_the_hue(colour: tuple[int, int, int]) -> None:
    """C10 (common practice): the lightness-inverted pair is looked at beside the pair itself."""
    light, a, b = from_rgb(colour)
    turned, a2, b2 = from_rgb(inverted(colour))
    assert turned == pytest.approx(1 - 0.8 * light, abs=0.02)
    if max(abs(a2), abs(b2)) > 0.03:  # hue is undefined near grey
        assert (a * b2 - b * a2) / ((a * a + b * b) ** 0.5 * (a2 * a2 + b2 * b2) ** 0.5) == pytest.approx(
            0, abs=0.15
        )


def test_the_ways_of_dark_screens() -> None:
    assert WAYS == ("none", "partial", "full")
    assert shown(BLACK, WHITE, "none") == (BLACK, WHITE)
    ink, ground = shown(BLACK, WHITE, "partial")
    assert luminance(ink) > luminance(ground)
    assert contrast(ink, ground) > 10
    # what is dark already stays in the partial way, and becomes light in the full one
    assert shown(WHITE, (18, 27, 46), "partial") == (WHITE, (18, 27, 46))
    ink, ground = shown(WHITE, (18, 27, 46), "full")
    assert luminance(ink) < luminance(ground)
    # light text on a light ground is no worse than before in the partial way
    assert shown((255, 220, 0), WHITE, "partial")[0] == (255, 220, 0)
