"""A campaign's variants beside languages. Enters: an expanded campaign; leaves: each variant, expanded."""

from __future__ import annotations

from collections.abc import Mapping

from handbill.base.errors import Mistake
from handbill.base.frozen import dataclass
from handbill.expand import Expanded
from handbill.loader import Loader


@dataclass(frozen=True, slots=True)
class Arm:
    """One variant: what it chose on each axis but language, and the campaign after its patches."""

    choices: Mapping[str, str]
    expanded: Expanded


def arms(loader: Loader, expanded: Expanded) -> tuple[list[Arm], list[Mistake]]:
    """Every combination once, the baseline first."""
    return [Arm({}, expanded)], []
