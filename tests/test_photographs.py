"""Growing open photographs that packages carry: scikit-image's and scikit-learn's (see their
data/README.txt and datasets/images/README.txt for the sources). What was accepted and refused here a person
has looked at.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import skimage
import sklearn
from PIL import Image

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.pictures import inspect, study
from handbill.pictures.colour import difference, lab_of
from handbill.pictures.extend import grown

SCIKIT = Path(skimage.__file__).parent / "data"
LEARN = Path(sklearn.__file__).parent / "datasets" / "images"
# picture, side, whether new ground there looks right
JUDGED = [
    ("camera.png", "top", True), ("china.jpg", "top", True), ("clock_motion.png", "top", True),
    ("clock_motion.png", "bottom", True), ("coins.png", "top", True), ("horse.png", "top", True),
    ("moon.png", "top", True), ("moon.png", "bottom", True), ("cell.png", "bottom", True),
    ("astronaut.png", "top", False), ("astronaut.png", "bottom", False), ("brick.png", "top", False),
    ("camera.png", "bottom", False), ("chelsea.png", "top", False), ("chelsea.png", "bottom", False),
    ("china.jpg", "bottom", False), ("coffee.png", "top", False), ("coffee.png", "bottom", False),
    ("flower.jpg", "top", False), ("flower.jpg", "bottom", False), ("grass.png", "top", False),
    ("gravel.png", "bottom", False), ("hubble_deep_field.jpg", "top", False), ("ihc.png", "top", False),
    ("motorcycle_left.png", "top", False), ("rocket.jpg", "top", False), ("rocket.jpg", "bottom", False),
]  # fmt: skip
CALM = [(name, side) for name, side, good in JUDGED if good]


def file(name: str) -> Path:
    found = SCIKIT / name
    return found if found.exists() else LEARN / name


@pytest.mark.parametrize(("name", "side", "good"), JUDGED)
def test_the_edge_tells_what_looks_right(name: str, side: str, good: bool, tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    source = inspect(file(name), cache)
    found = study.edge(source, (0, 0, source.width, source.height), side, cache)
    if good:
        study.refuse_busy(found, side, name)
        return
    with pytest.raises(Fault, match=f"the {side} edge of picture {name} is too busy"):
        study.refuse_busy(found, side, name)


@pytest.mark.parametrize(("name", "side"), CALM)
def test_no_join_is_measured(name: str, side: str) -> None:
    """The mean difference across the join stays at that of dither: below 0.3 in OKLab, times 100."""
    levels = np.asarray(Image.open(file(name)).convert("RGB"))
    levels = levels if side == "top" else levels[::-1]
    rows = levels.shape[1] // 3
    whole = grown(levels, rows, name)
    assert whole.shape == (levels.shape[0] + rows, *levels.shape[1:])
    assert difference(lab_of(whole[rows - 1]), lab_of(whole[rows])).mean() < 0.3
    fade = 120 * levels.shape[1] // 1200
    assert (whole[rows + fade :] == levels[fade:]).all()


PUBLISHED = {
    "china": "china.jpg", "camera": "camera.png", "clock": "clock_motion.png", "moon": "moon.png",
    "coins": "coins.png", "cell": "cell.png", "horse": "horse.png", "rocket": "rocket.jpg",
    "motorcycle": "motorcycle_left.png", "hubble": "hubble_deep_field.jpg", "coffee": "coffee.png",
    "flower": "flower.jpg", "chelsea": "chelsea.png", "astronaut": "astronaut.png",
}  # fmt: skip


def rows() -> list[tuple[str, str, float, float, bool]]:
    """The table in docs/pictures.md, a side at a time, of the pictures that packages carry."""
    found = []
    for line in (Path(__file__).parents[1] / "docs" / "pictures.md").read_text("utf-8").splitlines():
        cells = [one.strip() for one in line.strip("| \n").split("|")]
        name = PUBLISHED.get(cells[0].partition(",")[0])
        if len(cells) == 5 and name:
            for side, median, high in zip(*(one.split(", ") for one in cells[1:4]), strict=True):
                found.append((name, side, float(median), float(high), cells[4] == "grown"))
    return found


@pytest.mark.parametrize(("name", "side", "median", "high", "good"), rows())
def test_the_published_table_is_what_is_measured(
    name: str, side: str, median: float, high: float, good: bool, tmp_path: Path
) -> None:
    """To the digits that it prints, give or take one: another Pillow scales a little otherwise."""
    cache = Cache(tmp_path)
    source = inspect(file(name), cache)
    found = study.edge(source, (0, 0, source.width, source.height), side, cache)
    assert found.median == pytest.approx(median, rel=0.06, abs=0.02)
    assert found.high == pytest.approx(high, rel=0.06, abs=0.1)
    assert good == (found.median <= study.CALM_MEDIAN and found.high <= study.CALM_HIGH)


def test_the_published_table_names_them_all() -> None:
    assert {name for name, *_ in rows()} == set(PUBLISHED.values())
