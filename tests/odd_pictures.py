"""Picture files that are rare but whole, written by the standards' own grammar where Pillow cannot.

PNG (third edition), 5 to 11: chunks, colour types, depths, tRNS, Adam7; ICC.1:2022, 7 to 10: a matrix profile
with one curve; EXIF 2.32, 4.6.4 A. What they show is told beside them.
"""

from __future__ import annotations

import random
import struct
import zlib
from collections.abc import Sequence
from io import BytesIO
from typing import Any

from PIL import Image

# Colour types: their channels (PNG 11.2.1, table 9)
CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
# Adam7: first column and row, steps (PNG 8.2)
PASSES = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))
Samples = Sequence[Sequence[Sequence[int]]]  # rows, columns, channels


def chunk(name: bytes, data: bytes) -> bytes:
    """PNG 5.3: length, name, data, CRC."""
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def png(
    samples: Samples, kind: int, depth: int, *, interlaced: bool = False,
    before: Sequence[tuple[bytes, bytes]] = (),
) -> bytes:  # fmt: skip
    """A PNG of these samples; `before` are chunks that come before the pixels."""
    width, height = len(samples[0]), len(samples)
    parts = PASSES if interlaced else ((0, 0, 1, 1),)
    raw = b""
    for left, top, across, down in parts:
        rows = [row[left::across] for row in samples[top::down]]
        if rows and rows[0]:
            raw += b"".join(b"\0" + _packed(row, depth) for row in rows)
    head = struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, int(interlaced))
    chunks = [(b"IHDR", head), *before, (b"IDAT", zlib.compress(raw)), (b"IEND", b"")]
    return bytes.fromhex("89504E470D0A1A0A") + b"".join(chunk(*one) for one in chunks)


def _packed(row: Sequence[Sequence[int]], depth: int) -> bytes:
    """PNG 7.2: samples packed into bytes, the leftmost in the highest bits."""
    flat = [sample for pixel in row for sample in pixel]
    if depth == 16:
        return struct.pack(f">{len(flat)}H", *flat)
    bits = "".join(f"{sample:0{depth}b}" for sample in flat)
    bits += "0" * (-len(bits) % 8)
    return int(bits, 2).to_bytes(len(bits) // 8, "big")


def samples(width: int, height: int, channels: int, depth: int, seed: int = 1) -> list[list[list[int]]]:
    """A slope with some noise in every channel."""
    dice, top = random.Random(seed), (1 << depth) - 1
    return [
        [
            [min(top, (x * top // width + y * top // height) // 2 + dice.randrange(top // 8 + 1))
             for _ in range(channels)]
            for x in range(width)
        ]
        for y in range(height)
    ]  # fmt: skip


def in_8_bits(rows: Samples, depth: int) -> list[list[tuple[int, ...]]]:
    """PNG 13.12: linear scaling of samples to 255, rounded."""
    top = (1 << depth) - 1
    return [[tuple(round(sample * 255 / top) for sample in pixel) for pixel in row] for row in rows]


# -- ICC profiles


def _s15(*values: float) -> bytes:
    return struct.pack(f">{len(values)}i", *(round(value * 65536) for value in values))


# Primaries as CIE XYZ adapted to D50 (Bradford), and the gamma of one curve for all channels.
DISPLAY_P3 = ((0.51512, 0.24120, -0.00105), (0.29198, 0.69225, 0.04189), (0.15710, 0.06657, 0.78407))
WIDE_RGB = ((0.60974, 0.31111, 0.01947), (0.20528, 0.62567, 0.06087), (0.14919, 0.06322, 0.74457))
SRGB_CURVE = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
WIDE_CURVE = (2.19921875,)


def profile(
    primaries: Sequence[Sequence[float]], curve: Sequence[float], *, space: bytes = b"RGB ", more: int = 0
) -> bytes:
    """A display profile (ICC.1:2022, 8.3.3) with parametric curves (10.18) and `more` bytes of a tag."""
    kind = {1: 0, 5: 3}[len(curve)]
    trc = b"para" + bytes(4) + struct.pack(">HH", kind, 0) + _s15(*curve)
    trc += bytes(-len(trc) % 4)
    text = "A space".encode("utf-16-be")
    named = (
        b"mluc" + bytes(4) + struct.pack(">II", 1, 12) + b"enUS" + struct.pack(">II", len(text), 28) + text
    )
    named += bytes(-len(named) % 4)
    tags = [
        (b"desc", named), (b"cprt", named), (b"wtpt", b"XYZ " + bytes(4) + _s15(0.9642, 1, 0.82491)),
        *((name, b"XYZ " + bytes(4) + _s15(*one)) for name, one in
          zip((b"rXYZ", b"gXYZ", b"bXYZ"), primaries, strict=True)),
        *((name, trc) for name in (b"rTRC", b"gTRC", b"bTRC")),
        *([(b"prvt", b"data" + bytes(4) + random.Random(3).randbytes(more))] if more else []),
    ]  # fmt: skip
    at = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, data in tags:
        table += name + struct.pack(">II", at + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    size = at + len(body)
    head = struct.pack(">I4sI4s4s4s", size, bytes(4), 0x04200000, b"mntr", space, b"XYZ ")
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28) + _s15(0.9642, 1, 0.82491)
    return head.ljust(128, b"\0") + table + body


def with_profile(image: Image.Image, form: str, data: bytes) -> bytes:
    """The picture with an embedded profile."""
    out = BytesIO()
    how: dict[str, Any] = {"icc_profile": data}
    if form == "JPEG":
        how |= {"quality": 95, "subsampling": 0}
    image.save(out, form, **how)
    return out.getvalue()


# -- what there is of each


def _saved(image: Image.Image, form: str, **how: Any) -> bytes:
    out = BytesIO()
    image.save(out, form, **how)
    return out.getvalue()


def _without(data: bytes, marker: int) -> bytes:
    """A JPEG without its first segment of that kind (T.81, B.1.1.4)."""
    at = data.index(bytes((0xFF, marker)))
    (length,) = struct.unpack_from(">H", data, at + 2)
    return data[:at] + data[at + 2 + length :]


def slope(width: int = 13, height: int = 9, mode: str = "RGB") -> Image.Image:
    """Soft colours, so that a JPEG of them is close to them."""
    bands = [
        Image.linear_gradient("L").rotate(90 * turn).resize((width, height)) for turn in range(len(mode))
    ]
    return Image.merge(mode, [band.point([40 + one * 3 // 5 for one in range(256)]) for band in bands])


def whole_files() -> dict[str, bytes]:
    """Odd files that are to come out as they look, by name."""
    made: dict[str, bytes] = {}
    for kind, depth in ((0, 1), (0, 2), (0, 4), (0, 8), (0, 16), (2, 8), (2, 16), (4, 8), (4, 16), (6, 16)):
        for interlaced in (False, True):
            rows = samples(13, 9, CHANNELS[kind], depth)
            name = f"type{kind}-{depth}bit{'-interlaced' if interlaced else ''}.png"
            made[name] = png(rows, kind, depth, interlaced=interlaced)
    colours = random.Random(4).randbytes(48)
    for depth in (1, 2, 4):
        some = (b"PLTE", colours[: 3 << depth])
        clear = (b"tRNS", bytes((0, 60, 160))[: 1 << depth])
        made[f"palette-{depth}bit-clear.png"] = png(samples(13, 9, 1, depth), 3, depth, before=[some, clear])
    for depth, kind, form in (
        (1, 0, ">H"),
        (2, 0, ">H"),
        (4, 0, ">H"),
        (16, 0, ">H"),
        (8, 2, ">3H"),
        (16, 2, ">3H"),
    ):
        rows = samples(13, 9, CHANNELS[kind], depth)
        named = (b"tRNS", struct.pack(form, *rows[4][6]))
        made[f"type{kind}-{depth}bit-one-colour-clear.png"] = png(rows, kind, depth, before=[named])
    image, exif = slope(), Image.Exif()
    for turn in range(1, 9):
        exif[0x0112] = turn
        made[f"turned-{turn}.jpg"] = _saved(image, "JPEG", quality=98, subsampling=0, exif=exif)
    for name, data in (
        ("p3", profile(DISPLAY_P3, SRGB_CURVE)), ("wide", profile(WIDE_RGB, WIDE_CURVE)),
        ("huge", profile(DISPLAY_P3, SRGB_CURVE, more=600_000)),
        ("broken", profile(DISPLAY_P3, SRGB_CURVE)[:200]),
        ("for-ink", profile(DISPLAY_P3, SRGB_CURVE, space=b"CMYK")),
    ):  # fmt: skip
        made[f"profile-{name}.png"] = with_profile(image, "PNG", data)
        made[f"profile-{name}.jpg"] = with_profile(image, "JPEG", data)
    ink = _saved(slope(mode="CMYK"), "JPEG", quality=98)
    made |= {"cmyk.jpg": ink, "cmyk-unmarked.jpg": _without(ink, 0xEE)}
    made["progressive.jpg"] = _saved(image, "JPEG", quality=98, subsampling=0, progressive=True)
    made["grey.jpg"] = _saved(image.convert("L"), "JPEG", quality=98)
    made["more-behind-it.jpg"] = _saved(image, "JPEG", quality=98, subsampling=0) + b"and a film" * 90
    made["clear.webp"] = _saved(slope(mode="RGBA"), "WEBP", lossless=True, exact=True)
    made["photo.webp"] = _saved(image, "WEBP", quality=95)
    made["some-clear.gif"] = _saved(image.quantize(16), "GIF", transparency=3)
    made["bits.bmp"] = _saved(image.convert("1"), "BMP")
    made["colours.bmp"] = _saved(image, "BMP")
    return made
