"""What can go wrong, as data. Enters: a place and a cause; leaves: `Mistake` values and two exceptions.

Only the command line turns these into words on a terminal and into an exit code.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace


@dataclass(frozen=True, order=True, slots=True)
class Place:
    """A spot in an input file; `line` and `column` count from 1, 0 means the file as a whole."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}" if self.line else self.file


@dataclass(frozen=True, order=True, slots=True)
class Mistake:
    """One user mistake.

    `path` is the way to it inside the file (``stack[2] product-stack, products[1]``), `message` says what
    is wrong, `expected` what would be right, `nearest` the closest right spelling.
    """

    place: Place
    path: str
    message: str
    expected: str = ""
    nearest: str = ""

    def __str__(self) -> str:
        head = f"{self.place}: " + (f"{self.path}: " if self.path else "") + self.message
        if self.expected:
            head += f"; expected {self.expected}"
        if self.nearest:
            head += f"; nearest: {self.nearest}"
        return _UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", head)


# What would break the line or command a terminal: C0, DEL, C1, line separators, bidirectional controls.
_UNSEEN = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


class Fault(ValueError):  # noqa: N818 - the word that users of the library read
    """A mistake whose place the raiser does not know; the caller that holds the node adds it."""

    def __init__(self, message: str, *, expected: str = "", nearest: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.expected = expected
        self.nearest = nearest

    def at(self, place: Place, path: str = "") -> Mistake:
        """The same fault with its place."""
        return Mistake(place, path, self.message, self.expected, self.nearest)


class HandbillError(Exception):
    """Anything handbill raises on purpose. `exit_code` is what the command line leaves with."""

    exit_code = 2


class MistakesError(HandbillError):
    """One or more user mistakes, sorted by place, without repeats: what is wrong at one place is said once,
    whichever way led there (variants, aliases, standing sections used twice)."""

    def __init__(self, mistakes: Iterable[Mistake]) -> None:
        told = {_told(mistake): mistake for mistake in sorted(set(mistakes), reverse=True)}
        self.mistakes: tuple[Mistake, ...] = tuple(sorted(told.values()))
        super().__init__("\n".join(str(mistake) for mistake in self.mistakes))


def _told(mistake: Mistake) -> Mistake:
    return replace(mistake, path="") if mistake.place.line else mistake


def nearest(word: str, known: Iterable[str]) -> str:
    """The closest spelling of `word` among `known`, or an empty string when nothing is close.

    Case and the look-alikes O/0, l/1 are folded first, since product codes are often typed from print.
    """
    names = list(known)
    folded = {_fold(name): name for name in names}
    from difflib import get_close_matches

    close = get_close_matches(_fold(word), list(folded), n=1, cutoff=0.6)
    return folded[close[0]] if close else ""


def _fold(word: str) -> str:
    return word.lower().replace("o", "0").replace("l", "1").replace("i", "1").replace("_", "-")
