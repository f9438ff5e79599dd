"""Picture files that are rare but whole come out as they look; others are refused in one line.

Sources: PNG (third edition), 7.2, 8.2, 11.2.1, 11.3.1.1, 13.12; ICC.1:2022 by way of coloraide's spaces (CSS
Color 4); EXIF 2.32, 4.6.4 A; T.872, 6.5.3. Chromium's pixels of the same files: tests/outside.
"""

from __future__ import annotations

import stat
import struct
import time
import tracemalloc
import zlib
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from coloraide import Color
from PIL import Image
from tests.odd_pictures import (
    CHANNELS,
    DISPLAY_P3,
    SRGB_CURVE,
    WIDE_CURVE,
    WIDE_RGB,
    chunk,
    in_8_bits,
    png,
    profile,
    samples,
    slope,
    whole_files,
    with_profile,
)  # fmt: skip
from tests.test_wishes import hero, refused, work
from tests.workspaces import picture

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.pictures import inspect, plan, produced
from handbill.pictures.asked import Asked


@pytest.fixture
def cache(tmp_path: Path) -> Cache:
    return Cache(tmp_path / "cache")


def shown(folder: Path, name: str, data: bytes, cache: Cache) -> np.ndarray:
    """The finished picture's levels, RGBA, as many as the file has."""
    (folder / name).write_bytes(data)
    source = inspect(folder / name, cache)
    made = produced(plan(source, width=source.width, density=1, asked=Asked(form="png")), cache)
    with Image.open(BytesIO(made)) as image:
        return np.asarray(image.convert("RGBA"), int)


@pytest.mark.parametrize("interlaced", [False, True])
@pytest.mark.parametrize(("kind", "depth"), [(0, 1), (0, 2), (0, 4), (0, 16), (2, 16), (4, 16), (6, 16)])
def test_samples_of_every_depth(
    kind: int, depth: int, interlaced: bool, tmp_path: Path, cache: Cache
) -> None:
    """PNG 13.12: linear scaling. Pillow drops the low bytes of 16-bit colours: one level at most."""
    rows = samples(13, 9, CHANNELS[kind], depth)
    levels = np.array(in_8_bits(rows, depth))
    colours = levels[..., :1].repeat(3, axis=2) if kind in (0, 4) else levels[..., :3]
    alpha = levels[..., -1] if kind in (4, 6) else np.full(levels.shape[:2], 255)
    made = shown(tmp_path, "a.png", png(rows, kind, depth, interlaced=interlaced), cache)
    most = 1 if depth == 16 and kind != 0 else 0
    assert np.abs(made[..., 3] - alpha).max() <= most
    seen = made[..., 3] > 0
    assert np.abs(made[..., :3] - colours)[seen].max() <= most


@pytest.mark.parametrize(("kind", "depth"), [(0, 1), (0, 2), (0, 4), (0, 8), (0, 16), (2, 8), (2, 16)])
def test_a_colour_that_is_named_as_transparent(kind: int, depth: int, tmp_path: Path, cache: Cache) -> None:
    """PNG 11.3.1.1: pixels of that very colour are transparent, all others opaque."""
    rows = samples(13, 9, CHANNELS[kind], depth)
    key = rows[4][6]
    named = (b"tRNS", struct.pack(f">{len(key)}H", *key))
    made = shown(tmp_path, "a.png", png(rows, kind, depth, before=[named]), cache)
    assert ((made[..., 3] == 0) == np.array([[pixel == key for pixel in row] for row in rows])).all()


def test_a_palette_whose_colours_are_half_transparent(tmp_path: Path, cache: Cache) -> None:
    """PNG 11.3.1.1: one alpha for each entry, 255 for those that have none."""
    rows, colours = samples(13, 9, 1, 4), bytes(range(5, 53))
    made = shown(
        tmp_path, "a.png", png(rows, 3, 4, before=[(b"PLTE", colours), (b"tRNS", bytes((0, 60, 160)))]), cache
    )
    for y, row in enumerate(rows):
        for x, (index,) in enumerate(row):
            alpha = (0, 60, 160)[index] if index < 3 else 255
            assert made[y, x, 3] == alpha
            if alpha:
                assert tuple(made[y, x, :3]) == tuple(colours[3 * index : 3 * index + 3])


@pytest.mark.parametrize("form", ["PNG", "JPEG"])
@pytest.mark.parametrize(
    ("space", "data"),
    [
        ("display-p3", profile(DISPLAY_P3, SRGB_CURVE)),
        ("display-p3", profile(DISPLAY_P3, SRGB_CURVE, more=600_000)),
        ("a98-rgb", profile(WIDE_RGB, WIDE_CURVE)),
        ("srgb", profile(DISPLAY_P3, SRGB_CURVE)[:200]),  # broken: counts for nothing
        ("srgb", profile(DISPLAY_P3, SRGB_CURVE, space=b"CMYK")),  # for other pixels: the same
    ],
    ids=["p3", "huge", "wide", "broken", "for ink"],
)
def test_a_profile_is_converted_to_srgb(
    space: str, data: bytes, form: str, tmp_path: Path, cache: Cache
) -> None:
    """As coloraide has it; where a colour lies outside sRGB, at its edge."""
    colours = ((200, 80, 40), (30, 160, 90), (90, 90, 90), (250, 250, 250), (20, 60, 200))
    for number, colour in enumerate(colours):
        image = Image.new("RGB", (16, 16), colour)
        made = shown(tmp_path, f"{number}.{form.lower()}", with_profile(image, form, data), cache)
        wanted = Color(space, [one / 255 for one in colour]).convert("srgb").coords()
        clipped = [min(255, max(0, round(one * 255))) for one in wanted]
        assert np.abs(made[8, 8, :3] - clipped).max() <= 3, (colour, clipped, made[8, 8])


def test_ink_is_not_turned_over(tmp_path: Path, cache: Cache) -> None:
    """T.872, 6.5.3: four components are written inverted; no ink is white, whether marked so or not."""
    image = Image.new("CMYK", (16, 16), (0, 0, 0, 0))
    image.paste((255, 255, 0, 0), (8, 0, 16, 16))
    out = BytesIO()
    image.save(out, "JPEG", quality=98)
    made = shown(tmp_path, "a.jpg", out.getvalue(), cache)
    assert (made[8, 2, :3] >= 252).all()
    red, green, blue, _alpha = made[8, 13]
    assert blue > 200
    assert max(red, green) < 60


def test_every_whole_file_is_made(tmp_path: Path, cache: Cache) -> None:
    for name, data in whole_files().items():
        made = shown(tmp_path, name, data, cache)
        turned = name in {f"turned-{number}.jpg" for number in (5, 6, 7, 8)}
        assert made.shape == ((13, 9, 4) if turned else (9, 13, 4)), name


def animated(form: str) -> bytes:
    out = BytesIO()
    frames = [slope(), slope().transpose(Image.Transpose.ROTATE_180)]
    frames[0].save(out, form, save_all=True, append_images=frames[1:], duration=100)
    return out.getvalue()


def headless(width: int, height: int) -> bytes:
    """A PNG whose header claims a size and which holds one row."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(b"\0" * 30)), (b"IEND", b""))
    return bytes.fromhex("89504E470D0A1A0A") + b"".join(chunk(*one) for one in parts)


def cut_off(form: str) -> bytes:
    out = BytesIO()
    slope(300, 200).save(out, form)
    return out.getvalue()[: len(out.getvalue()) // 2]


REFUSED = {
    "moves.png": (lambda: animated("PNG"), "is an animated PNG, which most readers do not play"),
    "moves.webp": (lambda: animated("WEBP"), "is an animated WEBP, which most readers do not play"),
    "no-colours.png": (lambda: png(samples(13, 9, 1, 8), 3, 8), "is damaged"),
    "no-width.png": (lambda: headless(0, 4), "is not a picture that can be read"),
    "no-height.gif": (lambda: b"GIF89a\x04\0\0\0\0\0\0;", "is not a picture that can be read"),
    "bomb.gif": (lambda: b"GIF89a\xff\xff\xff\xff\0\0\0,\0\0\0\0\xff\xff\xff\xff\0\2\0;", "too many pixels"),
    "huge-profile.png": (
        lambda: with_profile(slope(), "PNG", profile(DISPLAY_P3, SRGB_CURVE, more=3_000_000)),
        "has a profile or a text of over 1 MB in it",
    ),
    "letter.jpg": (lambda: b"Dear all,\n", "is not a picture that can be read"),
    "drawing.jpg": (lambda: b"\xef\xbb\xbf<!-- a --><svg xmlns='http://www.w3.org/2000/svg'/>", "is an SVG"),
    **{f"half.{form.lower()}": ((lambda form=form: cut_off(form)), "is damaged")
       for form in ("JPEG", "PNG", "GIF", "WEBP", "BMP", "TIFF")},
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_refused_in_one_line(name: str, tmp_path: Path, cache: Cache) -> None:
    make, words = REFUSED[name]
    (tmp_path / name).write_bytes(make())
    with pytest.raises(Fault) as caught:
        inspect(tmp_path / name, cache)
    assert caught.value.message.startswith((f"picture {name} ", f"{name} "))
    assert words in caught.value.message
    assert "\n" not in caught.value.message


def test_a_bomb_is_refused_before_it_is_unpacked(tmp_path: Path, cache: Cache) -> None:
    """12 000 x 12 000 px of nothing in 430 KB: 432 MB if they were unpacked."""
    raw = zlib.compressobj(9)
    row = b"\0" * (12_000 * 3 + 1)
    packed = b"".join(raw.compress(row) for _ in range(12_000)) + raw.flush()
    head = struct.pack(">IIBBBBB", 12_000, 12_000, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", packed), (b"IEND", b""))
    data = bytes.fromhex("89504E470D0A1A0A") + b"".join(chunk(*one) for one in parts)
    (tmp_path / "bomb.png").write_bytes(data)
    del packed, data
    tracemalloc.start()
    began = time.process_time()
    with pytest.raises(Fault, match="too many pixels; the limit is 40 megapixels"):
        inspect(tmp_path / "bomb.png", cache)
    assert time.process_time() - began < 1
    assert tracemalloc.get_traced_memory()[1] < 64_000_000
    tracemalloc.stop()


# -- where a file lies


def test_files_outside_the_workspace_are_not_read(tmp_path: Path) -> None:
    (tmp_path / "secret.png").write_bytes(picture())
    root = work(tmp_path / "shop", hero("{file: ../../../../secret.png, alt: X}"))
    assert "secret.png" in (line := refused(root))
    assert line.startswith("campaigns/x.yaml:11:")
    root = work(tmp_path / "linked", hero("{file: out.png, alt: X}"))
    (root / "brands/orrowby/pictures/out.png").symlink_to(tmp_path / "secret.png")
    assert "out.png" in (line := refused(root))
    assert line.startswith("campaigns/x.yaml:11:")
    root = work(tmp_path / "whole", hero(f"{{file: {tmp_path}/secret.png, alt: X}}"))
    assert refused(root).startswith("campaigns/x.yaml:11:")


def test_a_folder_is_no_picture(tmp_path: Path) -> None:
    root = work(tmp_path, hero("{file: more.png, alt: X}"))
    (root / "brands/orrowby/pictures/more.png").mkdir()
    assert "more.png" in (line := refused(root))
    assert line.startswith("campaigns/x.yaml:11:")


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Root may read everything, so the system's refusal (EACCES) is put in its place."""
    root = work(tmp_path, hero("{file: locked.png, alt: X}"))
    locked = root / "brands/orrowby/pictures/locked.png"
    locked.write_bytes(picture(9, 9))
    locked.chmod(stat.S_IWUSR)
    real = Path.open

    def refuse(self: Path, *arguments: object, **how: object) -> object:
        if self.name == "locked.png":
            raise PermissionError(13, "Permission denied", str(self))
        return real(self, *arguments, **how)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", refuse)
    line = refused(root)
    assert line.startswith("campaigns/x.yaml:11:")
    assert "picture locked.png cannot be read: Permission denied" in line
