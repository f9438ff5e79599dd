"""Damaged picture files of every format: made into a picture or refused in one line, never a traceback.

Source: the formats' own encoders in Pillow write the files; the damage is seeded, so that each run is the
same.
"""

from __future__ import annotations

import random
import time
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from tests.odd_pictures import whole_files

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.pictures import inspect, plan, produced

TRIES = 60
LONGEST = 5.0  # seconds for one small file, on a slow machine
WAYS: dict[str, tuple[str, str, dict[str, Any]]] = {
    "jpeg": ("RGB", "JPEG", {}),
    "progressive": ("RGB", "JPEG", {"progressive": True}),
    "cmyk": ("CMYK", "JPEG", {}),
    "png": ("RGBA", "PNG", {}),
    "palette": ("P", "PNG", {"transparency": 3}),
    "deep": ("I;16", "PNG", {}),
    "gif": ("P", "GIF", {}),
    "webp": ("RGB", "WEBP", {}),
    "bmp": ("RGB", "BMP", {}),
    "tiff": ("RGB", "TIFF", {"compression": "tiff_lzw"}),
    "avif": ("RGB", "AVIF", {}),
}
ODD = {  # written by the standards' grammar: what Pillow does not write
    "interlaced": "type2-16bit-interlaced.png", "keyed": "type0-4bit-one-colour-clear.png",
    "profile": "profile-p3.jpg", "packed-profile": "profile-wide.png", "turned": "turned-6.jpg",
    "moving": "",
}  # fmt: skip
NAMES = (*WAYS, *ODD)


def whole(name: str) -> bytes:
    if name in ODD:
        return whole_files()[ODD[name]] if name != "moving" else moving()
    mode, form, how = WAYS[name]
    picture = Image.frombytes("RGB", (60, 40), random.Random(1).randbytes(60 * 40 * 3))
    made = picture.convert("I").convert("I;16") if mode == "I;16" else picture.convert(mode)
    out = BytesIO()
    made.save(out, form, **how)
    return out.getvalue()


def moving() -> bytes:
    """Three frames with their times, of which the later are smaller than the first."""
    frames = [Image.new("RGB", (60, 40), "#c03020") for _ in range(3)]
    for number, frame in enumerate(frames):
        frame.paste("#2050a0", (10 * number, 5, 10 * number + 8, 20))
    out = BytesIO()
    frames[0].save(out, "GIF", save_all=True, append_images=frames[1:], duration=[100, 250, 90], loop=0)
    return out.getvalue()


def damaged(data: bytes, dice: random.Random) -> bytes:
    """Bytes changed, cut off, doubled or taken out; more often near the front, where the sizes stand."""
    made = bytearray(data)
    for _ in range(dice.randint(1, 6)):
        at = dice.randrange(len(made)) if dice.random() < 0.5 else dice.randrange(min(len(made), 80))
        match dice.randrange(5):
            case 0 | 1:
                made[at] = dice.choice((0, 1, 0x7F, 0x80, 0xFF, dice.randrange(256)))
            case 2:
                del made[at : at + dice.randint(1, 12)]
            case 3:
                made[at:at] = made[at : at + dice.randint(1, 40)]
            case _:
                if len(made) > 40 and dice.random() < 0.3:
                    del made[max(20, at) :]
        if not made:
            made = bytearray(b"\0")
    return bytes(made)


@pytest.mark.parametrize("name", NAMES)
def test_damage_ends_in_a_picture_or_in_one_line(
    name: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    data, dice, cache = whole(name), random.Random(f"damaged {name}"), Cache(tmp_path / "cache")
    said: list[tuple[str, str]] = []
    made = 0
    for number in range(TRIES):
        path = tmp_path / f"{number}.{name}"
        path.write_bytes(damaged(data, dice))
        began = time.monotonic()
        try:
            out = produced(plan(inspect(path, cache), width=30), cache)
        except Fault as fault:
            said.append((path.name, fault.message))
        else:
            with Image.open(BytesIO(out)) as picture:
                picture.load()
            made += 1
        assert time.monotonic() - began < LONGEST
    assert all(file in line and "\n" not in line for file, line in said)
    assert said
    assert capfd.readouterr() == ("", "")  # no decoder speaks for itself
    assert len(said) + made == TRIES


def test_a_whole_file_of_each_is_made(tmp_path: Path) -> None:
    """What the damage is done to is sound, so that a refusal above is the damage's."""
    cache = Cache(tmp_path / "cache")
    for name in NAMES:
        path = tmp_path / f"a.{name}"
        path.write_bytes(whole(name))
        assert produced(plan(inspect(path, cache), width=30), cache)
