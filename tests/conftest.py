"""What every test stands on: a cache of its own, and property tests that draw the same examples each time."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

settings.register_profile("steady", derandomize=True, deadline=None, database=None)
settings.load_profile("steady")


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Compiled blocks of earlier runs, or the user's own, must not decide whether a test passes."""
    os.environ["HANDBILL_CACHE"] = str(tmp_path_factory.mktemp("cache"))
