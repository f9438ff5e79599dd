"""The order of a line's pieces (UAX #9, simplified). Enters: kinds of pieces; leaves: their order from the
left.

A piece is a word or a space and counts as a whole; embeddings and isolates go by the direction of their
element.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import lru_cache

LEFT, RIGHT, NUMBER, NEUTRAL = "L", "R", "E", "N"


@lru_cache(maxsize=16384)
def kind(word: str) -> str:
    """By the first strong character; a number if there is none but digits."""
    found = NEUTRAL
    for character in word:
        what = unicodedata.bidirectional(character)
        if what == "L":
            return LEFT
        if what in ("R", "AL"):
            return RIGHT
        if what in ("EN", "AN"):
            found = NUMBER
    return found


def ordered(kinds: Sequence[str], rtl: bool) -> list[int]:
    """Indices of the pieces as they stand from left to right."""
    base = 1 if rtl else 0
    strong = RIGHT if rtl else LEFT
    resolved: list[str] = []
    for one in kinds:
        if one == NUMBER and strong == LEFT:
            one = LEFT  # W7
        elif one in (LEFT, RIGHT):
            strong = one
        resolved.append(one)
    levels = []
    for at, one in enumerate(resolved):
        if one == NEUTRAL:
            before = next((_side(other) for other in reversed(resolved[:at]) if other != NEUTRAL), None)
            after = next((_side(other) for other in resolved[at + 1 :] if other != NEUTRAL), None)
            start = RIGHT if rtl else LEFT
            one = before if before is not None and before == after else start  # N1, N2
            levels.append(1 if one == RIGHT else base + rtl)
        else:
            levels.append(1 if one == RIGHT else 2 if one == NUMBER else 2 * base)
        if one == LEFT and resolved[at] == NEUTRAL and rtl:
            levels[-1] = 2
    order = list(range(len(levels)))
    for level in range(max(levels, default=0), 0, -1):  # L2
        at = 0
        while at < len(order):
            end = at
            while end < len(order) and levels[order[end]] >= level:
                end += 1
            order[at:end] = order[at:end][::-1]
            at = max(end, at + 1)
    return order


def _side(kind: str) -> str:
    return RIGHT if kind == NUMBER else kind
