"""Gathering what is wrong. Enters: work that may fail; leaves: its value or None, and all mistakes."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from handbill.base.errors import Fault, Mistake, MistakesError
from handbill.base.source import Node, place

T = TypeVar("T")


class Mistakes(list[Mistake]):
    """What is wrong so far; a stage that fails gives None and the rest is still looked at."""

    def also(self, made: tuple[T, list[Mistake]]) -> T:
        """A stage's value; its mistakes are added."""
        self.extend(made[1])
        return made[0]

    def of(self, work: Callable[[], T]) -> T | None:
        """`work`'s value, or None and the mistakes it raised."""
        try:
            return work()
        except MistakesError as error:
            self.extend(error.mistakes)
            return None

    def at(self, node: Node, path: str, work: Callable[[], T]) -> T | None:
        """`work`'s value, or None and a mistake at `node`."""
        try:
            return work()
        except Fault as fault:
            self.append(fault.at(place(node), path))
            return None


def gathered(work: Callable[[], T]) -> tuple[T | None, list[Mistake]]:
    """`work`'s value, or None and the mistakes it raised: both can be kept."""
    mistakes = Mistakes()
    return mistakes.of(work), mistakes


def required(made: tuple[T | None, list[Mistake]]) -> T:
    """What `gathered` gave. Raises MistakesError where there is no value."""
    if made[0] is None:
        raise MistakesError(made[1])
    return made[0]
