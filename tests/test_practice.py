"""Every rule of practice on every demo: the arm that breaks it is a mail that reads otherwise, or the reason
why there is none is told. The rules themselves are common practice."""

from __future__ import annotations

from pathlib import Path

import pytest

from handbill.apps.differ import differences, side
from handbill.apps.told import sentences
from handbill.base.cache import Cache
from handbill.base.errors import MistakesError
from handbill.base.source import parse_yaml
from handbill.loader import Loader
from handbill.pipeline import Desk
from handbill.vary.practice import PRACTICE

ROOT = Path(__file__).parents[1] / "demo"
DEMOS = sorted(one.name for one in (ROOT / "campaigns").glob("*.yaml"))
LEAST = 3  # rules that each demo follows and an arm can break


@pytest.fixture(scope="module")
def loader() -> Loader:
    return Loader(ROOT, Cache())


@pytest.mark.parametrize("name", DEMOS)
def test_the_arm_reads_otherwise_or_says_why_there_is_none(loader: Loader, name: str) -> None:
    text = (ROOT / "campaigns" / name).read_text("utf-8").partition("\nvariants:")[0]
    broken = 0
    for rule in PRACTICE:
        whole = f"{text.rstrip()}\nvariants: {{practice: {rule}}}\n"
        line = whole.count("\n")
        desk = Desk(loader, parse_yaml(whole.encode(), f"campaigns/{name}"))
        usual = side(desk.mail(0))
        try:
            arm = side(desk.mail(1))
        except MistakesError as error:
            (mistake,) = error.mistakes
            assert str(mistake).startswith(f"campaigns/{name}:{line}:22: variants, practice, {rule}: ")
            assert mistake.message
            continue
        told = [one for part in differences(usual, arm) for one in sentences(part)]
        assert told, rule
        assert not all("set otherwise" in one for one in told), (rule, told)
        broken += 1
    assert broken >= LEAST
