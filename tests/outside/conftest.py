"""Session fixtures: the demo compiled once, and one browser."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from .browser import Reader, start_reader
from .mails import CAMPAIGNS, Mail, compile_campaign


@pytest.fixture(scope="session", params=CAMPAIGNS, ids=lambda path: path.stem)
def mail(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Mail:
    """A demo campaign as the command compiles it when nothing is asked for."""
    return compile_campaign(request.param, tmp_path_factory.mktemp("sent"))


@pytest.fixture(scope="session", params=CAMPAIGNS, ids=lambda path: path.stem)
def shown(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Mail:
    """A demo campaign whose pictures lie beside it, for the browser."""
    return compile_campaign(request.param, tmp_path_factory.mktemp("shown"), pictures="relative")


@pytest.fixture(scope="session")
def reader() -> Iterator[Reader]:
    with start_reader() as started:
        yield started
