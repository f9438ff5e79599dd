"""Colour arithmetic against coloraide and published rows: sRGB (IEC 61966-2-1), OKLab (Ottosson 2020, CSS
Color 4), CIE differences (Sharma 2005) as coloraide has them, WCAG 2.2 contrast.
"""

from __future__ import annotations

import numpy as np
import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st

from handbill.pictures import colour, study

LEVELS = st.tuples(*[st.integers(0, 255)] * 3)


@pytest.mark.parametrize(
    ("level", "light"),
    [(0, 0.0), (10, 0.003035), (11, 0.003347), (119, 0.184475), (128, 0.215861), (188, 0.502886)],
)
def test_levels_to_light(level: int, light: float) -> None:
    """Row C01, IEC 61966-2-1."""
    assert float(colour.light_of(level)) == pytest.approx(light, abs=5e-7)
    assert float(colour.linear(level / 255)) == pytest.approx(light, abs=5e-7)


@pytest.mark.parametrize(("light", "value"), [(0.18, 0.461356), (0.5, 0.735357)])
def test_light_to_levels(light: float, value: float) -> None:
    """Row C02, IEC 61966-2-1."""
    assert float(colour.srgb(light)) == pytest.approx(value, abs=5e-7)


def test_every_level_survives_the_way_there_and_back() -> None:
    levels = np.arange(256)
    back = colour.srgb(colour.light_of(levels)) * 255
    assert np.abs(back - levels).max() < 1e-9
    grid = np.stack(np.meshgrid(*[np.arange(0, 256, 15)] * 3), axis=-1).reshape(-1, 3)
    again = colour.srgb(colour.from_oklab(colour.lab_of(grid))) * 255
    assert np.abs(again - grid).max() < 1e-6


@pytest.mark.parametrize("name", ["tomato", "papayawhip", "lightgoldenrodyellow", "darkolivegreen", "grey"])
def test_named_colours(name: str) -> None:
    """Row C03, CSS Color 4: the names' values by coloraide; hex there and back."""
    text = Color(name).convert("srgb").to_string(hex=True)
    assert colour.hex_of(colour.levels_of(text)) == text


@pytest.mark.parametrize(
    ("text", "lab"),
    [
        ("#ff0000", (0.62796, 0.22486, 0.12585)),
        ("#00ff00", (0.86644, -0.23389, 0.17950)),
        ("#0000ff", (0.45201, -0.03246, -0.31153)),
    ],
)
def test_primaries_in_oklab(text: str, lab: tuple[float, ...]) -> None:
    """Row C05; C06 by the same figures in polar form."""
    found = colour.lab_of(np.array(colour.levels_of(text)))
    assert found == pytest.approx(lab, abs=2e-5)
    polar = Color(text).convert("oklch")
    assert float(np.hypot(found[1], found[2])) == pytest.approx(polar["chroma"], abs=2e-5)
    assert float(np.degrees(np.arctan2(found[2], found[1])) % 360) == pytest.approx(polar["hue"], abs=0.01)


@pytest.mark.parametrize(
    ("xyz", "lab"),
    [
        ((0.950, 1.0, 1.089), (1.0, 0.0, 0.0)),
        ((1.0, 0.0, 0.0), (0.450, 1.236, -0.019)),
        ((0.0, 1.0, 0.0), (0.922, -0.671, 0.263)),
        ((0.0, 0.0, 1.0), (0.153, -1.415, -0.449)),
    ],
)
def test_ottossons_table(xyz: tuple[float, ...], lab: tuple[float, ...]) -> None:
    """Row C04: his table of XYZ and OKLab; coloraide turns XYZ into linear sRGB, we do the rest."""
    light = Color("xyz-d65", xyz).convert("srgb-linear").coords()
    assert colour.oklab(np.array(light)) == pytest.approx(lab, abs=2e-3)


@given(LEVELS, LEVELS)
def test_any_pair_as_coloraide_has_it(one: tuple[int, ...], other: tuple[int, ...]) -> None:
    """OKLab and its Euclidean distance (CSS Color 4), and WCAG 2.2 contrast, to coloraide's own
    arithmetic."""
    first, second = (Color("srgb", [level / 255 for level in levels]) for levels in (one, other))
    mine = colour.lab_of(np.array([one, other]))
    assert mine[0] == pytest.approx(first.convert("oklab").coords(), abs=2e-6)
    distance = float(colour.difference(mine[0], mine[1]))
    assert distance == pytest.approx(100 * first.delta_e(second, method="ok"), abs=1e-3)
    ratio = float(colour.contrast(*colour.luminance(colour.light_of(np.array([one, other])))))
    # row W09: its matrix has four digits
    assert ratio == pytest.approx(first.contrast(second, method="wcag21"), abs=5e-3)


def test_contrast_without_numpy_is_the_same() -> None:
    """Rows W08: #f00 on white prints 4.00 and is 3.9985; #959595 prints 3.00 and fails 3:1."""
    for text, ratio in (("#ff0000", 3.9985), ("#959595", 2.9953)):
        under = study.Under((study.luminance("#ffffff"),), "#ffffff")
        assert under.contrast(text)[0] == pytest.approx(ratio, abs=5e-5)
        light = colour.light_of(np.array([colour.levels_of(text), (255, 255, 255)]))
        assert float(colour.contrast(*colour.luminance(light))) == pytest.approx(ratio, abs=5e-5)
