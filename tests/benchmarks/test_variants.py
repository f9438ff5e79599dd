"""Floors and ceilings for many variants; what counts as missed is said in test_speed.py."""

from __future__ import annotations

import pytest

from .many import Many, many

FLOORS = {"1,000 variants, against premailer, two workers each": 30.0}
CEILINGS = {
    "1,000 variants, against the bare fill and the same files": 1.5,
    "1,000 variants with nothing changed, less start-up, against the whole run": 0.1,
    "peak memory of 10,000 variants, against 1,000": 1.2,
}


@pytest.fixture(scope="module")
def found() -> Many:
    return many()


@pytest.mark.parametrize("name", FLOORS)
def test_a_batch_is_many_times_as_fast(found: Many, name: str) -> None:
    assert found.ratios[name] >= FLOORS[name] / 2


@pytest.mark.parametrize("name", CEILINGS)
def test_a_batch_costs_little_more_than_it_must(found: Many, name: str) -> None:
    assert found.ratios[name] <= CEILINGS[name] * 1.5
