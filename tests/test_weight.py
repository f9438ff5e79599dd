"""How light pictures come out, and how like the original they stay.

Sources: structural similarity as scikit-image computes it; JPEG quality tables by ITU-T T.81, annex K, as
Pillow scales them; the floor published in docs/pictures.md.
"""

from __future__ import annotations

import random
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from skimage import data as open_pictures
from skimage.metrics import structural_similarity

from handbill.base.cache import Cache
from handbill.pictures import inspect, plan, produced
from handbill.pictures.likeness import Original, likeness
from handbill.pictures.weight import FLOOR, QUALITIES, fewer, jpeg

SHOTS = Path(__file__).resolve().parents[1] / "demo/brands/orrowby/pictures"
PHOTOGRAPHS = ("chelsea", "coffee", "camera", "moon", "astronaut")


def photograph(name: str) -> Image.Image:
    return Image.fromarray(getattr(open_pictures, name)()).convert("RGB")


def coded(image: Image.Image, quality: int) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=quality, subsampling=0, optimize=True)
    return out.getvalue()


@pytest.mark.parametrize("name", PHOTOGRAPHS)
@pytest.mark.parametrize("quality", [20, 60, 90])
def test_likeness_is_structural_similarity(name: str, quality: int) -> None:
    first = photograph(name).resize((301, 207))
    second = Image.open(BytesIO(coded(first, quality)))
    wanted = structural_similarity(np.asarray(first.convert("L")), np.asarray(second.convert("L")))
    assert likeness(first, second) == pytest.approx(wanted, abs=1e-7)


def test_an_original_is_compared_again_and_again() -> None:
    """Taller than a band of rows, and not a whole number of bands."""
    first = photograph("camera").resize((97, 203))
    original = Original(first)
    for quality in (30, 80):
        second = Image.open(BytesIO(coded(first, quality)))
        wanted = structural_similarity(np.asarray(first.convert("L")), np.asarray(second.convert("L")))
        assert original.likeness(second) == pytest.approx(wanted, abs=1e-7)
    assert original.likeness(first) == 1


@pytest.mark.parametrize("name", PHOTOGRAPHS)
def test_the_smallest_quality_above_the_floor_is_taken(name: str) -> None:
    image = photograph(name).resize((400, 300))
    made = jpeg(image)
    luma = np.asarray(image.convert("L"))

    def like(data: bytes) -> float:
        return float(structural_similarity(luma, np.asarray(Image.open(BytesIO(data)).convert("L"))))

    assert like(made) >= FLOOR
    (quality,) = [one for one in QUALITIES if coded(image, one) == made]
    assert all(like(coded(image, one)) < FLOOR for one in QUALITIES if one < quality)


def test_even_areas_keep_their_colour_at_every_quality() -> None:
    for quality in QUALITIES:
        for colour in ((11, 90, 77), (246, 243, 236), (229, 67, 31)):
            image = Image.open(BytesIO(coded(Image.new("RGB", (32, 32), colour), quality)))
            assert np.abs(np.asarray(image, int) - colour).max() <= 1


@pytest.mark.parametrize("name", ["mugs", "skillet"])
def test_a_shaded_cut_out_takes_a_palette_and_stays_like_itself(tmp_path: Path, name: str) -> None:
    cache = Cache(tmp_path / "cache")
    image = Image.open(SHOTS / f"{name}.png").convert("RGBA").resize((400, 320))
    image.save(tmp_path / "a.png")
    made = produced(plan(inspect(tmp_path / "a.png", cache), width=200), cache)
    with Image.open(BytesIO(made)) as picture:
        assert picture.mode == "P"
        shown = picture.convert("RGBA")
    assert len(made) < (tmp_path / "a.png").stat().st_size / 2
    for ground in ("#ffffff", "#000000", "#f5c13d"):
        over = []
        for one in (image, shown):
            whole = Image.new("RGBA", image.size, ground)
            whole.alpha_composite(one)
            over.append(np.asarray(whole.convert("L")))
        assert structural_similarity(*over) >= 0.975
    clear = np.asarray(image)[..., 3] == 0
    assert (np.asarray(shown)[clear] == 0).all()


def test_an_even_ground_keeps_its_colour_in_a_palette() -> None:
    ground = Image.new("RGBA", (400, 320), "#26282b")
    ground.alpha_composite(Image.open(SHOTS / "mugs.png").convert("RGBA").resize((400, 320)))
    made = fewer(ground)
    assert made is not None
    assert made.convert("RGBA").getpixel((1, 1)) == (0x26, 0x28, 0x2B, 255)


def test_what_a_palette_cannot_hold_keeps_its_colours() -> None:
    noise = Image.frombytes("RGBA", (120, 120), random.Random(5).randbytes(120 * 120 * 4))
    assert fewer(noise) is None


def test_few_colours_stay_exact(tmp_path: Path) -> None:
    image = Image.new("RGBA", (200, 200), (0, 0, 0, 0))
    ImageDraw.Draw(image).rectangle((50, 50, 150, 150), fill=(229, 67, 31, 255))
    image.save(tmp_path / "a.png")
    cache = Cache(tmp_path / "cache")
    made = Image.open(BytesIO(produced(plan(inspect(tmp_path / "a.png", cache), width=100), cache)))
    assert (np.asarray(made.convert("RGBA")) == np.asarray(image)).all()
