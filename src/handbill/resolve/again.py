"""Fields that come out as before. Enters: a resolver and a field's node; leaves: its value, made once a shop.

A variant mostly changes a word or two of a section, and its picture and button stay what they were: the very
same nodes, under the same choices. What making one brings along (facts, links, pictures, mistakes) is kept
beside the value and noted anew each time.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from handbill.base.errors import Mistake
from handbill.base.source import Node, child
from handbill.resolve.shop import Pictures
from handbill.resolve.text import Filled, Voice
from handbill.resolve.values import Used

if TYPE_CHECKING:
    from handbill.resolve.section import SectionResolver, Way


class Made(NamedTuple):
    """A field's value and all that making it told of; node and voice are held, so they stay themselves."""

    value: Any
    mistakes: list[Mistake]
    sends: bool
    addresses: list[Filled]
    used: Used
    pictures: Pictures
    node: Node
    voice: Voice


def once(
    at: SectionResolver, way: Way, chosen: Mapping[str, str], *more: Hashable,
    make: Callable[[SectionResolver], Any],
) -> Any:  # fmt: skip
    """The value of the field at `way`; `more` is what else it depends on beside its node and choices."""
    node = child(at.node, str(way[0])) if len(way) == 1 else None
    if node is None:  # the block's own default, or an entry of a list
        return make(at)

    def made() -> Made:
        own = at.afresh()
        value = make(own)
        return Made(
            value, own.mistakes, own.sends, own.addresses, own.facts.used, own.shop.pictures, node, at.voice
        )

    section = at.valid.section
    key = (
        id(node), id(at.voice), at.valid.block.name, section.id, at.path, at.cell, *way,
        *chosen.items(), *more,
    )  # fmt: skip
    found = at.shop.fields.by(key, made)
    at.mistakes.extend(found.mistakes)
    at.addresses.extend(found.addresses)
    at.sends = at.sends or found.sends
    at.facts.used.update(found.used)
    at.shop.pictures.note(found.pictures)
    return found.value
