"""Moving pictures: the blocks of their files read by the standard's grammar, frames by decoding.

Sources: GIF89a (sections 17, 20 and 23: signature, times in 1/100 s); the NETSCAPE2.0 extension as browsers
read it (check values I01 to I05, I12); WCAG 2.2 SC 2.2.2 and 2.3.1.
"""

from __future__ import annotations

import random
from contextlib import chdir
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageSequence
from tests.gif_blocks import blocks
from tests.workspaces import FOOT, HEAD, compile_files, make

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.pictures import Plan, inspect, produced
from handbill.pictures.asked import Border, Corners
from handbill.pictures.moving import Reel, moving
from handbill.preflight.pixels import flashes, motion

COLOURS = ("#c03020", "#2050a0", "#208040", "#e0c020", "#604080")


def jpeg(image: Image.Image) -> bytes:
    out = BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def plain(number: int, width: int = 400, height: int = 300) -> Image.Image:
    """A soft slope from one colour to another, so that frames are neither even nor alike."""
    ramp = Image.linear_gradient("L").resize((width, height))
    return Image.composite(
        Image.new("RGB", (width, height), COLOURS[number]), Image.new("RGB", (width, height), "#f4f4f4"), ramp
    )


def noise(number: int) -> Image.Image:
    return Image.frombytes("RGB", (400, 300), random.Random(number).randbytes(400 * 300 * 3))


def planned(
    folder: Path, images: list[Image.Image], *, seconds: float = 1, **more: Any
) -> tuple[Plan, Cache]:
    cache = Cache(folder / "cache")
    frames = []
    for number, image in enumerate(images):
        path = folder / f"{number}.png"
        image.save(path)
        frames.append((inspect(path, cache), round(100 * seconds)))
    told = {key: more.pop(key) for key in ("fade", "rounds", "most") if key in more}
    how: dict[str, Any] = {
        "width": 200, "density": 2, "ratio": None, "focus": (0.5, 0.5), "crop": None, "border": None,
        "corners": None, **more,
    }  # fmt: skip
    return moving(Reel(tuple(frames), **told), cache=cache, **how), cache


def test_times_rounds_and_size_are_in_the_file(tmp_path: Path) -> None:
    plan, cache = planned(tmp_path, [plain(n) for n in range(5)], rounds=3)
    data = produced(plan, cache)
    found = blocks(data)
    assert found.version == b"GIF89a"
    assert found.size == plan.pixels == (400, 300)
    assert found.times == [100] * 5
    assert found.rounds == 2  # played once, then as many times more (check value I04)
    assert motion(data) is not None
    assert motion(data).rounds == 3  # type: ignore[union-attr]


@pytest.mark.parametrize(("rounds", "written"), [(1, None), (0, 0), (2, 1)])
def test_once_is_told_by_saying_nothing_and_for_ever_by_zero(
    tmp_path: Path, rounds: int, written: int | None
) -> None:
    plan, cache = planned(tmp_path, [plain(0), plain(1)], rounds=rounds)
    assert blocks(produced(plan, cache)).rounds == written


@pytest.mark.parametrize("same", [1, 3])
def test_equal_neighbours_keep_their_time(tmp_path: Path, same: int) -> None:
    """The encoder makes one frame of them; it must then stand for all of them."""
    images = [plain(0)] * same + [plain(1)]
    plan, cache = planned(tmp_path, images, seconds=0.7)
    assert sum(blocks(produced(plan, cache)).times) == 70 * len(images)


def test_a_time_of_its_own_for_each(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "cache")
    frames = []
    for number, time in enumerate((250, 10, 33)):
        plain(number).save(tmp_path / f"{number}.png")
        frames.append((inspect(tmp_path / f"{number}.png", cache), time))
    plan = moving(
        Reel(tuple(frames)), width=200, density=1, ratio=None, focus=(0.5, 0.5), crop=None, border=None,
        corners=None, cache=cache,
    )  # fmt: skip
    assert blocks(produced(plan, cache)).times == [250, 10, 33]


def test_frames_look_like_their_pictures(tmp_path: Path) -> None:
    """Fast octrees give a soft slope a few levels of error, never a frame that is another's."""
    images = [plain(n) for n in range(5)]
    plan, cache = planned(tmp_path, images)
    with Image.open(BytesIO(produced(plan, cache))) as gif:
        shown = [frame.convert("RGB") for frame in ImageSequence.Iterator(gif)]
    for made, wanted in zip(shown, images, strict=True):
        apart = np.abs(np.asarray(made, int) - np.asarray(wanted, int))
        assert apart.mean() < 4
        assert apart.max() < 40


def test_a_border_is_exact_in_every_frame(tmp_path: Path) -> None:
    plan, cache = planned(tmp_path, [noise(0), plain(1), noise(2)], border=Border(3, "#123456"), most=10**7)
    edge = round(3 * plan.sharpness)
    with Image.open(BytesIO(produced(plan, cache))) as gif:
        for frame in ImageSequence.Iterator(gif):
            levels = np.asarray(frame.convert("RGB")).copy()
            levels[edge:-edge, edge:-edge] = (0x12, 0x34, 0x56)
            assert (levels == (0x12, 0x34, 0x56)).all()


def test_drawn_corners_show_what_lies_behind(tmp_path: Path) -> None:
    corners = Corners(20, "#ffffff", drawn=True)
    plan, cache = planned(tmp_path, [plain(0), plain(1)], corners=corners)
    with Image.open(BytesIO(produced(plan, cache))) as gif:
        for frame in ImageSequence.Iterator(gif):
            corner = frame.convert("RGB").getpixel((0, 0))
            assert isinstance(corner, tuple)
            assert min(corner) > 245


def test_a_fade_takes_its_time_and_goes_through_the_middle(tmp_path: Path) -> None:
    dark, light = (Image.new("RGB", (400, 300), colour) for colour in ("#101820", "#f0e8d0"))
    plan, cache = planned(tmp_path, [dark, light], fade=35, rounds=1)
    data = produced(plan, cache)
    found = blocks(data)
    assert sum(found.times) == 200 + 35  # once between the two; it ends on the last
    assert found.times[0] == found.times[-1] == 100
    assert min(found.times) >= 2  # browsers take 1/100 s and less for a tenth (check value I05)
    endless, cache = planned(tmp_path, [plain(0), plain(1)], fade=35, rounds=0)
    assert sum(blocks(produced(endless, cache)).times) == 200 + 2 * 35
    with Image.open(BytesIO(data)) as gif:
        shown = [np.asarray(one.convert("RGB"), float).mean() for one in ImageSequence.Iterator(gif)]
    assert shown == sorted(shown)
    assert len(set(shown)) == len(found.times) > 3


def test_the_ladder_keeps_under_the_limit_and_says_where_it_ends(tmp_path: Path) -> None:
    images = [noise(n) for n in range(3)]
    free, cache = planned(tmp_path, images, most=10**7)
    whole = len(produced(free, cache))
    less, cache = planned(tmp_path, images, most=whole // 3)
    assert len(produced(less, cache)) <= whole // 3
    assert less.pixels < free.pixels
    assert less.width == free.width
    with pytest.raises(Fault, match=r"has \d+ KB at its lightest, more than 10"):
        planned(tmp_path, images, most=10_240)


def test_frames_of_other_shapes_are_cut_to_the_first(tmp_path: Path) -> None:
    plan, cache = planned(tmp_path, [plain(0), plain(1, 300, 900), plain(2, 1000, 300)])
    assert plan.pixels == (300, 225)  # never more pixels than the smallest has
    assert blocks(produced(plan, cache)).size == (300, 225)


def test_a_second_run_makes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    images = [noise(n) for n in range(3)]
    plan, cache = planned(tmp_path, images, most=150_000)
    monkeypatch.setattr("handbill.pictures.pixels.make", None)
    again, _ = planned(tmp_path, images, most=150_000)
    assert again == plan
    assert len(produced(again, cache)) <= 150_000


@pytest.mark.parametrize(
    ("image", "said"),
    [
        (Image.new("RGBA", (400, 300), (0, 0, 0, 90)), "transparent parts"),
        (None, "moves by itself"),
    ],
)
def test_what_cannot_be_a_frame(tmp_path: Path, image: Image.Image | None, said: str) -> None:
    cache = Cache(tmp_path / "cache")
    path = tmp_path / ("a.png" if image else "a.gif")
    if image:
        image.save(path)
    else:
        plain(0).save(path, save_all=True, append_images=[plain(1)])
    source = inspect(path, cache)
    with pytest.raises(Fault, match=said):
        moving(
            Reel(((source, 100), (source, 100))), width=200, density=1, ratio=None, focus=(0.5, 0.5),
            crop=None, border=None, corners=None, cache=cache,
        )  # fmt: skip


def test_flashes_of_frames_are_counted(tmp_path: Path) -> None:
    """More than three pairs of opposing changes in a second (WCAG 2.2, 2.3.1)."""
    black, white = Image.new("RGB", (400, 300), "#000"), Image.new("RGB", (400, 300), "#fff")
    quick, cache = planned(tmp_path, [black, white] * 6, seconds=0.1)
    slow, _ = planned(tmp_path, [black, white] * 6, seconds=0.5)
    assert flashes(produced(quick, cache)) > 3
    assert flashes(produced(slow, cache)) <= 3


# --- in a mail ----------------------------------------------------------------------------------------------

FILES: dict[str, str | bytes | None] = {
    f"brands/orrowby/pictures/{name}.png": jpeg(plain(number)) for number, name in enumerate("abc")
}


def picture(value: str) -> str:
    return f"  - block: picture\n    picture: {value}\n"


def compiled(root: Path, value: str) -> Any:
    work = make(root, {**FILES, "campaigns/x.yaml": HEAD + picture(value) + FOOT})
    with chdir(work):
        return compile_files(work)


def test_the_frame_that_is_named_comes_first(tmp_path: Path) -> None:
    value = "{frames: [a.png, {file: b.png, seconds: 2}, c.png], first: 2, rounds: forever, alt: Three}"
    result = compiled(tmp_path, value)
    assert result.code == 0, result.lines
    (file,) = (tmp_path / "out/x/pictures").glob("*.gif")
    assert blocks(file.read_bytes()).times == [200, 100, 100]
    assert blocks(file.read_bytes()).rounds == 0
    with Image.open(file) as gif:
        first = np.asarray(gif.convert("RGB"), float)[-1, 0]
    assert np.abs(first - np.array([0x20, 0x50, 0xA0])).max() < 30


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("{frames: [a.png, b.png], first: 3, alt: X}", "there is no frame 3"),
        ("{frames: [a.png, bb.png], alt: X}", "no picture bb.png"),
        ("{frames: [a.png], alt: X}", "at least 2"),
        ("{frames: [a.png, {file: b.png, seconds: 0}], alt: X}", "seconds"),
        ("{frames: [a.png, b.png], rounds: often, alt: X}", "a number from 1 to 1000, or forever"),
        ("{frames: [a.png, b.png], extend: 40, alt: X}", "neither extended, fitted, shaded nor tinted"),
        ("{frames: [a.png, b.png], shade: 0.4, alt: X}", "neither extended, fitted, shaded nor tinted"),
        (
            "{file: a.png, frames: [a.png, b.png], alt: X}",
            "there are both file and frames",
        ),
        ("{frames: [a.png, b.png], max_kb: 1, alt: X}", "KB at its lightest, more than 1"),
        ("{file: a.png, fade: 1, alt: X}", "are of moving pictures"),
        ("{frames: [], alt: X}", "frames"),
        ("{frames: a.png, alt: X}", "frames"),
        ("{alt: X}", "file"),
    ],
)
def test_mistakes_are_one_line_at_their_place(tmp_path: Path, value: str, said: str) -> None:
    result = compiled(tmp_path, value)
    assert result.code == 2
    assert any(line.startswith("campaigns/x.yaml:") and said in line for line in result.lines), result.lines
    assert not (tmp_path / "out").exists()
