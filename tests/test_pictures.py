"""Pictures against PNG (third edition), ITU-T T.81, GIF89a, EXIF 2.32 and ICC.1, read back with Pillow."""

from __future__ import annotations

import hashlib
import os
import random
import struct
import subprocess
import sys
import zlib
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageChops, ImageCms

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.pictures import Plan, Source, inspect, plan, produce_all, produced
from handbill.pictures import source as source_module
from handbill.pictures.palette import MAX_ERROR, MAX_SHARE_ABOVE
from handbill.pictures.strip import stripped


@pytest.fixture
def cache(tmp_path: Path) -> Cache:
    return Cache(tmp_path / "cache")


def noise(width: int, height: int, mode: str = "RGB") -> Image.Image:
    """A picture that no encoder can call flat, the same every time."""
    data = random.Random(width * 10_007 + height).randbytes(width * height * len(mode))
    return Image.frombytes(mode, (width, height), data)


def saved(image: Image.Image, path: Path, **how: Any) -> Path:
    image.save(path, **how)
    return path


def reopened(data: bytes) -> Image.Image:
    image = Image.open(BytesIO(data))
    image.load()
    return image


def png_chunks(data: bytes) -> list[tuple[str, bytes]]:
    """Chunk names and contents, every CRC checked (PNG 5.3; row I06: signature and IEND)."""
    assert data.startswith(bytes.fromhex("89504E470D0A1A0A"))
    assert data.endswith(bytes.fromhex("0000000049454E44AE426082"))
    chunks, at = [], 8
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        body = data[at + 4 : at + 8 + length]
        assert struct.unpack_from(">I", data, at + 8 + length) == (zlib.crc32(body),)
        chunks.append((body[:4].decode(), body[4:]))
        at += 12 + length
    return chunks


def jpeg_segments(data: bytes) -> list[tuple[int, bytes]]:
    """Markers and contents up to the first scan (T.81, B.1.1.4; row I09: FFD8 first, FFD9 last)."""
    assert (data[:2], data[-2:]) == (b"\xff\xd8", b"\xff\xd9")
    segments, at = [], 2
    while not segments or segments[-1][0] != 0xDA:
        assert data[at] == 0xFF
        (length,) = struct.unpack_from(">H", data, at + 2)
        segments.append((data[at + 1], data[at + 4 : at + 2 + length]))
        at += 2 + length
    return segments


def header(width: int, height: int) -> bytes:
    """A PNG that claims a size and holds no pixels."""
    ihdr = b"IHDR" + struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunk = struct.pack(">I", 13) + ihdr + struct.pack(">I", zlib.crc32(ihdr))
    return bytes.fromhex("89504E470D0A1A0A") + chunk + bytes.fromhex("0000000049454E44AE426082")


def test_crc_of_a_header() -> None:
    """Row I07 (PNG Annex D): the check value, and IHDR of a 1 x 1 px 8-bit RGB picture."""
    assert zlib.crc32(b"123456789") == 0xCBF43926
    assert header(1, 1)[29:33] == bytes.fromhex("907753DE")


# --- inspecting ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "bmp", "tiff", "gif"])
def test_facts_by_kind(tmp_path: Path, cache: Cache, suffix: str) -> None:
    path = saved(noise(40, 30), tmp_path / f"a.{suffix}")
    seen = inspect(path, cache)
    assert (seen.width, seen.height, seen.alpha, seen.animated, seen.flat) == (40, 30, False, False, False)
    assert seen.kind == {"jpg": "jpeg"}.get(suffix, suffix)
    assert seen.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert inspect(path, Cache(tmp_path / "other")) == seen == inspect(path, cache)


def test_alpha_means_that_something_is_not_opaque(tmp_path: Path, cache: Cache) -> None:
    opaque = Image.new("RGBA", (9, 9), (1, 2, 3, 255))
    assert not inspect(saved(opaque, tmp_path / "opaque.png"), cache).alpha
    opaque.putpixel((4, 4), (1, 2, 3, 254))
    assert inspect(saved(opaque, tmp_path / "nearly.png"), cache).alpha
    keyed = Image.new("RGB", (9, 9), (1, 2, 3))  # PNG 11.3.1.1: tRNS names one colour as transparent
    assert inspect(saved(keyed, tmp_path / "keyed.png", transparency=(1, 2, 3)), cache).alpha


def files_refused(folder: Path) -> dict[str, tuple[bytes, str]]:
    jpeg, png, webp, tiff, pages = (BytesIO() for _ in range(5))
    noise(64, 64).save(jpeg, "JPEG")
    noise(64, 64).save(png, "PNG")
    noise(8, 8).save(webp, "WEBP", save_all=True, append_images=[noise(8, 9).crop((0, 0, 8, 8))])
    Image.new("F", (4, 4)).save(tiff, "TIFF")
    noise(8, 8).save(pages, "TIFF", save_all=True, append_images=[noise(8, 8)])
    broken = bytearray(png.getvalue())
    broken[200] ^= 0xFF
    return {
        "empty.png": (b"", "picture empty.png is empty"),
        "words.jpg": (b"Dear all, the picture follows.", "is not a picture that can be read"),
        "mark.svg": (b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg"/>', "SVG: refused"),
        "page.png": (b"<!DOCTYPE html><title>404</title>", "is a web page"),
        "ad.pdf": (b"%PDF-1.7 ...", "is a PDF"),
        "all.zip": (b"PK\x03\x04....", "is an archive"),
        "mark.svgz": (b"\x1f\x8b\x08....", "is an archive"),
        "all.tar": (b"\0" * 257 + b"ustar\0", "is an archive"),
        "phone.heic": (b"\0\0\0\x18ftypheic\0\0\0\0", "is a HEIC picture"),
        "half.jpg": (jpeg.getvalue()[:2000], "half.jpg is damaged"),
        "half.png": (png.getvalue()[:2000], "half.png is damaged"),
        "flipped.png": (bytes(broken), "flipped.png is damaged"),
        "wide.png": (header(8000, 5001), "is 8000 x 5001 px; the limit is 40 megapixels"),
        "bomb.png": (header(10_000, 10_000), "too many pixels"),
        "huge.png": (header(50_000, 50_000), "too many pixels"),
        "moving.webp": (webp.getvalue(), "is an animated WEBP"),
        "float.tiff": (tiff.getvalue(), "pixels of kind F"),
        "pages.tiff": (pages.getvalue(), "holds several pages"),
    }


@pytest.mark.parametrize("name", sorted(files_refused(Path())))
def test_refused_in_one_line(tmp_path: Path, cache: Cache, name: str) -> None:
    data, message = files_refused(tmp_path)[name]
    (tmp_path / name).write_bytes(data)
    for _ in range(2):  # a refusal is not forgotten, nor taken for a fact
        with pytest.raises(Fault) as caught:
            inspect(tmp_path / name, cache)
        assert message in caught.value.message
        assert name in caught.value.message
        assert "\n" not in caught.value.message


def test_refused_before_reading(tmp_path: Path, cache: Cache) -> None:
    large = tmp_path / "large.png"
    large.touch()
    os.truncate(large, 30_000_001)
    for path, message in [
        (tmp_path / "none.png", "no picture file none.png"),
        (large / "below.png", "no picture file below.png"),
        (tmp_path, "is not a file"),
        (large, "is 30.0 MB; the limit is 30 MB"),
        (tmp_path / ("x" * 300), "cannot be read"),
    ]:
        with pytest.raises(Fault, match=message):
            inspect(path, cache)


def test_a_warm_run_hashes_once_and_imports_no_pillow(tmp_path: Path, cache: Cache) -> None:
    path = saved(noise(300, 200), tmp_path / "a.jpg")
    produced(plan(inspect(path, cache), width=100), cache)
    code = f"""
import sys
from pathlib import Path
import handbill.pictures.source as s
from handbill.base.cache import Cache
from handbill.pictures import inspect, plan, produce_all, produced
hashes, real = [], s.sha256
s.sha256 = lambda data: hashes.append(len(data)) or real(data)
cache = Cache(Path({str(tmp_path / "cache")!r}))
plans = [plan(inspect(Path({str(path)!r}), cache), width=100) for _ in range(3)]
produce_all(plans, cache, 2)
print(len(produced(plans[0], cache)) > 1000, len(hashes), "PIL" in sys.modules)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["True", "1", "False"]


def test_a_file_that_changes_is_seen(tmp_path: Path, cache: Cache) -> None:
    path = saved(noise(30, 30), tmp_path / "a.png")
    before = inspect(path, cache)
    saved(noise(31, 30), path)
    assert inspect(path, cache).width == 31
    with pytest.raises(Fault, match=r"a\.png changed while"):
        produced(plan(before, width=10), cache)


def test_cached_facts_that_make_no_sense_are_looked_up_again(tmp_path: Path, cache: Cache) -> None:
    path = saved(noise(30, 30), tmp_path / "a.png")
    seen = inspect(path, cache)
    for junk in (b"", b"[]", b'{"width": 3}'):
        cache.put(f"picture facts {source_module._FACTS} {seen.sha256}", junk)
        assert inspect(path, cache) == seen


# --- planning -----------------------------------------------------------------------------------------------


def source(width: int, height: int, **facts: Any) -> Source:
    base: dict[str, Any] = {"alpha": False, "animated": False, "flat": False, "kind": "jpeg"}
    base |= {"path": Path("Grüne Kanne (neu).JPG"), "sha256": "00" * 32}
    return Source(width=width, height=height, **(base | facts))


def test_twice_the_slot() -> None:
    """Row I11: the file's width is twice the width attribute; 600 px of slot, 1200 px of file."""
    made = plan(source(2400, 1600), width=600)
    assert (made.width, made.height, made.pixels, made.short_of_density) == (600, 400, (1200, 800), False)
    assert plan(source(1200, 801), width=600).pixels == (1200, 801)
    assert plan(source(2400, 1600), width=600, density=3).pixels == (1800, 1200)


def test_never_enlarged() -> None:
    made = plan(source(900, 600), width=600)
    assert (made.width, made.height, made.pixels, made.short_of_density) == (600, 400, (900, 600), True)
    assert plan(source(3, 600), width=600, part=(0, 100)).pixels[0] == 3


def test_ratio_crops_around_the_focus() -> None:
    square = {"width": 100, "ratio": (1, 1)}
    assert plan(source(900, 600), **square).box == (150, 0, 750, 600)
    assert plan(source(900, 600), **square, focus=(0, 0)).box == (0, 0, 600, 600)
    assert plan(source(900, 600), **square, focus=(0.9, 0.5)).box == (300, 0, 900, 600)
    assert plan(source(600, 900), **square, focus=(0.5, 0.4)).box == (0, 60, 600, 660)
    assert plan(source(900, 600), width=600, ratio=(3, 1)).height == 200


@pytest.mark.parametrize(
    ("how", "message"),
    [
        ({"width": 0}, "0 px wide"),
        ({"width": 9, "density": 0}, "0 pixels"),
        ({"width": 9, "ratio": (3, 0)}, "ratio 3:0"),
        ({"width": 9, "focus": (0.5, 1.5)}, "focus 0.5, 1.5"),
        ({"width": 300, "part": (0, 201)}, "part 0-201"),
        ({"width": 300, "part": (50, 50)}, "part 50-50"),
        ({"width": 9000, "part": (0, 1)}, "no row"),
        ({"width": 9, "ground": "beige"}, "beige is no colour"),
    ],
)
def test_impossible_plans(how: dict[str, Any], message: str) -> None:
    with pytest.raises(Fault, match=message):
        plan(source(300, 200, alpha=True), **how)


def test_names() -> None:
    """A readable stem that any server takes, and a hash of the bytes and of what is done to them."""
    made = plan(source(900, 600), width=300)
    stem, _, rest = made.name.rpartition("-")
    assert (stem, len(rest), rest[12:]) == ("grune-kanne-neu", 16, ".jpg")
    others = [
        plan(source(900, 600), width=301),
        plan(source(900, 600, sha256="11" * 32), width=300),
        plan(source(900, 600), width=300, part=(0, 100)),
        plan(source(900, 600), width=300, ratio=(1, 1)),
        plan(source(900, 600, alpha=True), width=300, ground="#fff"),
        plan(source(900, 600, alpha=True), width=300, ground="#ffe"),
    ]
    assert len({made, *others}) == len({made.name} | {other.name for other in others}) == 7
    assert plan(source(900, 600), width=300, ground="#FFF") == made
    assert plan(source(900, 600, path=Path("/elsewhere/日本.jpg")), width=300).name == f"picture-{rest}"
    assert plan(source(900, 600), width=300, focus=(0.2, 0.2)) == made


@given(
    st.integers(1, 3000), st.integers(1, 3000), st.integers(1, 700), st.integers(1, 3), st.data(),
    st.none() | st.tuples(st.integers(1, 20), st.integers(1, 20)),
)  # fmt: skip
def test_parts_join(
    across: int, down: int, width: int, density: int, data: st.DataObject, ratio: tuple[int, int] | None
) -> None:
    """Wherever a picture is cut, its parts hold each row of pixels and each CSS px once, in order."""
    whole = plan(source(across, down), width=width, density=density, ratio=ratio)
    assert whole.pixels[0] <= min(across, width * density)
    assert whole.pixels[1] <= down
    assert 0 <= whole.box[0] < whole.box[2] <= across
    assert 0 <= whole.box[1] < whole.box[3] <= down
    cut = data.draw(st.integers(0, whole.height))
    parts: list[Plan] = []
    for edges in ((0, cut), (cut, whole.height)):
        try:
            parts.append(plan(source(across, down), width=width, density=density, ratio=ratio, part=edges))
        except Fault:
            continue  # a part without a row, or of no height: the other holds everything
    assert sum(part.pixels[1] for part in parts) == whole.pixels[1]
    assert [parts[0].rows[0], parts[-1].rows[1]] == list(whole.rows)
    assert len(parts) == 1 or parts[0].rows[1] == parts[1].rows[0]
    assert len(parts) == 1 or sum(part.height for part in parts) == whole.height


# --- producing ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("across", "down", "height"), [(150, 187, 75), (121, 151, 75), (61, 76, 75)])
def test_two_parts_put_together_are_the_whole(
    tmp_path: Path, cache: Cache, across: int, down: int, height: int
) -> None:
    """A picture cut in two: no row twice, none lost. PNG, so that pixels compare exactly."""
    seen = inspect(saved(noise(across, down, "RGBA"), tmp_path / "a.png"), cache)
    whole = plan(seen, width=60)
    assert whole.height == height
    parts = [plan(seen, width=60, part=(0, 20)), plan(seen, width=60, part=(20, height))]
    joined = Image.new("RGBA", whole.pixels)
    joined.paste(reopened(produced(parts[0], cache)).convert("RGBA"), (0, 0))
    joined.paste(reopened(produced(parts[1], cache)).convert("RGBA"), (0, parts[0].pixels[1]))
    assert joined.tobytes() == reopened(produced(whole, cache)).convert("RGBA").tobytes()


def test_a_hero_cut_at_200() -> None:
    """At full density a CSS px is two rows, so the cut lies at row 400."""
    parts = [plan(source(1600, 2000), width=600, part=edges) for edges in ((0, 200), (200, 750))]
    assert [part.rows for part in parts] == [(0, 400), (400, 1500)]
    assert [(part.height, part.pixels) for part in parts] == [(200, (1200, 400)), (550, (1200, 1100))]


# EXIF 2.32, 4.6.4 A, Orientation: where row 0 and column 0 of what is stored lie in what is seen.
ORIENTATIONS = {
    1: ("top", "left"), 2: ("top", "right"), 3: ("bottom", "right"), 4: ("bottom", "left"),
    5: ("left", "top"), 6: ("right", "top"), 7: ("right", "bottom"), 8: ("left", "bottom"),
}  # fmt: skip


@pytest.mark.parametrize("orientation", ORIENTATIONS)
def test_exif_orientation(tmp_path: Path, cache: Cache, orientation: int) -> None:
    upright = noise(3, 2, "RGBA")
    row_edge, column_edge = ORIENTATIONS[orientation]
    turned = row_edge in ("left", "right")
    stored = Image.new("RGBA", (2, 3) if turned else (3, 2))
    for row in range(stored.height):
        for column in range(stored.width):
            at = {row_edge: row, column_edge: column}
            x = at["left"] if "left" in at else 2 - at["right"]
            y = at["top"] if "top" in at else 1 - at["bottom"]
            stored.putpixel((column, row), upright.getpixel((x, y)) or 0)
    exif = Image.Exif()
    exif[0x0112] = orientation
    seen = inspect(saved(stored, tmp_path / "a.png", exif=exif), cache)
    assert (seen.width, seen.height) == (3, 2)
    made = plan(seen, width=3)
    assert (made.pixels, made.content_type) == ((3, 2), "image/png")
    assert reopened(produced(made, cache)).convert("RGBA").tobytes() == upright.tobytes()


def swapped_profile() -> bytes:
    """The sRGB profile with its red and green primaries exchanged (ICC.1:2022, 9.2.44: rXYZ, gXYZ)."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    profile = profile.replace(b"rXYZ", b"____", 1).replace(b"gXYZ", b"rXYZ", 1).replace(b"____", b"gXYZ", 1)
    return profile.replace("sRGB".encode("utf-16-be"), "Swap".encode("utf-16-be"))


def test_embedded_profile_is_applied(tmp_path: Path, cache: Cache) -> None:
    """Red in a space whose red and green are exchanged is green; a damaged profile counts for nothing."""
    red = Image.new("RGB", (16, 16), (255, 0, 0))
    for name, profile, expected in [
        ("swap.png", swapped_profile(), (0, 255, 0)),
        ("junk.png", b"not a profile", (255, 0, 0)),
        ("srgb.png", ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(), (255, 0, 0)),
    ]:
        made = produced(
            plan(inspect(saved(red, tmp_path / name, icc_profile=profile), cache), width=8), cache
        )
        shown = reopened(made).convert("RGB").getpixel((5, 5))
        assert isinstance(shown, tuple)
        assert max(abs(one - other) for one, other in zip(shown, expected, strict=True)) <= 1, name
        assert "icc_profile" not in reopened(made).info


def test_other_pixels_are_converted(tmp_path: Path, cache: Cache) -> None:
    """Among them 16-bit grey: 0x8080 is level 128 of 255 (PNG 12.4, linear scaling)."""
    deep = Image.frombytes("I;16", (16, 16), struct.pack("<H", 0x8080) * 256)
    for name, image, expected in [
        ("cmyk.jpg", Image.new("CMYK", (16, 16), (0, 255, 255, 0)), (255, 0, 0, 255)),
        ("deep.png", deep, (128, 128, 128, 255)),
        ("bit.png", Image.new("1", (16, 16), 1), (255, 255, 255, 255)),
        ("palette.gif", Image.new("RGB", (16, 16), "#336699").convert("P"), (0x33, 0x66, 0x99, 255)),
        ("grey.png", Image.new("LA", (16, 16), (90, 120)), (90, 90, 90, 120)),
    ]:
        made = produced(plan(inspect(saved(image, tmp_path / name), cache), width=16), cache)
        shown = reopened(made).convert("RGBA").getpixel((5, 5))
        assert isinstance(shown, tuple)
        assert max(abs(one - other) for one, other in zip(shown, expected, strict=True)) <= 2, name


def test_jpeg_is_plain_and_says_nothing_of_its_past(tmp_path: Path, cache: Cache) -> None:
    """T.81 B.2.2: baseline, every component sampled 1 x 1 (4:4:4); of APPn and COM only JFIF is left."""
    exif = Image.Exif()
    exif[0x010E], exif[0x8825] = "at home", {1: "N", 2: (52.0, 31.0, 12.0)}
    how: dict[str, Any] = {"exif": exif, "comment": b"by me", "dpi": (300, 300), "progressive": True}
    path = saved(noise(200, 100), tmp_path / "a.jpg", icc_profile=swapped_profile(), **how)
    for width in (40, 60):
        made = produced(plan(inspect(path, cache), width=width), cache)
        segments = jpeg_segments(made)
        assert [marker for marker, _ in segments if 0xE0 <= marker <= 0xEF or marker == 0xFE] == [0xE0]
        assert segments[0][1].startswith(b"JFIF\0")
        (frame,) = [body for marker, body in segments if marker == 0xC0]
        assert struct.unpack(">BHHB", frame[:6]) == (8, width, width * 2, 3)
        assert frame[7::3] == b"\x11\x11\x11"
        assert b"at home" not in made


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_jpeg_of_the_right_size_keeps_its_coding(
    tmp_path: Path, cache: Cache, mode: str, progressive: bool
) -> None:
    """T.81 annex B: without APPn and COM a JPEG decodes to the same pixels; what follows its end goes."""
    path = tmp_path / "a.jpg"
    exif = Image.Exif()
    exif[0x010E] = "at home"
    how: dict[str, Any] = {"quality": 60, "exif": exif, "comment": b"by me", "dpi": (300, 300)}
    saved(noise(200, 100, mode), path, progressive=progressive, restart_marker_blocks=3, **how)
    path.write_bytes(path.read_bytes() + b"and a film behind it")
    made = produced(plan(inspect(path, cache), width=100), cache)
    assert reopened(made).tobytes() == reopened(path.read_bytes()).tobytes()
    assert [body for marker, body in jpeg_segments(made) if 0xE0 <= marker <= 0xEF or marker == 0xFE] == [
        b"JFIF\0\x01\x01\0\0\x01\0\x01\0\0"
    ]
    heavy = plan(inspect(saved(noise(200, 100, mode), path, quality=98), cache), width=100)
    assert len(produced(heavy, cache)) < path.stat().st_size * 0.7  # coded again


def test_adobe_segment_keeps_the_colours(tmp_path: Path, cache: Cache) -> None:
    """T.872, 6.5.3: transform 0 in APP14 means that the components are R, G and B themselves."""
    path = saved(noise(64, 64), tmp_path / "a.jpg", quality=20, keep_rgb=True)
    assert b"Adobe" in path.read_bytes()
    made = produced(plan(inspect(path, cache), width=32), cache)
    assert reopened(made).tobytes() == reopened(path.read_bytes()).tobytes()


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff\xd8",
        b"\xff\xd8\xff\xda\0\x02ab\xff\0",  # a scan without an end
        b"\xff\xd8\xff\xe1\xff\xff\0\0\0",  # a segment that leaves the file
        b"\xff\xd8\xff\xff\xff\xff\xff\xff",
    ],
)
def test_malformed_jpeg_is_not_stripped(data: bytes) -> None:
    assert stripped(data) is None


def test_png_holds_only_what_draws(tmp_path: Path, cache: Cache) -> None:
    """PNG 11: critical chunks and tRNS; no text, time, profile, resolution or EXIF."""
    exif = Image.Exif()
    exif[0x010E] = "at home"
    for mode in ("RGB", "RGBA"):
        flat = Image.new(mode, (64, 64), "#123456")
        flat.paste(noise(32, 32, mode).resize((32, 32)), (0, 0))
        flat.putpixel((63, 63), (0, 0, 0, 90)[: len(mode)])
        path = saved(flat, tmp_path / f"{mode}.png", exif=exif, dpi=(72, 72), icc_profile=b"junk")
        chunks = png_chunks(produced(plan(inspect(path, cache), width=32), cache))
        assert {name for name, _ in chunks} <= {"IHDR", "PLTE", "tRNS", "IDAT", "IEND"}
        assert struct.unpack(">II", chunks[0][1][:8]) == (64, 64)


def test_jpeg_steps_hold_even_blocks(tmp_path: Path, cache: Cache) -> None:
    """T.81 A.3.3: an even block's DC coefficient is 8 x its level; a step below 8 errs by under half."""
    made = produced(plan(inspect(saved(noise(64, 64), tmp_path / "a.png"), cache), width=32), cache)
    tables = [body for marker, body in jpeg_segments(made) if marker == 0xDB]
    steps = [table[at + 1] for table in tables for at in range(0, len(table), 65)]  # B.2.4.1: 8-bit entries
    assert len(steps) == 2
    assert max(steps) < 8


@pytest.mark.parametrize("seed", range(6))
def test_even_ground_keeps_its_colour_in_jpeg(tmp_path: Path, cache: Cache, seed: int) -> None:
    """A cut-out on the page's colour must not show its edge: 1 level off at most, YCbCr's rounding."""
    picture = Image.new("RGBA", (128, 128))
    picture.paste(noise(72, 72), (28, 28))
    seen = inspect(saved(picture, tmp_path / "cutout.png"), cache)
    for colour in (random.Random(seed * 100 + number).randbytes(3) for number in range(8)):
        made = plan(seen, width=64, ground="#" + colour.hex())
        assert made.content_type == "image/jpeg"
        shown = reopened(produced(made, cache))
        even = Image.new("RGB", shown.size, tuple(colour))
        for box in ((0, 0, 128, 24), (0, 104, 128, 128), (0, 0, 24, 128), (104, 0, 128, 128)):
            difference = ImageChops.difference(shown, even).crop(box)
            assert max(high for _, high in difference.getextrema()) <= 1  # type: ignore[misc]


def test_ground_under_drawn_art_is_exact(tmp_path: Path, cache: Cache) -> None:
    mark = Image.new("RGBA", (64, 64))
    mark.paste((200, 30, 40, 255), (16, 16, 48, 48))
    seen = inspect(saved(mark, tmp_path / "mark.png"), cache)
    made = plan(seen, width=16, ground="#f4efe6")
    assert (seen.flat, made.content_type) == (True, "image/png")
    shown = reopened(produced(made, cache))
    assert shown.convert("RGB").getpixel((1, 1)) == (0xF4, 0xEF, 0xE6)
    assert "transparency" not in shown.info


def drawn(size: int) -> Image.Image:
    """Rings of four colours with soft edges, as a drawing program leaves them."""
    large = Image.new("RGBA", (size * 2, size * 2))
    for inset, colour in enumerate(
        [(180, 60, 20, 255), (250, 240, 220, 255), (30, 60, 90, 255), (90, 160, 70, 200)]
    ):
        disc = Image.new("L", large.size)
        edge = (inset * 2 + 1) * size // 9
        disc.paste(
            Image.radial_gradient("L").point([255] * 128 + [0] * 128).resize([size * 2 - 2 * edge] * 2),
            [edge] * 2,
        )
        large.paste(colour, (0, 0), disc)
    return large.resize((size, size), Image.Resampling.LANCZOS)


def test_fewer_colours_only_within_the_stated_error(tmp_path: Path, cache: Cache) -> None:
    """Measured again with Pillow, premultiplied ("RGBa"), on the file that came out."""
    seen = inspect(saved(drawn(400), tmp_path / "rings.png"), cache)
    made = produced(plan(seen, width=100), cache)
    chunks = dict(png_chunks(made))
    assert chunks["IHDR"][8:10] == b"\x08\x03"  # PNG 11.2.1: 8 bits, indexed
    before = drawn(400).resize((200, 200), Image.Resampling.LANCZOS).convert("RGBa").tobytes()
    after = reopened(made).convert("RGBA").convert("RGBa").tobytes()
    errors = [abs(one - other) for one, other in zip(before, after, strict=True)]
    worst = [max(errors[at : at + 4]) for at in range(0, len(errors), 4)]
    assert 0 < sum(worst) / len(worst) <= 0.6  # "RGBa" rounds by itself
    assert sum(error > MAX_ERROR + 1 for error in worst) <= MAX_SHARE_ABOVE * len(worst)


def test_shading_keeps_all_its_colours(tmp_path: Path, cache: Cache) -> None:
    """PNG 11.2.1, colour type 6 (true colour with alpha), and not a level lost when nothing is resized."""
    picture = noise(150, 150, "RGBA")
    made = produced(plan(inspect(saved(picture, tmp_path / "a.png"), cache), width=75), cache)
    assert dict(png_chunks(made))["IHDR"][8:10] == b"\x08\x06"
    difference = ImageChops.difference(
        reopened(made).convert("RGBa"), picture.convert("RGBa")
    )  # hidden colours go
    assert difference.getbbox() is None


def test_transparent_pixels_hide_nothing(tmp_path: Path, cache: Cache) -> None:
    picture = Image.new("RGBA", (32, 32), (250, 1, 2, 0))
    picture.paste((9, 9, 9, 255), (0, 0, 8, 8))
    made = produced(plan(inspect(saved(picture, tmp_path / "a.png"), cache), width=16), cache)
    assert {pixel for _, pixel in reopened(made).convert("RGBA").getcolors() or []} == {
        (0, 0, 0, 0),
        (9, 9, 9, 255),
    }


def moving(path: Path, **how: Any) -> Path:
    frames = [Image.new("RGB", (400, 100), colour) for colour in ("#000", "#f00", "#0f0")]
    for number, frame in enumerate(frames):
        frame.paste("#fff", (number * 100, 0, number * 100 + 90, 100))
    frames[0].save(path, save_all=True, append_images=frames[1:], duration=[120, 50, 1000], **how)
    return path


def test_animation_that_fits_stays_as_it_is(tmp_path: Path, cache: Cache) -> None:
    seen = inspect(moving(tmp_path / "a.gif", loop=3), cache)
    made = plan(seen, width=200)
    assert (seen.animated, made.untouched, made.content_type) == (True, True, "image/gif")
    assert produced(made, cache) == (tmp_path / "a.gif").read_bytes()


@pytest.mark.parametrize("loop", [0, 3, None])
def test_wide_animation_keeps_its_pace(tmp_path: Path, cache: Cache, loop: int | None) -> None:
    """GIF89a 17 and 23, rows I01 to I04: delays in 1/100 s, the loop count in its extension or absent."""
    how = {} if loop is None else {"loop": loop}
    made = plan(inspect(moving(tmp_path / "a.gif", **how), cache), width=100)
    data = produced(made, cache)
    assert data.startswith(b"GIF89a")
    assert struct.unpack("<HH", data[6:10]) == made.pixels == (200, 50)
    controls = data.split(b"\x21\xf9\x04")[1:]
    assert [struct.unpack("<H", control[1:3])[0] for control in controls] == [12, 5, 100]
    extension = b"\x21\xff\x0bNETSCAPE2.0\x03\x01"
    at = data.find(extension)
    assert (at < 0) == (loop is None)
    assert loop is None or struct.unpack_from("<HB", data, at + len(extension)) == (loop, 0)
    shown: Any = reopened(data)
    shown.seek(2)
    assert shown.convert("RGB").getpixel((10, 25)) == (0, 255, 0)
    assert shown.convert("RGB").getpixel((120, 25)) == (255, 255, 255)


def test_animation_with_holes(tmp_path: Path, cache: Cache) -> None:
    """Each frame is cleared before the next (GIF89a 23.c.iv: disposal 2), so that holes stay holes."""
    frames = []
    for number in range(3):
        frame = Image.new("RGBA", (90, 30))
        frame.paste((200, 0, 0, 255), (number * 30, 0, number * 30 + 30, 30))
        frames.append(frame)
    frames[0].save(
        tmp_path / "a.gif", save_all=True, append_images=frames[1:], duration=100, disposal=2, loop=0
    )
    seen = inspect(tmp_path / "a.gif", cache)
    assert seen.alpha
    shown: Any = reopened(produced(plan(seen, width=15), cache))
    shown.seek(2)
    alphas = [shown.convert("RGBA").getpixel((x, 5))[3] for x in (5, 15, 25)]
    assert (shown.n_frames, alphas) == (3, [0, 0, 255])


def test_same_bytes_whatever_the_hash_seed(tmp_path: Path, cache: Cache) -> None:
    paths = [
        saved(noise(120, 90), tmp_path / "photo.jpg"),
        saved(drawn(200), tmp_path / "rings.png"),
        saved(noise(60, 60, "RGBA"), tmp_path / "shaded.png"),
        moving(tmp_path / "moving.gif"),
    ]
    code = """
import hashlib, sys
from pathlib import Path
from handbill.base.cache import Cache
from handbill.pictures import inspect, plan, produced
cache = Cache(Path(sys.argv[1]))
for path in sys.argv[2:]:
    print(hashlib.sha256(produced(plan(inspect(Path(path), cache), width=30), cache)).hexdigest())
"""
    outputs = []
    for seed in ("1", "2"):
        command = [sys.executable, "-c", code, str(tmp_path / f"cache{seed}"), *map(str, paths)]
        environment = os.environ | {"PYTHONHASHSEED": seed}
        outputs.append(
            subprocess.run(command, capture_output=True, text=True, check=True, env=environment).stdout
        )
    ours = [produced(plan(inspect(path, cache), width=30), cache) for path in paths]
    assert outputs[0] == outputs[1] == "".join(hashlib.sha256(data).hexdigest() + "\n" for data in ours)


def test_produce_all_fills_the_cache(tmp_path: Path, cache: Cache) -> None:
    """Once made, a picture needs its source no more; one that fails does not stop the others."""
    paths = [saved(noise(80, 60 + number), tmp_path / f"{number}.jpg") for number in range(5)]
    plans = [plan(inspect(path, cache), width=20) for path in paths]
    paths[1].unlink()
    with pytest.raises(Fault, match=r"no picture file 1\.jpg"):
        produce_all(plans, cache, jobs=3)
    for path in paths:
        path.unlink(missing_ok=True)
    assert [reopened(produced(made, cache)).height for made in plans if made is not plans[1]] == [
        30,
        32,
        32,
        32,
    ]
    produce_all([plans[0], plans[0], plans[4]], cache, jobs=1)


def test_a_cache_that_cannot_be_used_costs_time_only(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    unusable = Cache(tmp_path / "file")
    made = plan(inspect(saved(noise(80, 60), tmp_path / "a.jpg"), unusable), width=20)
    produce_all([made], unusable, jobs=2)
    assert produced(made, unusable) == produced(made, Cache(tmp_path / "good"))
