"""The colours a product comes in: by value, by name, by its shot; shown, told, and set apart from the ground.

Against: CSS Color 4 section 6.1 (names) by tinycss2, OKLab by coloraide, WCAG 2.2 SC 1.4.11 (3:1).
"""

from __future__ import annotations

import csv
import io
import json
import re
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from coloraide import Color
from PIL import Image, ImageDraw
from tinycss2.color4 import parse_color

from handbill.colour.words import named
from handbill.pictures.pixels import upright
from handbill.pictures.sampled import groups, shot_colour

DEMO = Path(__file__).resolve().parents[1] / "demo" / "brands"
STACK = (
    "  - block: product-stack\n    title: Lamps\n    products: [L-100]\n    button: {label: Look, link: /a}\n"
)
STRIP = "  - block: product-strip\n    title: Lamps\n    show_swatches: true\n    products: [L-100, L-200]\n"
PRODUCTS = "brands/pellow/products.csv"
BEFORE = "brass:#c8a04a;black:#101010"
ROW = re.compile(r'role="img" aria-label="Colours?: ([^"]+)".*?</div>\n</div>', re.DOTALL)
SWATCH = re.compile(r'style="([^"]*width:16px;height:16px[^"]*background-color:(#\w+))"')


def swatches(made: Any) -> list[tuple[str, str]]:
    """Names and colours as the HTML shows them; a row's names are told as one."""
    found = []
    for row in ROW.finditer(made.built.html.decode()):
        names = re.split(", | and ", unescape(row[1]))
        found += zip(names, [colour for _style, colour in SWATCH.findall(row[0])], strict=True)
    return found


def apart(one: str, other: str) -> float:
    return float(Color(one).distance(other, space="oklab")) * 100


def test_values_and_names_become_swatches_and_words(shop: Any) -> None:
    shop.change(PRODUCTS, BEFORE, "brass:#C8A04A; Light Blue; oat; noir:schwarz; 黒; أزرق")
    brand = (shop.root / "brands/pellow/brand.yaml").read_text("utf-8")
    shop.put("brands/pellow/brand.yaml", brand + 'swatches: {Oat: "#E8DCC9"}\n')
    made = shop.compile(STACK)
    assert swatches(made) == [
        ("brass", "#c8a04a"), ("Light Blue", "#add8e6"), ("oat", "#e8dcc9"), ("noir", "#000000"),
        ("黒", "#000000"), ("أزرق", "#0000ff"),
    ]  # fmt: skip
    assert "Colours: brass, Light Blue, oat, noir, 黒 and أزرق" in made.built.text.decode()


def test_a_json_catalogue_lists_names_and_colours(shop: Any) -> None:
    row = {
        "sku": "L-100", "name": "Wren", "price": "40", "link": "/a", "picture": "wren.png", "alt": "A lamp",
        "colours": [
            "navy", {"name": "oat", "colour": "#e8dcc9"}, {"name": "grün"}, {"name": "x", "colour": "red"},
        ],
    }  # fmt: skip
    shop.put("brands/pellow/products.json", json.dumps([row]))
    shop.change(
        "brands/pellow/brand.yaml", "products: {file: products.csv}", "products: {file: products.json}"
    )
    assert swatches(shop.compile(STACK)) == [
        ("navy", "#000080"), ("oat", "#e8dcc9"), ("grün", "#008000"), ("x", "#ff0000"),
    ]  # fmt: skip


def test_the_shops_names_may_differ_by_language(shop: Any) -> None:
    shop.change(PRODUCTS, BEFORE, "hafer")
    shop.put("brands/pellow/texts/de-DE.yaml", 'handbill: 1\nswatches: {Hafer: "#e8dcc9"}\n')
    (line,) = shop.mistakes(STACK)
    assert "'hafer' is not a colour of a product" in line
    german = shop.compile(STACK, "language: de-DE").built.html.decode()
    assert 'aria-label="Farbe: hafer"' in german
    assert [colour for _style, colour in SWATCH.findall(german)] == ["#e8dcc9"]


@pytest.mark.parametrize("name", ["navy", "rebeccapurple", "light goldenrod yellow", "Slate-Grey", "PERU"])
def test_names_are_those_of_css(name: str) -> None:
    colour = parse_color(re.sub("[ -]", "", name))
    levels = [round(255 * one) for one in colour.coordinates]
    assert named(name, {}) == "#" + bytes(levels).hex()


def test_the_shops_own_names_come_first() -> None:
    assert named("Navy", {"navy": "#123456"}) == "#123456"
    assert named("nocolour", {"navy": "#123456"}) is None


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (
            "oatmeel",
            "'oatmeel' is not a colour of a product; expected name:#rrggbb, a named colour, or name:shot",
        ),
        ("brass:#12", "'brass:#12' is not a colour of a product"),
        (":#123456", "':#123456' is not a colour of a product"),
        ("blau:bluu", "'blau:bluu' is not a colour of a product"),
    ],
)
def test_an_unknown_colour_is_one_line_at_its_cell(shop: Any, written: str, said: str) -> None:
    shop.change(PRODUCTS, BEFORE, written)
    (line,) = shop.mistakes(STACK)
    assert line.startswith(f"{PRODUCTS}:2:")
    assert said in line
    if written == "blau:bluu":
        assert line.endswith("nearest: blu")


def enamel(colour: str, ground: str = "#f4f4f2") -> bytes:
    """A round pot with a small dark knob and a lit side, on a plain ground."""
    picture = Image.new("RGB", (400, 400), ground)
    draw = ImageDraw.Draw(picture)
    for step in range(60):  # darker to the left, by a fifth at most
        share = 0.8 + 0.2 * step / 59
        levels = tuple(round(255 * one * share) for one in Color(colour).coords())
        draw.ellipse((100 + step, 130, 300, 330), fill=levels)
    draw.ellipse((185, 100, 215, 130), fill="#202020")
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize("colour", ["#283b5d", "#b35838", "#3c5a54", "#d9b23c"])
def test_a_shot_gives_the_colour_of_its_thing(shop: Any, colour: str) -> None:
    shop.put("brands/pellow/pictures/wren.png", enamel(colour))
    shop.change(PRODUCTS, BEFORE, "its own:shot")
    made = shop.compile(STACK)
    ((name, found),) = swatches(made)
    assert name == "its own"
    assert apart(found, colour) < 8
    assert apart(found, colour) < apart(found, "#f4f4f2")


# The demo's shots whose thing is mostly of the first colour that the catalogue names for it, by eye.
PLAIN = {"K-210": 7, "P-260": 5, "K-180": 7, "F-075": 5, "P-420": 5, "T-060": 5}


@pytest.mark.parametrize("sku", PLAIN)
def test_shots_come_near_what_their_painter_wrote(sku: str) -> None:
    """OKLab difference times 100; side by side about 2 is seen, and shades of one thing differ by more."""
    rows = csv.DictReader((DEMO / "orrowby" / "products.csv").read_text("utf-8").splitlines())
    row = next(one for one in rows if one["Code"] == sku)
    found = shot_colour(upright((DEMO / "orrowby" / row["Picture"]).read_bytes()))
    assert apart(found, row["Colours"].split(";")[0].rpartition(":")[2]) < PLAIN[sku]


def test_a_shot_without_a_plain_backdrop_is_told_at_its_row(shop: Any) -> None:
    plant = (DEMO / "quillfern" / "pictures" / "plant-coin.jpg").read_bytes()
    shop.put("brands/pellow/pictures/wren.png", plant)
    shop.change(PRODUCTS, BEFORE, "green:shot")
    (line,) = shop.mistakes(STACK)
    assert line.startswith(f"{PRODUCTS}:2:1: product L-100, colours: picture wren.png has no plain backdrop")


def test_groups_are_the_same_whatever_the_order() -> None:
    """k-means by itself hangs on where it begins; ours begins at the most frequent colour."""
    import numpy as np

    from handbill.pictures.colour import lab_of

    levels = np.array([[200, 30, 30]] * 70 + [[20, 40, 200]] * 25 + [[250, 250, 250]] * 5)
    found, again = groups(lab_of(levels)), groups(lab_of(levels[::-1]))
    assert found == again
    assert [(one.colour, round(one.share, 2)) for one in found] == [
        ("#c81e1e", 0.7), ("#1428c8", 0.25), ("#fafafa", 0.05),
    ]  # fmt: skip
    assert abs(found[0].hue - Color("#c81e1e").convert("oklch")["hue"]) < 0.5


def test_a_block_shows_them_where_it_is_asked_to(shop: Any) -> None:
    shown = shop.compile(STRIP)
    assert [name for name, _ in swatches(shown)] == ["brass", "black"]
    assert "Colours: brass and black" in shown.built.text.decode()
    for stack in (STRIP.replace("    show_swatches: true\n", ""), STACK + "    show_swatches: false\n"):
        hidden = shop.compile(stack)
        assert not swatches(hidden)
        assert "Colours:" not in hidden.built.text.decode()


@pytest.mark.parametrize("tone", ["base", "night"])
def test_white_shows_on_white_and_black_on_black(shop: Any, tone: str) -> None:
    """WCAG 2.2 SC 1.4.11: the fill, or the line around it, has 3:1 to what is beside it."""
    shop.change(PRODUCTS, BEFORE, "white;black;grey:#777777")
    brand = (shop.root / "brands/pellow/brand.yaml").read_text("utf-8")
    night = '\ntones:\n  night: {ground: "#101418", text: "#f0f0f0", title: "#ffffff", muted: "#b0b8c0"}\n'
    shop.put("brands/pellow/brand.yaml", brand + night)
    made = shop.compile(STACK + (f"    tone: {tone}\n" if tone != "base" else ""))
    ground = made.mail.library.house.colour("ground", tone)
    styles = [style for style, _colour in SWATCH.findall(made.built.html.decode())]
    assert len(styles) == 3
    for style in styles:
        fill, line = (
            re.findall(rf"{what}:[^;]*?(#\w{{6}})", style)[-1] for what in ("background-color", "border")
        )
        assert max(Color(one).contrast(ground, method="wcag21") for one in (fill, line)) >= 3
