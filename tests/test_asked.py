"""What is asked of a picture beyond its slot: geometry by arithmetic, pixels by hand-made pictures.

Sources: WCAG 2.2 1.4.3 (4.5:1) for shades, CSS Color 4 for mixing in sRGB, the arithmetic written in each
test.
"""

from __future__ import annotations

import random
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.pictures import Plan, Source, inspect, plan, produced, study
from handbill.pictures.asked import Asked, Border, Corners, Extend, Fit, Shade, Subject
from handbill.pictures.extend import grown
from handbill.pictures.frame import BASELINE, MOST_ACROSS, MOST_DOWN, OPTICAL
from handbill.pictures.plan import cut

WHITE, INK = "#ffffff", "#17181a"


@pytest.fixture
def cache(tmp_path: Path) -> Cache:
    return Cache(tmp_path / "cache")


def source(width: int, height: int, **more: Any) -> Source:
    facts = {"alpha": False, "animated": False, "flat": False, "kind": "jpeg", **more}
    return Source(width=width, height=height, path=Path("a.jpg"), sha256="0" * 64, **facts)


def gradient(width: int, height: int, top: int = 90, bottom: int = 140) -> Image.Image:
    """A sky: darker at its sides, brighter downward."""
    rows = np.linspace(top, bottom, height)[:, None] - 20 * np.linspace(-1, 1, width)[None] ** 2
    levels = np.stack([rows * 0.7, rows * 0.9, rows * 1.2], axis=-1)
    return Image.fromarray(np.clip(np.rint(levels), 0, 255).astype(np.uint8), "RGB")


def busy(width: int, height: int) -> Image.Image:
    return Image.frombytes("RGB", (width, height), random.Random(7).randbytes(width * height * 3))


def at(image: Image.Image, folder: Path, cache: Cache, name: str = "a.png") -> Source:
    path = folder / name
    image.save(path, **({"quality": 92} if name.endswith("jpg") else {}))
    return inspect(path, cache)


def made(one: Plan, cache: Cache) -> Image.Image:
    image = Image.open(BytesIO(produced(one, cache)))
    image.load()
    return image


# --- geometry -----------------------------------------------------------------------------------------------

SIZES = st.integers(1, 4000)


@given(SIZES, SIZES, st.integers(1, 700), st.integers(1, 2), st.integers(0, 400), st.integers(0, 400))
def test_new_ground_adds_its_px_and_nothing_else(
    across: int, down: int, width: int, density: int, top: int, bottom: int
) -> None:
    bare = plan(source(across, down), width=width, density=density)
    if not (top or bottom):
        return
    one = plan(source(across, down), width=width, density=density, asked=Asked(Extend(top, bottom)))
    assert one.height == bare.height + top + bottom
    assert one.whole[0] == bare.whole[0]
    assert one.inner is not None
    left, above, wide, high = one.inner
    assert (left, wide, high) == (0, *bare.whole)
    scale = bare.whole[0] / width
    assert above == pytest.approx(top * scale, abs=0.51)
    assert one.whole[1] - above - high == pytest.approx(bottom * scale, abs=0.51)


@given(SIZES, SIZES, st.integers(60, 700), st.tuples(st.integers(1, 9), st.integers(1, 9)))
def test_growing_to_a_shape_gives_that_shape(
    across: int, down: int, width: int, shape: tuple[int, int]
) -> None:
    natural = max(1, (2 * width * down + across) // (2 * across))
    goal = max(1, (2 * width * shape[1] + shape[0]) // (2 * shape[0]))
    asked = Asked(Extend(top=1, shape=shape))
    if goal <= natural:
        with pytest.raises(Fault, match="already as tall as"):
            plan(source(across, down), width=width, asked=asked)
        return
    one = plan(source(across, down), width=width, asked=asked)
    assert one.height == goal
    assert one.box == (0, 0, across, down)


@given(SIZES, SIZES, st.integers(20, 700), st.tuples(st.integers(1, 9), st.integers(1, 9)))
def test_contain_shows_all_of_it_in_the_middle(
    across: int, down: int, width: int, shape: tuple[int, int]
) -> None:
    one = plan(source(across, down), width=width, asked=Asked(fit=Fit("contain", WHITE, shape)))
    assert one.inner is not None
    left, top, wide, high = one.inner
    assert one.box == (0, 0, across, down)
    assert one.height == max(1, (2 * width * shape[1] + shape[0]) // (2 * shape[0]))
    assert wide <= across + 1
    assert high <= down + 1  # never enlarged
    assert min(left, top) >= -1
    assert abs(left - (one.whole[0] - wide - left)) <= 1
    assert abs(top - (one.whole[1] - high - top)) <= 1
    assert min(abs(wide - one.whole[0]), abs(high - one.whole[1])) <= 2  # it touches two sides


BOXES = st.tuples(
    st.integers(0, 900), st.integers(0, 900), st.integers(20, 1000), st.integers(20, 1000), st.floats(0.3, 1)
)


@given(BOXES, st.sampled_from([(1, 1), (4, 5), (5, 4)]))
def test_products_have_one_size_to_the_eye_and_one_line(
    box: tuple[int, int, int, int, float], shape: tuple[int, int]
) -> None:
    """The documented rule: area 30 % of the tile unless a margin is reached; all bottoms at 87 %."""
    left, top, wide, high, share = box
    solid = (left, top, left + wide, top + high)
    thing = Subject(solid, solid, wide * high * share)
    one = plan(source(2000, 2000), width=300, ratio=shape, asked=Asked(fit=Fit("trim", WHITE)), subject=thing)
    assert one.inner is not None
    x, y, across, down = (part / one.sharpness for part in one.inner)
    tall = one.height
    covered = across * down * share / (300 * tall)
    slack = 2 / one.sharpness
    assert across <= MOST_ACROSS * 300 + slack
    assert down <= MOST_DOWN * tall + slack
    reached = across >= MOST_ACROSS * 300 - slack or down >= MOST_DOWN * tall - slack
    assert reached or covered == pytest.approx(OPTICAL, rel=0.1)
    assert covered <= OPTICAL * 1.1
    assert y + down == pytest.approx(BASELINE * tall, abs=slack)
    assert x + across / 2 == pytest.approx(150, abs=slack)


def test_an_authors_cut_comes_before_the_slots() -> None:
    one = plan(source(1000, 1000), width=100, ratio=(1, 1), crop=(2, 1), focus=(0, 0.5))
    assert one.box == (0, 250, 500, 750)


def test_parts_of_a_grown_picture_join(tmp_path: Path, cache: Cache) -> None:
    whole = plan(at(gradient(400, 300), tmp_path, cache), width=200, asked=Asked(Extend(top=60)))
    upper, lower = cut(whole, 100)
    assert (upper.height, lower.height) == (100, whole.height - 100)
    assert upper.pixels[1] + lower.pixels[1] == whole.pixels[1]
    assert len({whole.name, upper.name, lower.name}) == 3
    from handbill.pictures.lay import laid_out

    picture = gradient(400, 300)
    joined = np.concatenate([np.asarray(laid_out(picture, part)) for part in (upper, lower)])
    assert (joined == np.asarray(laid_out(picture, whole))).all()


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (Asked(Extend(top=90), Fit("contain", WHITE, (1, 1))), "either fitted or extended"),
        (Asked(fit=Fit("contain", WHITE)), "needs the shape to fill"),
        (Asked(fit=Fit("trim", WHITE)), "no subject"),
    ],
)
def test_what_cannot_be_is_said(asked: Asked, words: str) -> None:
    with pytest.raises(Fault, match=words):
        plan(source(100, 100), width=50, asked=asked)


def test_a_moving_picture_is_only_cut() -> None:
    with pytest.raises(Fault, match="it can be cut, and nothing else"):
        plan(source(100, 100, animated=True, kind="gif"), width=50, asked=Asked(Extend(top=9)))
    assert plan(source(100, 100, animated=True, kind="gif"), width=50, crop=(2, 1)).height == 25


def test_nothing_asked_changes_no_name() -> None:
    assert plan(source(90, 90), width=40, asked=Asked()) == plan(source(90, 90), width=40)


def test_everything_asked_changes_the_name() -> None:
    asked = [
        Asked(Extend(top=20)), Asked(Extend(bottom=20)), Asked(Extend(top=20, colour=INK)),
        Asked(shade=Shade(INK, 0.5)), Asked(shade=Shade(INK, 0.4)), Asked(border=Border(2, INK)),
        Asked(corners=Corners(8, WHITE, True)), Asked(fit=Fit("contain", WHITE, (2, 1))),
    ]  # fmt: skip
    names = {plan(source(90, 90), width=40, asked=one).name for one in asked}
    assert len(names) == len(asked)


# --- growing ------------------------------------------------------------------------------------------------


def test_a_sky_goes_on_without_a_join(tmp_path: Path, cache: Cache) -> None:
    """Rows at the join differ no more than the picture's own rows do, two levels for dither aside."""
    one = plan(at(gradient(600, 400), tmp_path, cache, "sky.jpg"), width=300, asked=Asked(Extend(90, 60)))
    levels = np.asarray(made(one, cache).convert("RGB")).astype(int)
    assert levels.shape[:2] == (400 + 300, 600)
    steps = np.abs(np.diff(levels, axis=0)).mean(axis=(1, 2))
    assert steps[178:182].max() <= steps[190:560].max() + 0.25
    assert steps[578:582].max() <= steps[190:560].max() + 0.25
    assert not (levels[:180] == levels[0]).all()  # dithered, not a flat band


def test_it_arrives_at_the_colour_it_is_told() -> None:
    levels = grown(np.asarray(gradient(300, 200)), 150, "seed", towards="#121b2e")
    assert (levels[:45] == (0x12, 0x1B, 0x2E)).all()


def test_a_seed_decides_the_dither() -> None:
    levels = np.asarray(gradient(200, 150))
    assert (grown(levels, 80, "a") == grown(levels, 80, "a")).all()
    assert (grown(levels, 80, "a") != grown(levels, 80, "b")).any()


def test_the_subject_is_not_touched() -> None:
    """Below the headroom every pixel is the picture's own."""
    picture = gradient(400, 300)
    ImageDraw.Draw(picture).rectangle((100, 30, 300, 299), fill=(240, 30, 30))
    levels = np.asarray(picture)
    assert (grown(levels, 100, "x")[130:] == levels[30:]).all()


def test_a_busy_edge_is_refused_with_a_way_on(tmp_path: Path, cache: Cache) -> None:
    file = at(busy(300, 200), tmp_path, cache, "leaves.png")
    found = study.edge(file, (0, 0, 300, 200), "top", cache)
    with pytest.raises(Fault, match=r"top edge of picture leaves.png is too busy to extend") as caught:
        study.refuse_busy(found, "top", file.path.name)
    assert "another photo, the bottom, or a plain band" in caught.value.expected
    sky = study.edge(at(gradient(300, 200), tmp_path, cache, "sky.png"), (0, 0, 300, 200), "top", cache)
    study.refuse_busy(sky, "top", "sky.png")
    assert sky.median < 1


def test_a_plain_band_is_cut_cleanly(tmp_path: Path, cache: Cache) -> None:
    asked = Asked(Extend(top=50, colour="#ffeecc", cut=True))
    image = made(plan(at(busy(200, 100), tmp_path, cache), width=100, asked=asked), cache).convert("RGB")
    assert image.size == (200, 200)
    for spot in ((0, 0), (99, 40), (199, 90)):  # YCbCr rounds by one level at most
        assert image.getpixel(spot) == pytest.approx((255, 238, 204), abs=1)


# --- product shots ------------------------------------------------------------------------------------------


def shot(
    size: tuple[int, int], box: tuple[int, int, int, int], backdrop: str, jpeg: bool = True
) -> Image.Image:
    """A red cup with a white handle hole and a soft shadow, on one colour."""
    image = Image.new("RGB", size, backdrop)
    draw = ImageDraw.Draw(image)
    _left, top, right, _bottom = box
    draw.rectangle(box, fill="#a03020")
    draw.ellipse((right - 10, top + 20, right + 60, top + 120), outline="#a03020", width=14)
    if jpeg:
        out = BytesIO()
        image.save(out, "JPEG", quality=92)
        image = Image.open(out)
        image.load()
    return image


@pytest.mark.parametrize("backdrop", ["#ffffff", "#e4e6e9", "#f3ead8", "#224466"])
def test_a_subject_is_found_on_any_plain_backdrop(backdrop: str, tmp_path: Path, cache: Cache) -> None:
    file = at(shot((900, 700), (300, 200, 500, 560), backdrop), tmp_path, cache, "cup.jpg")
    found = study.subject(file, cache)
    assert found.solid == pytest.approx((300, 200, 560, 561), abs=6)
    asked = Asked(fit=Fit("trim", "#102030"))
    image = made(plan(file, width=200, ratio=(1, 1), asked=asked, subject=found), cache).convert("RGB")
    corner, middle = image.getpixel((2, 2)), image.getpixel((180, 200))
    assert corner == pytest.approx((0x10, 0x20, 0x30), abs=2)
    assert middle == pytest.approx((0xA0, 0x30, 0x20), abs=14)
    levels = np.asarray(image).astype(int)
    light = levels.sum(axis=2) > 3 * 0xA0  # nothing of a light backdrop is left, in the handle neither
    assert light.mean() < 0.002


def test_four_sources_stand_alike(tmp_path: Path, cache: Cache) -> None:
    """A cut-out and three shots of one cup, at other sizes and places: the same tile but for their edges."""
    cup = shot((900, 700), (300, 200, 500, 560), "#ffffff", jpeg=False)
    red = np.asarray(cup)[..., 1] < 200
    alone = cup.copy()
    alone.putalpha(Image.fromarray(red.astype(np.uint8) * 255))
    files = [
        at(alone.crop((250, 150, 620, 600)), tmp_path, cache, "cut-out.png"),
        at(shot((900, 700), (300, 200, 500, 560), "#ffffff"), tmp_path, cache, "white.jpg"),
        at(shot((1200, 900), (120, 300, 320, 660), "#e4e6e9"), tmp_path, cache, "grey.jpg"),
        at(shot((700, 1100), (200, 500, 400, 860), "#f3ead8"), tmp_path, cache, "cream.jpg"),
    ]
    tiles = []
    for file in files:
        found = study.subject(file, cache)
        one = plan(file, width=150, ratio=(1, 1), asked=Asked(fit=Fit("trim", "#ffffff")), subject=found)
        tiles.append(np.asarray(made(one, cache).convert("RGB")).astype(int))
    masks = [tile[..., 1] < 150 for tile in tiles]
    for mask in masks[1:]:
        assert (mask != masks[0]).mean() < 0.02
        assert abs(np.flatnonzero(mask.any(axis=1))[-1] - np.flatnonzero(masks[0].any(axis=1))[-1]) <= 4
        assert mask.sum() == pytest.approx(masks[0].sum(), rel=0.05)


def test_a_shot_without_a_plain_backdrop_is_refused(tmp_path: Path, cache: Cache) -> None:
    with pytest.raises(Fault, match=r"busy.png has no plain backdrop: its edge is not one colour"):
        study.subject(at(busy(200, 200), tmp_path, cache, "busy.png"), cache)
    with pytest.raises(Fault, match="nothing that stands out"):
        study.subject(at(Image.new("RGB", (90, 90), "#eeeeee"), tmp_path, cache, "none.png"), cache)


# --- copy over pictures -------------------------------------------------------------------------------------


def test_contrast_is_that_of_the_worst_place(tmp_path: Path, cache: Cache) -> None:
    """Black beside white: white copy has 21:1 on the one and 1:1 on the other (WCAG 2.2)."""
    image = Image.new("RGB", (200, 100), "#000000")
    image.paste("#ffffff", (150, 0, 200, 100))
    one = plan(at(image, tmp_path, cache), width=100)
    left = study.under(one, (0, 0, 0.5, 1), cache)
    assert left.contrast(WHITE) == pytest.approx((21, 21))
    assert left.colour == "#000000"
    assert study.under(one, (0, 0, 1, 1), cache).contrast(WHITE)[0] == pytest.approx(1)
    # 30 in 100 px of that part are white: the 5th percentile is 1 as well; 0.76 of the width hold 1 px column
    assert study.under(one, (0, 0, 1, 1), cache).contrast(WHITE)[1] == pytest.approx(1)


@pytest.mark.parametrize("ink", [WHITE, INK])
@pytest.mark.parametrize("name", ["sky", "leaves"])
def test_a_shade_is_as_strong_as_copy_needs(ink: str, name: str, tmp_path: Path, cache: Cache) -> None:
    """WCAG 2.2 1.4.3: 4.5:1 on every square of 4 px in the area, and not with 4 points less."""
    colour = "#000000" if ink == WHITE else "#ffffff"
    image = gradient(300, 200, 150, 200) if name == "sky" else busy(300, 200)
    file = at(image, tmp_path, cache, f"{name}.png")
    area = (0.0, 0.0, 1.0, 0.6)
    strength = study.shade(plan(file, width=150), area, ink, colour, cache)
    assert 0 <= strength <= 0.9

    def least(by: float) -> float:
        asked = Asked(shade=Shade(colour, by, 0, 0.6)) if by else None
        return study.under(plan(file, width=150, asked=asked), area, cache).contrast(ink)[0]

    assert least(strength) >= 4.5
    assert strength == 0 or least(max(strength - 0.04, 0.0)) < 4.5


def test_a_shade_that_would_bury_the_picture_is_refused(tmp_path: Path, cache: Cache) -> None:
    file = at(Image.new("RGB", (90, 90), "#777777"), tmp_path, cache)
    with pytest.raises(Fault, match="no shade of #666666 makes copy in #777777 legible"):
        study.shade(plan(file, width=45), (0, 0, 1, 1), "#777777", "#666666", cache)


def test_a_shade_mixes_as_browsers_do_and_fades(tmp_path: Path, cache: Cache) -> None:
    """Half of black over #c86432 in sRGB is #643219 (CSS Compositing 1, source over); none at the far end."""
    file = at(Image.new("RGB", (40, 400), "#c86432"), tmp_path, cache)
    image = made(plan(file, width=20, asked=Asked(shade=Shade("#000000", 0.5, 0, 0.5))), cache).convert("RGB")
    assert image.getpixel((20, 10)) == pytest.approx((100, 50, 25), abs=1)
    assert image.getpixel((20, 199)) == pytest.approx((100, 50, 25), abs=1)
    assert image.getpixel((20, 390)) == (200, 100, 50)


# --- borders and corners ------------------------------------------------------------------------------------


def test_a_border_is_its_width_and_exact(tmp_path: Path, cache: Cache) -> None:
    file = at(Image.new("RGBA", (200, 120), (255, 255, 255, 255)), tmp_path, cache)
    image = made(plan(file, width=100, asked=Asked(border=Border(3, INK))), cache).convert("RGB")
    ink = (0x17, 0x18, 0x1A)
    row = [image.getpixel((x, 60)) for x in range(200)]
    assert row == [ink] * 6 + [(255, 255, 255)] * 188 + [ink] * 6
    assert image.getpixel((100, 5)) == image.getpixel((100, 114)) == ink
    assert image.getpixel((100, 6)) == (255, 255, 255)


def test_drawn_corners_show_what_is_behind(tmp_path: Path, cache: Cache) -> None:
    """A quarter circle of 20 px leaves (1 - pi/4) of its square: 4 x 20² x 2² x 0.2146 pixels of ground."""
    file = at(Image.new("RGB", (200, 120), "#ffffff"), tmp_path, cache)
    for on in (INK, None):
        image = made(plan(file, width=100, asked=Asked(corners=Corners(20, on, True))), cache)
        if on is None:
            assert image.convert("RGBA").getpixel((0, 0))[3] == 0
            continue
        dark = 255 - np.asarray(image.convert("L")).astype(float)
        assert dark.sum() / (255 - 24) == pytest.approx(4 * 40 * 40 * 0.2146, rel=0.03)
        assert image.convert("RGB").getpixel((0, 60)) == (255, 255, 255)


def test_a_border_follows_corners_that_the_mail_rounds(tmp_path: Path, cache: Cache) -> None:
    file = at(Image.new("RGB", (200, 200), "#ffffff"), tmp_path, cache)
    asked = Asked(border=Border(2, INK), corners=Corners(30))
    image = made(plan(file, width=100, asked=asked), cache).convert("L")
    at_45 = 60 - round(60 / 2**0.5)  # where the circle of 60 px crosses the diagonal
    assert image.getpixel((at_45 + 1, at_45 + 1)) < 80
    assert image.getpixel((at_45 + 8, at_45 + 8)) == 255
