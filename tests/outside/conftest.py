"""Session fixtures: the demo compiled once, the library composed once for each brand, and one browser."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from .browser import Reader, start_reader
from .letters import Letter, letters
from .mails import CAMPAIGNS, COMPOSED, Mail, compile_campaign, compose


def name(param: Any) -> str:
    return param.stem if isinstance(param, Path) else f"all-{param[0]}-{'rtl' if param[1] else 'ltr'}"


def lay_out(param: Any, out: Path) -> Mail:
    """A campaign or a composed mail whose pictures lie beside it, for the browser."""
    return (
        compile_campaign(param, out, pictures="relative") if isinstance(param, Path) else compose(*param, out)
    )


@pytest.fixture(scope="session", params=CAMPAIGNS, ids=name)
def mail(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Mail:
    """A demo campaign as the command compiles it when nothing is asked for."""
    return compile_campaign(request.param, tmp_path_factory.mktemp("sent"))


@pytest.fixture(scope="session")
def laid(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Any], Mail]:
    """What is shown in the browser, each mail laid out once."""
    return cache(lambda param: lay_out(param, tmp_path_factory.mktemp("laid")))


@pytest.fixture(scope="session", params=CAMPAIGNS, ids=name)
def campaign(request: pytest.FixtureRequest, laid: Callable[[Any], Mail]) -> Mail:
    """A demo campaign for the browser."""
    return laid(request.param)


@pytest.fixture(scope="session", params=(*CAMPAIGNS, *COMPOSED), ids=name)
def shown(request: pytest.FixtureRequest, laid: Callable[[Any], Mail]) -> Mail:
    """A demo campaign, or every block of a brand in one direction."""
    return laid(request.param)


@pytest.fixture(scope="session")
def reader() -> Iterator[Reader]:
    with start_reader() as started:
        yield started


@pytest.fixture(scope="session", name="letters")
def all_letters() -> list[Letter]:
    """Demos, samples and outlines, rendered once."""
    return list(letters())
