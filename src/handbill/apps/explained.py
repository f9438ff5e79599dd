"""A mail's values with their origins, as data: what `explain` makes and the command line shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from handbill.apps.places import Origin
from handbill.base.errors import Place


@dataclass(frozen=True, slots=True)
class Line:
    """One value as it is written. `file` and `owner` say which picture was found, and whose it is."""

    field: str
    value: str
    origin: Origin
    file: str = ""
    owner: str = ""


@dataclass(frozen=True, slots=True)
class Explained:
    """One section: where its block lives, its values, what it was not given, its block's own words.

    `otherwise` is what those get for whom its `when` does not hold; where that `differs` in some fields
    only, it has all values, and most are the section's own.
    """

    id: str
    block: str
    lives: str
    place: Place
    values: tuple[Line, ...]
    not_given: tuple[str, ...]
    words: tuple[Line, ...]
    cells: tuple[Explained, ...]
    differs: bool = False
    otherwise: Explained | None = None


@dataclass(frozen=True, slots=True)
class Explanation:
    """One mail. `head` holds brand, language and the campaign's own fields, `words` the house words that all
    blocks share, `other_words` the same in the languages that single sections have."""

    campaign: str
    variant: str
    file: str
    head: tuple[Line, ...]
    sections: tuple[Explained, ...]
    words: tuple[Line, ...]
    other_words: Mapping[str, tuple[Line, ...]]
