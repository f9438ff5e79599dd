"""What a program may get wrong in a call: told as mistakes are, all at once, before anything is read."""

from __future__ import annotations

from typing import Any

import pytest
from tests.conftest import Shop

import handbill
from handbill.api import Workspace


def told(workspace: Workspace, campaign: str, **arguments: Any) -> list[str]:
    with pytest.raises(handbill.MistakesError) as caught:
        workspace.compile(campaign, **arguments)
    return [str(one) for one in caught.value.mistakes]


def test_arguments_that_cannot_be_meant(shop: Shop) -> None:
    shop.campaign("")
    workspace = handbill.load(shop.root)
    assert told(workspace, "spring", pictures="cidd", jobs=0, variants="main") == [
        "jobs=: 0 processes; expected 1 or more",
        "pictures=: 'cidd' is not a choice; expected one of base, cid, relative; nearest: cid",
        "variants=: one text is no collection of ids; expected several of them, such as variants=['main']",
    ]
    assert not (shop.root / "out").exists()


def test_an_unknown_campaign(shop: Shop) -> None:
    shop.campaign("")
    workspace = handbill.load(shop.root)
    assert told(workspace, "sprng") == ["sprng: no such campaign; expected one of spring; nearest: spring"]
    path = str(shop.root / "campaigns" / "sprng.yaml")
    assert told(workspace, path) == [f"{path}: no such file; nearest: spring.yaml"]
