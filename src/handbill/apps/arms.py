"""Variants as a translator meets them. Enters: a desk, a language; leaves: each, not yet translated."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from handbill.base.errors import Place
from handbill.base.frozen import dataclass
from handbill.expand import Expanded
from handbill.pipeline import Desk
from handbill.vary.plan import LANGUAGE, Variant
from handbill.vary.tongue import conditions, places


@dataclass(frozen=True, slots=True)
class Arm:
    """One variant: what its texts can be for, and the campaign after its patches. `said` are the places of
    what its language's own patch says: that needs no translation."""

    choices: Mapping[str, str]
    expanded: Expanded
    said: frozenset[Place] = frozenset()


def spoken(desk: Desk, language: str) -> Iterator[Variant]:
    """The variants in a language; all of them, while none has it yet."""
    found = False
    for variant in desk.plan:
        if variant.language == language:
            found = True
            yield variant
    if not found:
        yield from desk.plan


def arms(desk: Desk, language: str) -> list[Arm]:
    """The variants in a language, one for each of what texts can be for. Raises MistakesError."""
    found: dict[tuple[tuple[str, str], ...], Arm] = {}
    for variant in spoken(desk, language):
        met = conditions(variant)
        key = tuple(sorted(met.items()))
        if key in found:
            continue
        if variant.language == language:
            own = next(one for one in variant.values if one.language is not None)
            said = places(own.node)
        else:
            variant = _without_language(variant)
            said = frozenset()
        found[key] = Arm(met, desk.patched(variant), said)
    return list(found.values())


def _without_language(variant: Variant) -> Variant:
    return replace(variant, values=tuple(one for one in variant.values if one.axis != LANGUAGE))
