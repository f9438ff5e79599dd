"""Frozen records behave as the standard library's dataclasses do: each check runs on both."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from collections.abc import Callable
from typing import Any

import pytest

from handbill.base import frozen


def _family(dataclass: Callable[..., Any]) -> tuple[Any, Any, Any]:
    @dataclass(frozen=True, slots=True)
    class Point:
        """A place."""

        x: int
        y: int = 2
        names: tuple[str, ...] = dataclasses.field(default_factory=tuple)

        def __post_init__(self) -> None:
            if self.x < 0:
                raise ValueError("x")

        @property
        def sum(self) -> int:
            return self.x + self.y

    @dataclass(frozen=True, slots=True)
    class Labelled(Point):
        label: str = dataclasses.field(default="none")

    @dataclass(frozen=True, slots=True)
    class Empty:
        pass

    return Point, Labelled, Empty


@dataclasses.dataclass(frozen=True, slots=True)
class Theirs:
    a: int
    b: list[int]


@frozen.dataclass(frozen=True, slots=True)
class Ours:
    a: int
    b: list[int]


BOTH = pytest.mark.parametrize("dataclass", [dataclasses.dataclass, frozen.dataclass], ids=["stdlib", "ours"])


@BOTH
def test_made_compared_and_shown(dataclass: Callable[..., Any]) -> None:
    point, labelled, empty = _family(dataclass)
    one = point(1, names=("a",))
    assert (one.x, one.y, one.names, one.sum) == (1, 2, ("a",), 3)
    assert one == point(x=1, y=2, names=("a",)) != point(1)
    assert hash(one) == hash(point(1, 2, ("a",))) == hash((1, 2, ("a",)))
    assert one != (1, 2, ("a",))
    assert labelled(1) != point(1)
    assert labelled(1, 2, (), "x").label == "x"
    assert labelled(1).label == "none"
    assert empty() == empty()
    assert repr(labelled(1)).endswith("Labelled(x=1, y=2, names=(), label='none')")


@BOTH
def test_frozen_and_slotted(dataclass: Callable[..., Any]) -> None:
    point, labelled, _ = _family(dataclass)
    for one in (point(1), labelled(1)):
        with pytest.raises(dataclasses.FrozenInstanceError):
            one.x = 2
        with pytest.raises(dataclasses.FrozenInstanceError):
            del one.x
        assert not hasattr(one, "__dict__")
    assert labelled.__slots__ == ("label",)


@BOTH
def test_wrong_arguments(dataclass: Callable[..., Any]) -> None:
    point, labelled, _ = _family(dataclass)
    for arguments in ({}, {"z": 1, "x": 1}):
        with pytest.raises(TypeError):
            point(**arguments)
        with pytest.raises(TypeError):
            labelled(**arguments)
    with pytest.raises(ValueError, match="x"):
        labelled(-1)


@BOTH
def test_the_tools_of_dataclasses(dataclass: Callable[..., Any]) -> None:
    point, labelled, _ = _family(dataclass)
    assert [one.name for one in dataclasses.fields(labelled)] == ["x", "y", "names", "label"]
    assert [one.name for one in dataclasses.fields(point(1))] == ["x", "y", "names"]
    assert dataclasses.replace(labelled(1), label="b") == labelled(1, label="b")
    assert dataclasses.asdict(point(1)) == {"x": 1, "y": 2, "names": ()}
    assert dataclasses.is_dataclass(point)
    match labelled(1, 5):
        case labelled(x, y):
            assert (x, y) == (1, 5)
        case _:
            pytest.fail("no match")


@BOTH
def test_fields_may_be_left_out_of_comparing(dataclass: Callable[..., Any]) -> None:
    @dataclass(frozen=True, slots=True)
    class Noted:
        value: int
        note: str = dataclasses.field(default="", compare=False, repr=False)

    assert Noted(1, "a") == Noted(1, "b")
    assert repr(Noted(1, "a")).endswith("Noted(value=1)")


@pytest.mark.parametrize("cls", [Theirs, Ours])
def test_copied_and_pickled(cls: Any) -> None:
    one = cls(1, [2])
    assert copy.copy(one) == one == pickle.loads(pickle.dumps(one))
    assert copy.deepcopy(one).b is not one.b
