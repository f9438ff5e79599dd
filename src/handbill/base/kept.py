"""Keeping what was made. Enters: an owner and a way to make its value; leaves: the value, made once.

Bounded: the value that was asked for longest ago goes first. An owner is known by being the same object, and
is held as long as its value, so that its identity stays its own.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

V = TypeVar("V")


class Kept(Generic[V]):
    """At most `most` values."""

    def __init__(self, most: int) -> None:
        self.most = most
        self._values: dict[Hashable, tuple[object, V]] = {}

    def of(self, owner: object, make: Callable[[], V], *more: Hashable) -> V:
        """The value for this very `owner` and for `more`; `make` is called where it is not kept."""
        return self._get((id(owner), *more), owner, make)

    def by(self, key: Hashable, make: Callable[[], V]) -> V:
        """The value for a key equal to `key`."""
        return self._get(key, None, make)

    def has(self, key: Hashable) -> bool:
        """Whether the value for `key` is kept."""
        return key in self._values

    def _get(self, key: Hashable, owner: object, make: Callable[[], V]) -> V:
        found = self._values.pop(key, None)
        if found is None:
            found = (owner, make())
            if len(self._values) >= self.most:
                del self._values[next(iter(self._values))]
        self._values[key] = found
        return found[1]
