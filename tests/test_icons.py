"""Built-in icons and tinted pictures against PNG (third edition), read back with Pillow and by hand."""

from __future__ import annotations

import io
import re
import struct
import zlib
from contextlib import chdir
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image
from tests.workspaces import BRAND, FOOT, HEAD, block, compile_files, make, picture

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.pictures import inspect, plan, produced
from handbill.resolve.icons import icons

ICONS = icons()
INK, NIGHT = "#b5541c", "#f4b87c"
BRAND_COLOURS = f'colours: {{accent: {{light: "{INK}", dark: "{NIGHT}"}}, title: "#123456"}}\n'


def rgba(data: bytes) -> Image.Image:
    with Image.open(io.BytesIO(data)) as image:
        return image.convert("RGBA")


def shades(data: bytes) -> set[str]:
    """The colours of all pixels that are not wholly transparent, by Pillow."""
    found = rgba(data).getcolors(96 * 96) or []
    return {"#" + bytes(colour[:3]).hex() for _count, colour in found if colour[3]}  # type: ignore[index]


def palette(data: bytes) -> set[str]:
    """The colours that a PNG's palette holds for such pixels: PLTE and tRNS (PNG, 11.2.2 and 11.3.1.1)."""
    chunks, at = {}, 8
    while at < len(data):
        length, kind = struct.unpack_from(">I4s", data, at)
        body = data[at + 8 : at + 8 + length]
        assert struct.unpack_from(">I", data, at + 8 + length) == (zlib.crc32(kind + body),)
        chunks[kind] = body
        at += 12 + length
    plte, alphas = chunks[b"PLTE"], chunks.get(b"tRNS", b"")
    entries = [plte[at : at + 3].hex() for at in range(0, len(plte), 3)]
    alpha = [*alphas, *[255] * (len(entries) - len(alphas))]
    return {"#" + colour for colour, seen in zip(entries, alpha, strict=True) if seen}


# --- the set ------------------------------------------------------------------------------------------------


def test_the_set() -> None:
    assert sorted(ICONS) == [
        "check", "clock", "drop", "gift", "hand", "heart", "leaf", "letter", "lock", "mend", "moon", "parcel",
        "phone", "return", "shop", "star", "sun", "tag", "talk", "truck",
    ]  # fmt: skip


@pytest.mark.parametrize("name", ICONS)
def test_an_icon_is_black_on_nothing_at_twice_its_size(name: str, tmp_path: Path) -> None:
    path = ICONS[name]
    data = path.read_bytes()
    assert len(data) < 1100
    assert rgba(data).size == (96, 96)
    assert shades(data) == palette(data) == {"#000000"}
    edge = rgba(data).getchannel("A").crop((0, 0, 96, 4)).getextrema()
    assert edge == (0, 0)  # air around it, so that no row of icons looks cut
    drawing = ElementTree.parse(path.parent / "art" / f"{name}.svg").getroot()
    assert drawing.get("viewBox") == "0 0 24 24"
    (group,) = drawing
    look = {key: group.get(key) for key in ("stroke-width", "stroke-linejoin", "stroke-linecap", "fill")}
    assert look == {
        "stroke-width": "1.4", "stroke-linejoin": "round", "stroke-linecap": "round", "fill": "none",
    }  # fmt: skip


# --- tinting ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [16, 36, 48])
@pytest.mark.parametrize("name", ["parcel", "hand"])
def test_a_tint_takes_every_colours_place_and_keeps_the_transparency(
    name: str, width: int, tmp_path: Path
) -> None:
    cache = Cache(tmp_path / "cache")
    source = inspect(ICONS[name], cache)
    plain = plan(source, width=width)
    tinted = plan(source, width=width, tint=INK.upper())
    data = produced(tinted, cache)
    assert shades(data) == palette(data) == {INK}
    assert rgba(data).getchannel("A").tobytes() == rgba(produced(plain, cache)).getchannel("A").tobytes()
    assert rgba(data).size == (2 * width, 2 * width)
    assert len(data) < 3000
    assert data == produced(tinted, Cache(tmp_path / "other"))


def test_many_colours_become_one(tmp_path: Path) -> None:
    drawing = Image.new("RGBA", (40, 40))
    for x in range(40):
        for y in range(40):
            drawing.putpixel((x, y), (6 * x, 6 * y, 99, min(255, 7 * y)))
    drawing.save(tmp_path / "own.png")
    cache = Cache(tmp_path / "cache")
    data = produced(plan(inspect(tmp_path / "own.png", cache), width=20, tint="#abc"), cache)
    assert shades(data) == {"#aabbcc"}
    assert rgba(data).getchannel("A").tobytes() == drawing.getchannel("A").tobytes()


def test_a_tint_is_part_of_a_pictures_name(tmp_path: Path) -> None:
    source = inspect(ICONS["star"], Cache(tmp_path))
    plans = [plan(source, width=36, tint=tint) for tint in (None, INK, NIGHT)]
    assert len({one.name for one in plans}) == len({one.key for one in plans}) == 3
    assert plans[1] == plan(source, width=36, tint=INK)


def test_a_field_of_one_colour_is_refused(tmp_path: Path) -> None:
    (tmp_path / "photo.png").write_bytes(picture())
    source = inspect(tmp_path / "photo.png", Cache(tmp_path / "cache"))
    with pytest.raises(Fault, match=r"photo\.png has no transparency"):
        plan(source, width=8, tint=INK)


# --- in a mail ----------------------------------------------------------------------------------------------

SEAL = {
    "yaml": """\
handbill: 1
block: jotting
about: A line with a seal.
fields:
  words: {type: text, required: true}
  seal: {type: picture, slot: "36", tint: accent}
""",
    "html": "{{ put_picture(seal, tone, 'fixed') }}\n<p class=\"words\">{{ words }}</p>\n",
}


def mail(root: Path, seal: str, *, tone: str = "", brand: str = BRAND_COLOURS, **parts: str) -> Path:
    section = f"  - block: jotting\n    words: A line\n{tone}    seal: {seal}\n"
    drawing = Image.new("RGBA", (72, 72))
    drawing.paste((9, 200, 9, 255), (8, 8, 64, 64))
    out = io.BytesIO()
    drawing.save(out, "PNG")
    return make(root, {
        **block(**{**SEAL, **parts}),
        "brands/orrowby/brand.yaml": BRAND + brand,
        "brands/orrowby/pictures/own.png": out.getvalue(),
        "campaigns/x.yaml": HEAD + section + FOOT,
    })  # fmt: skip


def made(root: Path) -> tuple[str, dict[str, set[str]]]:
    """The mail and, for each picture in it, the colours of a twelfth or more of what is opaque."""
    with chdir(root):
        done = compile_files(root, options=("--pictures", "relative"))
    assert done.code == 0, done.lines
    html = (root / "out/x/main/email.html").read_text("utf-8")
    folder = root / "out/x/pictures"
    return html, {path.name: main_colours(path.read_bytes()) for path in sorted(folder.glob("*.png"))}


def main_colours(data: bytes) -> set[str]:
    with Image.open(io.BytesIO(data)) as picture:
        counted = picture.convert("RGBA").getcolors(picture.width * picture.height) or []
    solid = {colour: count for count, colour in counted if isinstance(colour, tuple) and colour[3] == 255}
    whole = sum(solid.values())
    return {"#" + bytes(colour[:3]).hex() for colour, count in solid.items() if 12 * count >= whole}


def refused(root: Path) -> str:
    with chdir(root):
        done = compile_files(root)
    assert done.code == 2
    (line,) = [line for line in done.lines if line.startswith(("campaigns/", "library/", "brands/"))]
    return line


def test_an_icon_has_a_twin_for_dark_screens(tmp_path: Path) -> None:
    html, colours = made(mail(tmp_path, "parcel"))
    images = re.findall(r'<img[^>]*src="\.\./pictures/(parcel-[0-9a-f]{12}\.png)"[^>]*>', html)
    assert [{INK, NIGHT} & colours[name] for name in images] == [{INK}, {NIGHT}]
    assert "#ffffff" in colours[images[0]] - colours[images[1]]  # a rim in the colour of its ground
    assert len(re.findall(r'<img[^>]*pictures/parcel[^>]*alt=""', html)) == 2  # says nothing of its own


def test_one_picture_where_both_schemes_agree(tmp_path: Path) -> None:
    same = f'colours: {{accent: "{INK}", ground: "#ffffff"}}\n'
    html, colours = made(mail(tmp_path, "parcel", brand=same))
    assert html.count("pictures/parcel-") == 1
    assert list(colours.values()) == [{INK, "#ffffff"}]


def test_an_icon_follows_the_tone(tmp_path: Path) -> None:
    root = mail(tmp_path, "parcel", tone="    tone: ink\n", brand="")
    file = root / "brands/orrowby/brand.yaml"
    file.write_text(file.read_text("utf-8").replace("  ink: {", '  ink: {accent: "#00ff00", '), "utf-8")
    assert all("#00ff00" in colours for colours in made(root)[1].values())


def test_a_shops_own_drawing_is_tinted_only_when_asked(tmp_path: Path) -> None:
    plain = made(mail(tmp_path / "a", "{file: own.png, decorative: true}"))[1]
    assert list(plain.values()) == [{"#09c809"}]
    tinted = made(mail(tmp_path / "b", "{file: own.png, decorative: true, tint: true}"))[1]
    assert sorted(sorted({INK, NIGHT, "#09c809"} & colours) for colours in tinted.values()) == [
        [INK],
        [NIGHT],
    ]


def test_a_linked_icon_says_where_it_leads(tmp_path: Path) -> None:
    html, _colours = made(mail(tmp_path / "a", "{file: star, link: /new, alt: What is new}"))
    assert 'alt="What is new"' in html
    line = refused(mail(tmp_path / "b", "{file: star, link: /new}"))
    assert line.startswith("campaigns/x.yaml:11:")
    assert line.endswith("star has no alt text; expected alt: where the link leads")


@pytest.mark.parametrize(
    ("written", "near"), [("parcle", "parcel"), ("Heart", "heart"), ("trukc", "truck"), ("own", "own.png")]
)
def test_an_unknown_icon_names_the_nearest(tmp_path: Path, written: str, near: str) -> None:
    line = refused(mail(tmp_path, written))
    assert line.startswith(f"campaigns/x.yaml:11:11: stack[1] jotting, seal: no built-in icon {written}; ")
    assert line.endswith(f"or a picture file with its ending; nearest: {near}")


@pytest.mark.parametrize("written", ["/etc/passwd", "art/star", "a b"])
def test_an_icon_is_no_path(tmp_path: Path, written: str) -> None:
    assert f"no built-in icon {written};" in refused(mail(tmp_path, written))


def test_an_icon_is_not_stretched(tmp_path: Path) -> None:
    wide = SEAL["yaml"].replace('"36"', "inset")
    assert "drawn for 48 px at most: it would be 520 px wide" in refused(mail(tmp_path, "sun", yaml=wide))


def test_a_block_names_a_role_that_exists(tmp_path: Path) -> None:
    wrong = SEAL["yaml"].replace("tint: accent", "tint: acent")
    line = refused(mail(tmp_path, "sun", yaml=wrong))
    assert line.startswith("library/blocks/jotting/block.yaml:6:")
    assert "no colour role acent" in line
    assert line.endswith("nearest: accent")


def test_only_a_picture_has_a_tint(tmp_path: Path) -> None:
    wrong = SEAL["yaml"].replace("words: {type: text,", "words: {type: text, tint: accent,")
    assert "only a picture has a tint" in refused(mail(tmp_path, "sun", yaml=wrong))


def test_social_links_may_have_icons(tmp_path: Path) -> None:
    social = BRAND_COLOURS + "social: [{label: Talk to us, link: /talk, icon: talk}]\n"
    html, colours = made(mail(tmp_path / "a", "sun", brand=social))
    images = re.findall(r'<img[^>]*src="\.\./pictures/(talk-[0-9a-f]{12}\.png)"[^>]*alt="Talk to us"', html)
    assert "#123456" in colours[images[0]]  # as the links of the navigation
    line = refused(mail(tmp_path / "b", "sun", brand=social.replace("icon: talk", "icon: tak")))
    assert line.startswith("brands/orrowby/brand.yaml:15:")
    assert line.endswith("nearest: talk")


def test_points_are_drawn_or_counted(tmp_path: Path) -> None:
    points = """\
  - block: selling-points
    columns: even
    points:
      - {icon: parcel, words: Sent in two days}
      - {figure: "60", words: days to return it}
"""
    root = make(tmp_path, {"campaigns/x.yaml": HEAD + points + FOOT})
    html, _colours = made(root)
    assert html.count("pictures/parcel-") == 2
    assert re.search(r"<p[^>]*>60</p>\s*<p[^>]*>days to return it</p>", html)
    assert "- 60 days to return it" in (root / "out/x/main/email.txt").read_text("utf-8")
