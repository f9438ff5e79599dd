"""What kind of file a picture becomes, and how heavy it may be.

Sources: the signatures of T.81 (B.1.1.3: SOI), PNG (5.2) and GIF89a (17); GIF89a 23, a pixel is there or not;
pixels read back with Pillow, mixed by hand as Porter and Duff's `over` has it.
"""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw
from skimage import data as open_pictures
from tests.gif_blocks import blocks
from tests.test_wishes import compiled, hero, png, refused, work
from tests.workspaces import BRAND, WORKSPACE

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.pictures import inspect, plan, produced
from handbill.pictures.asked import Asked
from handbill.pictures.lighter import within

SIGNATURES = {"jpg": b"\xff\xd8\xff", "png": b"\x89PNG\r\n\x1a\n", "gif": b"GIF89a"}


def disc(size: int = 300) -> Image.Image:
    """A disc of one colour with a soft edge and a soft shade over it, on nothing."""
    mask = Image.new("L", (size * 4, size * 4))
    ImageDraw.Draw(mask).ellipse((size // 2, size // 2, size * 7 // 2, size * 7 // 2), fill=255)
    ramp = Image.linear_gradient("L").resize((size, size))
    shaded = Image.merge("RGB", (ramp.point([255 - one // 2 for one in range(256)]), ramp, ramp))
    shaded.putalpha(mask.resize((size, size), Image.Resampling.LANCZOS))
    return shaded


def photograph() -> Image.Image:
    return Image.fromarray(open_pictures.coffee()).resize((800, 600))


def photograph_cut_out() -> Image.Image:
    image = photograph()
    image.putalpha(disc(300).getchannel("A").resize((800, 600)))
    return image


PICTURES = {
    "brands/orrowby/pictures/disc.png": png(disc()),
    "brands/orrowby/pictures/photo.png": png(photograph()),
    "brands/orrowby/pictures/cut.png": png(photograph_cut_out()),
}


def one_picture(root: Path, picture: str, **more: Any) -> list[tuple[str, bytes]]:
    stack = f"  - block: picture\n    picture: {picture}\n"
    compiled(work(root, stack, **PICTURES, **more))
    return sorted((one.name, one.read_bytes()) for one in (root / "out/x/pictures").iterdir())


def opened(data: bytes) -> Image.Image:
    image = Image.open(BytesIO(data))
    image.load()
    return image


def mixed(image: Image.Image, ground: str) -> np.ndarray:
    """`over`: a x top + (1 - a) x ground, in sRGB."""
    levels = np.asarray(image.convert("RGBA"), float)
    share = levels[..., 3:] / 255
    under = np.array([int(ground[at : at + 2], 16) for at in (1, 3, 5)], float)
    return np.asarray(levels[..., :3] * share + under * (1 - share))


@pytest.mark.parametrize(
    ("file", "form", "ending"),
    [
        ("disc", "auto", "png"), ("disc", "jpeg", "jpg"), ("disc", "png", "png"), ("disc", "gif", "gif"),
        ("photo", "auto", "jpg"), ("photo", "jpeg", "jpg"), ("photo", "png", "png"), ("photo", "gif", "gif"),
    ],
)  # fmt: skip
def test_the_file_is_what_was_asked(tmp_path: Path, file: str, form: str, ending: str) -> None:
    made = one_picture(tmp_path, f"{{file: {file}.png, alt: X, format: {form}}}")
    for name, data in made:
        assert name.endswith(f".{ending}")
        assert data.startswith(SIGNATURES[ending])


def test_what_the_content_decides_by_itself_is_no_other_file(tmp_path: Path) -> None:
    picture = "{file: photo.png, alt: X%s}"
    plain = one_picture(tmp_path / "a", picture % "")
    assert plain == one_picture(tmp_path / "b", picture % ", format: jpeg")


def test_a_jpeg_lies_on_the_ground_of_either_scheme(tmp_path: Path) -> None:
    """A light and a dark ground: a file for each, the corner is the ground's, the disc mixed over it."""
    made = one_picture(tmp_path, "{file: disc.png, alt: X, format: jpeg}")
    assert len(made) == 2
    corners = {}
    for _name, data in made:
        image = opened(data).convert("RGB")
        red, green, blue = image.getpixel((1, 1))  # type: ignore[misc]
        ground = f"#{red:02x}{green:02x}{blue:02x}"
        corners[sum((red, green, blue)) > 384] = ground
        assert np.abs(np.asarray(image, float) - mixed(disc(), ground)).mean() < 3
    assert set(corners) == {True, False}


def test_parts_that_were_to_stay_transparent_are_filled_in_a_jpeg(tmp_path: Path) -> None:
    for number, more in enumerate(
        ("corners: {radius: 40, drawn: true, on: none}", "fit: {how: contain, colour: none, shape: '1:1'}")
    ):
        made = one_picture(tmp_path / str(number), f"{{file: photo.png, alt: X, format: jpeg, {more}}}")
        grounds = {opened(data).convert("RGB").getpixel((0, 0)) for _name, data in made}
        assert len(grounds) == len(made) == 2


def test_a_gif_is_clear_or_opaque_and_mixed_at_its_edge(tmp_path: Path) -> None:
    made = one_picture(tmp_path, "{file: disc.png, alt: X, format: gif}")
    alpha = np.asarray(disc().getchannel("A"))
    for _name, data in made:
        told = blocks(data)
        assert len(told.colours) == 1
        shown = opened(data).convert("RGBA")
        levels = np.asarray(shown)
        assert ((levels[..., 3] == 0) == (alpha == 0)).all()
        assert set(np.unique(levels[..., 3])) == {0, 255}
    grounds = ("#ffffff", "#17191c")
    nearest = [
        min(
            np.abs(np.asarray(opened(data).convert("RGB"), float) - mixed(disc(), ground))[alpha > 0].mean()
            for ground in grounds
        )
        for _name, data in made
    ]
    assert len(made) == 2
    assert max(nearest) < 5


def test_few_colours_are_exact_in_a_gif(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "cache")
    image = Image.new("RGB", (120, 80))
    image.putdata([(x * 9 % 256, x // 8, 200) for x in range(120) for _ in range(80)])
    image.save(tmp_path / "a.png")
    made = plan(inspect(tmp_path / "a.png", cache), width=60, asked=Asked(form="gif"))
    assert (np.asarray(opened(produced(made, cache)).convert("RGB")) == np.asarray(image)).all()


def test_the_table_of_a_photograph_holds_its_even_ground(tmp_path: Path) -> None:
    """GIF89a 19: at most 256 colours; one that much of the picture has is among them as it is."""
    cache = Cache(tmp_path / "cache")
    image = Image.new("RGB", (500, 300), "#1a2335")
    image.paste(photograph().resize((400, 300)), (100, 0))
    image.save(tmp_path / "a.png")
    data = produced(plan(inspect(tmp_path / "a.png", cache), width=250, asked=Asked(form="gif")), cache)
    assert blocks(data).colours == [256]
    shown = opened(data).convert("RGB")
    assert shown.crop((0, 0, 100, 300)).getcolors() == [(30000, (0x1A, 0x23, 0x35))]
    assert np.abs(np.asarray(shown, float) - np.asarray(image, float)).mean() < 6


NIGHT = BRAND.replace("tones:\n", "tones:\n  night: {ground: '#14181f', text: '#ffffff', title: '#ffffff'}\n")


def test_a_heavy_cut_out_on_a_ground_that_stays_dark_becomes_a_jpeg(tmp_path: Path) -> None:
    """And keeps its transparency where dark screens change the ground, or where the ground is light."""
    brand = NIGHT.replace("tones:\n", "tones:\n  day: {ground: '#f0e8d8', text: '#000000', title: '#000'}\n")
    for tone, ending in (("night", "jpg"), ("day", "png"), ("plain", "png")):
        more = "" if tone == "plain" else f"    tone: {tone}\n"
        stack = "  - block: picture\n    picture: {file: cut.png, alt: X}\n" + more
        root = work(tmp_path / tone, stack, **PICTURES, **{"brands/orrowby/brand.yaml": brand})
        _html, pictures, _told = compiled(root)
        assert [name.rpartition(".")[2] for name in pictures] == [ending]
        if tone == "night":
            (image,) = pictures.values()
            assert np.abs(np.asarray(image.getpixel((0, 0))) - (0x14, 0x18, 0x1F)).max() <= 1
            assert np.abs(np.asarray(image, float) - mixed(photograph_cut_out(), "#14181f")).mean() < 4


@pytest.mark.parametrize(
    ("stack", "words"),
    [
        (hero("{file: disc.png, alt: X, format: jpg}"), "picture.format: 'jpg' is not a choice"),
        (hero("{file: disc.png, alt: X, format: webp}"), "one of auto, jpeg, png, gif"),
        (hero("{file: moves.gif, alt: X, format: png}"), "moves.gif moves: it stays a GIF"),
        (hero("{frames: [photo.png, photo.png], alt: X, format: jpeg}"), "what moves is a GIF, not JPEG"),
        (hero("{file: photo.png, alt: X, max_kb: 0}"), "picture.max_kb"),
    ],
)
def test_mistakes_are_one_line_at_their_place(stack: str, words: str, tmp_path: Path) -> None:
    out = BytesIO()
    frames = [Image.new("RGB", (40, 30), colour) for colour in ("red", "blue")]
    frames[0].save(out, "GIF", save_all=True, append_images=frames[1:])
    moves = {"brands/orrowby/pictures/moves.gif": out.getvalue()}
    line = refused(work(tmp_path, stack, **PICTURES, **moves))
    assert line.startswith("campaigns/x.yaml:11:")
    assert words in line


def test_a_jpeg_without_a_ground_has_no_holes(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "cache")
    (tmp_path / "a.png").write_bytes(PICTURES["brands/orrowby/pictures/disc.png"])
    with pytest.raises(Fault, match="has transparent parts, which no JPEG has"):
        plan(inspect(tmp_path / "a.png", cache), width=60, asked=Asked(form="jpeg"))


def weights(folder: Path) -> dict[float, int]:
    """What the photograph weighs at each sharpness, for a slot 200 px wide."""
    cache = Cache(folder / "cache")
    photograph().resize((400, 300)).save(folder / "p.png")
    source = inspect(folder / "p.png", cache)
    return {one: len(produced(plan(source, width=200, density=one), cache)) for one in (2.0, 1.5, 1.25, 1.0)}


def test_a_picture_gives_up_pixels_until_it_is_light_enough(tmp_path: Path) -> None:
    known, cache = weights(tmp_path), Cache(tmp_path / "cache")
    source = inspect(tmp_path / "p.png", cache)
    assert list(known.values()) == sorted(known.values(), reverse=True)
    for sharp, most in known.items():
        made = within(lambda density: plan(source, width=200, density=density), 2, most, cache)
        assert (made.width, made.pixels[0]) == (200, round(200 * sharp))
        again = within(lambda density: plan(source, width=200, density=density), 2, most, cache)
        assert again == made
    least = min(known.values()) - 1
    with pytest.raises(Fault) as caught:
        within(lambda density: plan(source, width=200, density=density), 2, least, cache)
    sizes = re.findall(r"(\d+) KB at (\d+) x (\d+)", caught.value.message)
    assert [int(wide) for _, wide, _ in sizes] == [400, 300, 250, 200]
    assert [int(kb) for kb, _, _ in sizes] == [round(known[one] / 1024) for one in known]


def test_the_workspace_says_what_any_picture_may_weigh(tmp_path: Path) -> None:
    """Its own `max_kb` comes before that; one that can keep neither is refused, with all that was tried."""
    free = one_picture(tmp_path / "a", "{file: photo.png, alt: X}")
    kb = len(free[0][1]) // 1024 - 2
    budget = {"handbill.yaml": WORKSPACE + f"budgets: {{picture_kb: {kb}}}\n"}
    held = one_picture(tmp_path / "b", "{file: photo.png, alt: X}", **budget)
    own = one_picture(tmp_path / "c", "{file: photo.png, alt: X, max_kb: 900}", **budget)
    assert len(held[0][1]) <= kb * 1024 < len(own[0][1])
    assert own == free
    tight = {"handbill.yaml": WORKSPACE + "budgets: {picture_kb: 1}\n"}
    line = refused(work(tmp_path / "d", hero("{file: photo.png, alt: X}"), **PICTURES, **tight))
    assert "picture photo.png is heavier than 1 KB however it is made: as a JPEG that looks well" in line
    assert "expected a calmer picture, less of it (crop), another format, or a larger max_kb" in line
