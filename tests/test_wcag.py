"""WCAG 2.2's numbers on the code that preflight judges by. Rows are those of the published check values; each
figure is the standard's formula, worked out by hand or by coloraide."""

from __future__ import annotations

import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st
from tests.breaking import marked_up, outcome

from handbill.colour.dark import WAYS, shown
from handbill.colour.oklab import from_rgb, to_rgb
from handbill.colour.srgb import (
    GRAPHIC,
    TEXT,
    Rgb,
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

WHITE, BLACK = (255, 255, 255), (0, 0, 0)
CHANNELS = st.tuples(*[st.integers(0, 255)] * 3)


@pytest.mark.parametrize(("level", "light"), [(0, 0), (10, 0.003035), (11, 0.003347), (119, 0.184475)])
def test_linear_light(level: int, light: float) -> None:
    """W01 and C01: the bend lies between levels 10 and 11, by the old constant 0.03928 too."""
    assert linear(level) == pytest.approx(light, abs=5e-7)
    old = level / 255
    old = old / 12.92 if old <= 0.03928 else ((old + 0.055) / 1.055) ** 2.4
    assert linear(level) == old


@pytest.mark.parametrize(("light", "value"), [(0.18, 0.461356), (0.5, 0.735357)])
def test_encoded_light(light: float, value: float) -> None:
    """C02, IEC 61966-2-1."""
    assert encoded(light) == pytest.approx(value, abs=5e-7)


@pytest.mark.parametrize(
    ("ground", "figures"),
    [
        # W05 and W06
        (
            "#fff",
            "#000 21.00 #333 12.63 #595959 7.00 #5a5a5a 6.90 #666 5.74 #757575 4.61 #767676 4.54 #777 4.48 "
            "#808080 3.95 #949494 3.03 #999 2.85 #00f 8.59 #00e 9.40 #008000 5.14 #b22222 6.68 #1e90ff 3.24 "
            "#ff8c00 2.33 #ff0 1.07",
        ),
        # W07
        ("#000", "#757575 4.56 #747474 4.49 #00f 2.44"),
        ("#00f", "#f00 2.15"),
        ("#121212", "#fff 18.73"),
    ],
)
def test_published_ratios(ground: str, figures: str) -> None:
    words = figures.split()
    found = {word: contrast(rgb(word), rgb(ground)) for word in words[::2]}
    assert found == {
        word: pytest.approx(float(ratio), abs=0.005) for word, ratio in zip(*[iter(words)] * 2, strict=True)
    }


def test_traps_of_rounding() -> None:
    """W04 and W08: what prints as enough is not, and is not printed as enough either."""
    assert contrast(rgb("#f00"), WHITE) == pytest.approx(3.9985, abs=5e-5)
    grey = contrast(rgb("#959595"), WHITE)
    assert grey == pytest.approx(2.9953, abs=5e-5)
    assert grey < GRAPHIC
    assert as_ratio(grey) == "2.99:1"
    assert as_ratio(4.499) == "4.49:1"
    assert contrast(BLACK, WHITE) == 21  # W02


@pytest.mark.parametrize(
    ("alpha", "grey", "ratio"), [(0.54, "#757575", 4.61), (0.6, "#666666", 5.74), (0.38, "#9e9e9e", 2.68)]
)
def test_alpha_is_laid_over_first(alpha: float, grey: str, ratio: float) -> None:
    """W10."""
    ink = parse(f"rgba(0, 0, 0, {alpha})")
    assert ink is not None
    found = over(ink, WHITE)
    assert written(found) == grey
    assert contrast(found, WHITE) == pytest.approx(ratio, abs=0.005)


def test_large_text() -> None:
    """W03 and W11: 18 pt are 24 px; 14 pt bold are 18.67 px."""
    assert (needed(16, 400), needed(23.99, 400), needed(24, 400)) == (TEXT, TEXT, 3.0)
    assert (is_large(18.66, 700), is_large(18.67, 700), is_large(18.67, 600)) == (False, True, False)


@given(CHANNELS, CHANNELS)
def test_contrast_as_another_library_has_it(one: Rgb, other: Rgb) -> None:
    """W09: coloraide's matrix has digits that WCAG's has not, so two decimals agree."""
    first, second = (Color("srgb", [level / 255 for level in levels]) for levels in (one, other))
    assert contrast(one, other) == pytest.approx(first.contrast(second, method="wcag21"), rel=1e-3)
    assert 0 <= luminance(one) <= 1


@given(CHANNELS)
def test_lightness_turned_round_as_another_library_has_it(one: Rgb) -> None:
    """C04 to C06 by coloraide; C10: inverted twice, a colour is about as light as it was."""
    theirs = Color("srgb", [level / 255 for level in one]).convert("oklab").coords()
    assert from_rgb(one) == pytest.approx(theirs, abs=1e-4)
    assert to_rgb(from_rgb(one)) == one


@pytest.mark.parametrize("way", WAYS)
def test_white_paper_in_the_three_ways(way: str) -> None:
    """C10, common practice: black on white stays readable in each, and only `none` leaves it alone."""
    ink, ground = shown(BLACK, WHITE, way)  # type: ignore[arg-type]
    assert contrast(ink, ground) >= TEXT
    assert (luminance(ground) < 0.05) == (way != "none")
    assert shown(WHITE, BLACK, "partial") == (WHITE, BLACK)


AIM = "https://orrowby.example/sale?from=letter&amp;letter=winter-last-call&amp;part=top"
LINK = f'<a href="{AIM}" style="{{}}">{{}}</a>'


def _links(*styles: str, around: str = "") -> set[str]:
    """Rules that speak when these links stand under the headline, one a line."""
    links = "<br>".join(
        LINK.format(f"color:#fbf1e0;{style}", f"See it {n}") for n, style in enumerate(styles)
    )
    old = "Gone by sunrise.</h1>"
    made = f'{old}<p style="margin:0;font:13px/13px Arial;color:#fbf1e0">{around}{links}</p>'
    found = outcome(marked_up("orrowby", old, made), {"target-size"}).findings
    return {one.rule for one in found}


def test_small_targets_and_their_exceptions() -> None:
    """W12, SC 2.5.8: 24 by 24 px, or circles of 24 px that do not meet, or in a sentence."""
    assert _links("", "") == {"target-size"}
    assert _links("display:inline-block;line-height:24px", "display:inline-block;line-height:24px") == set()
    assert (
        _links(
            "", "", around="Words that are no link, more than there are in it, stand in the same paragraph: "
        )
        == set()
    )
    assert _links("display:inline-block;margin-bottom:30px", "") == set()
