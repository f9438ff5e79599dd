"""What a full preflight costs beside compiling the same mail, warm, in turns in one process.

The ceiling is a ratio; as for the others, one and a half times of it fails a test.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from handbill.apps.preflight import Examiner
from handbill.base.cache import Cache
from handbill.loader import Loader
from handbill.pipeline import Desk, campaign_file

from .clock import in_turns

DEMO = Path(__file__).resolve().parents[2] / "demo"
CAMPAIGNS = sorted((DEMO / "campaigns").glob("*.yaml"))
CEILING = 10.0


@pytest.mark.parametrize("path", CAMPAIGNS, ids=lambda path: path.stem)
def test_preflight_costs_at_most_ten_times_the_compile(path: Path) -> None:
    def compiled(loader: object) -> None:
        assert isinstance(loader, Loader)
        desk = Desk(loader, campaign_file(loader, path))
        desk.render(desk.mail(0), desk.id(0))

    def examined(loader: object) -> None:
        assert isinstance(loader, Loader)
        letter = Examiner(loader).examine(path, variant=Desk(loader, campaign_file(loader, path)).id(0))
        assert letter.not_run == ()

    def fresh() -> Loader:
        return Loader(DEMO, Cache())

    compiled(fresh())
    examined(fresh())
    spent = in_turns({"compile": (fresh, compiled), "preflight": (fresh, examined)}, rounds=3)
    assert spent["preflight"] / spent["compile"] <= CEILING * 1.5, spent
    print(
        f"{path.stem}: {spent['preflight'] / spent['compile']:.1f} times, {spent['preflight'] * 1000:.0f} ms"
    )
