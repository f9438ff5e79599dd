"""Floors and ceilings of speed and memory: ratios measured in turns on one machine, never absolute times.

A noisy machine must not fail a sound program: a floor counts as missed at half its value, a ceiling at one
and a half times. The full figures are in docs/performance.md (`python -m tests.benchmarks.record`).
"""

from __future__ import annotations

import pytest

from .figures import Cold, Next, cold, next_mail

FLOORS = {
    "every section changed, against premailer": 25.0,
    "one section changed, against premailer": 60.0,
}
CEILINGS = {
    "every section changed, against the bare fill": 2.0,
    "cold compile, against the imports": 1.8,
    "peak memory, against the imports": 2.0,
}


@pytest.fixture(scope="module")
def following() -> Next:
    return next_mail()


@pytest.fixture(scope="module")
def program() -> Cold:
    return cold()


@pytest.mark.parametrize("name", FLOORS)
def test_the_next_mail_is_many_times_as_fast(following: Next, name: str) -> None:
    assert following.ratios[name] >= FLOORS[name] / 2


def test_filling_costs_little_more_than_the_bare_templates(following: Next) -> None:
    name = "every section changed, against the bare fill"
    assert following.ratios[name] <= CEILINGS[name] * 1.5


@pytest.mark.parametrize("name", [name for name in CEILINGS if "imports" in name])
def test_a_cold_start_is_little_more_than_its_imports(program: Cold, name: str) -> None:
    assert program.ratios[name] <= CEILINGS[name] * 1.5
