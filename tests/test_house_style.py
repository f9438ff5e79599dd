"""A brand's house style as tokens. Contrast by WCAG 2.2's relative luminance (1.4.3), worked out anew here."""

# ruff: noqa: E501 - sources and messages whole, on one line

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from tests.workspaces import BRAND, make

from handbill.base.cache import Cache
from handbill.base.errors import MistakesError, Place
from handbill.base.source import parse_yaml, plain
from handbill.brand import defaults
from handbill.brand.parts import load_brand
from handbill.brand.style import HouseStyle, StyleFaultsError, house_style
from handbill.loader import Loader
from handbill.models.brand import Brand


def style(more: str) -> HouseStyle:
    text = BRAND.partition("tones:")[0] + more
    return house_style(Brand.model_validate(plain(parse_yaml(text.encode(), "b").root)))


def faults(more: str) -> list[str]:
    with pytest.raises(StyleFaultsError) as caught:
        style(more)
    return [f"{'.'.join(way)}: {fault}" for way, fault in caught.value.faults]


def luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_plain_style_can_be_read_in_both_schemes() -> None:
    plain_style = style("")
    for dark in (False, True):
        for ink in ("title", "text", "muted", "accent", "link", "price", "was", "outline"):
            for ground in ("ground", "page", "card"):
                pair = plain_style.colour(ink, "base", dark), plain_style.colour(ground, "base", dark)
                assert contrast(*pair) >= 4.5, (ink, ground, dark)
        assert (
            contrast(
                plain_style.colour("button-label", "base", dark), plain_style.colour("button", "base", dark)
            )
            >= 4.5
        )


def test_colours_borrow_by_scheme_and_tone() -> None:
    made = style(
        "colours: {title: '#ABC', accent: {light: title, dark: '#010203'}}\ntones: {ink: {title: '#000000'}}\n"
    )
    assert made.colour("title", "base") == "#aabbcc"
    assert (made.colour("accent", "base"), made.colour("accent", "base", dark=True)) == ("#aabbcc", "#010203")
    assert made.colour("accent", "ink") == "#000000"
    assert made.tones == ("base", "ink")
    assert "accent" in made.toned
    assert "page" not in made.toned


def test_measures_on_desktop_and_phone() -> None:
    made = style("space: {side: 50, section: {desktop: 60, phone: 20}}\ncorners: {picture: 4}\n")
    assert (made.px("side"), made.px("side", phone=True)) == (50, 50)
    assert (made.px("section"), made.px("section", phone=True)) == (60, 20)
    assert made.px("corner-picture") == 4


def test_type_roles_inherit_faces_and_an_own_size_holds_on_phones() -> None:
    made = style(
        "type: {display: {face: 'Georgia, serif'}, title: {size: 50, weight: '400'}, text: {phone: {size: 15}}}\n"
    )
    assert {
        made.measures[f"{role}-face"][0] for role in ("display", "title", "feature", "name", "price")
    } == {"Georgia, serif"}
    assert made.measures["title-size"] == ("50px", "50px")
    assert made.measures["display-size"] == ("46px", "36px")
    assert made.measures["text-size"] == ("16px", "15px")
    assert made.measures["title-weight"][0] == "400"
    assert made.measures["text-tracking"][0] == "normal"


def test_a_button_is_as_high_as_it_says() -> None:
    made = style("button: {height: 60, corner: 30}\ntype: {button: {line: 20}}\n")
    assert made.px("button-pad") * 2 + made.px("button-line") == made.px("button-height") == 60
    assert made.measures["button-arc"][0] == "50%"
    assert made.vector_buttons


def test_everything_wrong_at_once() -> None:
    lines = faults(
        "colours: {titel: '#000', text: '#12', link: nothing}\ntype: {hed: {size: 20}}\nspace: {sied: 3}\ntones: {base: {title: '#000'}}\n"
    )
    for expected in (
        "colours.titel: unknown colour role titel", "colours.text: '#12' is not a colour", "colours.link: unknown colour role nothing",
        "type.hed: unknown type role hed", "space.sied: unknown measure sied", "tones.base: base is the tone of every section",
    ):  # fmt: skip
        assert any(line.startswith(expected) for line in lines), (expected, lines)


def test_one_circle_is_said_once() -> None:
    lines = [line for line in faults("colours: {title: text, text: link, link: title}\n") if "circle" in line]
    assert lines == ["colours.link: colours borrow in a circle: link → title → text → link"]


@pytest.mark.parametrize(
    ("face", "right"),
    [
        ("Georgia, 'Times New Roman', serif", True), ("sans-serif", True), ('"Gill Sans", Ärial, sans-serif', True),
        ("Arial", False), ("Arial; color: red, serif", False), ("</style>, serif", False), ("'a, serif", False),
        ("var(--x), serif", False), ("url(x), serif", False), ("a}b{, serif", False),
    ],
)  # fmt: skip
def test_font_stacks_hold_families_alone(face: str, right: bool) -> None:
    doc = plain(parse_yaml(BRAND.encode(), "b").root) | {"type": {"title": {"face": face}}}
    if right:
        assert '"' not in house_style(Brand.model_validate(doc)).measures["title-face"][0]
    else:
        with pytest.raises(ValueError, match=r"font stack|generic family"):
            Brand.model_validate(doc)


def test_every_role_has_every_token() -> None:
    made = style("")
    for role in defaults.TYPE:
        for part in ("face", "size", "line", "tracking", "weight", "style", "underline", "capitals"):
            assert f"{role}-{part}" in made.measures


def test_a_kept_brand_is_the_same_and_damage_is_a_miss(tmp_path: Path) -> None:
    make(tmp_path)

    def load() -> Any:
        return load_brand(Loader(tmp_path, Cache(tmp_path / "cache")), "orrowby", Place("x"))

    first = load()
    assert (load().brand, load().house) == (first.brand, first.house)
    for path in (tmp_path / "cache").rglob("*"):
        if path.is_file():
            path.write_bytes(path.read_bytes()[:-5] + b"xxxxx")
    assert load().house == first.house


def test_two_folders_of_one_content_are_told_apart(tmp_path: Path) -> None:
    make(tmp_path, {"brands/fell/brand.yaml": BRAND})
    loader = Loader(tmp_path, Cache(tmp_path / "cache"))
    load_brand(loader, "orrowby", Place("x"))
    with pytest.raises(MistakesError, match="lives in the folder fell"):
        load_brand(loader, "fell", Place("x"))
