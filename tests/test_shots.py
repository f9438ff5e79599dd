"""A subject taken off its backdrop, against the same subject put on the other ground in the first place.

Source: Porter and Duff's `over` (SIGGRAPH 1984), by hand, of layers that are known since they are drawn here.
"""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFilter

from handbill.pictures.lay import on_ground
from handbill.pictures.shots import alone

SIZE, FINE = (700, 700), 4
THING = (250, 200, 450, 520)


def mask_of(box: tuple[int, int, int, int], round_by: int) -> Image.Image:
    large = Image.new("L", (SIZE[0] * FINE, SIZE[1] * FINE))
    ImageDraw.Draw(large).rounded_rectangle([one * FINE for one in box], round_by * FINE, fill=255)
    return large.resize(SIZE, Image.Resampling.BOX)


def layers(steel: bool) -> tuple[Image.Image, Image.Image, Image.Image]:
    """A thing, where it is, and how dark its shadow is. Steel has bands of grey, as shiny things do."""
    thing = Image.new("RGB", SIZE, "#b8502c")
    if steel:
        pen = ImageDraw.Draw(thing)
        for number, level in enumerate((90, 150, 215, 235, 180, 120, 100, 140, 190, 110)):
            pen.rectangle((250 + 20 * number, 0, 270 + 20 * number, 700), fill=(level, level, level + 3))
        pen.rectangle((0, 0, 700, 460), fill="#2c4a66")
        thing = thing.filter(ImageFilter.GaussianBlur(2))
    large = Image.new("L", SIZE)
    ImageDraw.Draw(large).ellipse((270, 490, 500, 545), fill=170)
    return thing, mask_of(THING, 18), large.filter(ImageFilter.GaussianBlur(12))


def put_on(ground: str, steel: bool) -> Image.Image:
    thing, where, dark = layers(steel)
    under = Image.composite(Image.new("RGB", SIZE, "#000000"), Image.new("RGB", SIZE, ground), dark)
    return Image.composite(thing, under, where)


def levels(image: Image.Image) -> np.ndarray:
    return np.asarray(image.convert("RGB"), int)


@pytest.mark.parametrize("ground", ["#ffffff", "#e4e6ea", "#f2ead8"])
@pytest.mark.parametrize("steel", [False, True])
def test_on_another_ground_it_looks_as_if_it_had_stood_there(steel: bool, ground: str) -> None:
    """No light seam at its rim, nor bites where it stands: on a dark tile both would be seen first."""
    made = levels(on_ground(alone(put_on(ground, steel)), "#22273a"))
    wanted = levels(put_on("#22273a", steel))
    apart = np.abs(made - wanted).max(axis=2)
    where = np.asarray(layers(steel)[1])
    rim = (where > 0) & (where < 255)
    rim[455:] = False  # where it stands shadow and rim are one
    assert apart[where == 0].mean() < 3
    assert apart[rim].mean() < 25
    inside = np.asarray(Image.fromarray(where).filter(ImageFilter.MinFilter(9))) == 255
    assert (apart[inside] > 40).mean() < 0.05  # of grey on grey some is taken for shadow


def test_a_thing_that_is_small_in_its_picture_has_as_good_a_rim() -> None:
    small = Image.new("RGB", (2000, 2000), "#ffffff")
    small.paste(put_on("#ffffff", False), (900, 700))
    made = levels(on_ground(alone(small), "#22273a"))[700:1400, 900:1600]
    wanted = levels(put_on("#22273a", False))
    where = np.asarray(layers(False)[1])
    rim = (where > 0) & (where < 255)
    rim[455:] = False
    assert np.abs(made - wanted).max(axis=2)[rim].mean() < 25
