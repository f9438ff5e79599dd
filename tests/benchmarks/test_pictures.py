"""Ceilings of what pictures cost; what counts as missed is said in test_speed.py."""

from __future__ import annotations

import pytest

from .pictures import Pictures, pictures

CEILINGS = {
    "pictures made, against resizing and saving only": 3.0,
    "pictures known, against a mail without": 1.2,
}


@pytest.fixture(scope="module")
def found() -> Pictures:
    return pictures()


@pytest.mark.parametrize("name", CEILINGS)
def test_pictures_cost_little_more_than_they_must(found: Pictures, name: str) -> None:
    assert found.ratios[name] <= CEILINGS[name] * 1.5


def test_a_warm_run_touches_no_picture(found: Pictures) -> None:
    assert found.work == 0
    assert found.cold_work > 20  # the count counts: a mail of fourteen sources and nineteen pictures
