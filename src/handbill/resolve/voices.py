"""Who speaks in a mail. Enters: handbill.yaml; leaves: its dialect and its first sample recipient."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from handbill.base.errors import Fault, Mistake, nearest
from handbill.base.frozen import dataclass
from handbill.base.source import Node, child, find, key_place, place
from handbill.resolve.dialects import SHIPPED, Dialect, Sample
from handbill.resolve.facts import LINKS
from handbill.resolve.text import check_characters

if TYPE_CHECKING:
    from handbill.models.workspace import Workspace

# Reserved for examples (RFC 2606 section 3): whatever a sample leaves out leads nowhere.
EXAMPLE_LINKS = {name: f"https://example.com/{name.replace('_', '-')}" for name in LINKS}
EXAMPLE_ADDRESS = "reader@example.com"


@dataclass(frozen=True, slots=True)
class Voices:
    """The workspace's dialect, its first sample recipient and that recipient's address."""

    dialect: Dialect
    sample: Sample
    address: str


def voices(workspace: Workspace, node: Node) -> tuple[Voices | None, list[Mistake]]:
    """The voices, and what is wrong with dialect and samples in handbill.yaml, whose node is `node`."""
    wrong = list(_samples(workspace, node))
    encoded = frozenset(f"recipient.{name}" for name, rule in workspace.fields.items() if rule.encoded)
    try:
        dialect = _dialect(workspace)
    except Fault as fault:
        return None, [*wrong, fault.at(place(child(node, "dialect") or node), "dialect")]
    if encoded:
        dialect = replace(dialect, pre_encoded=dialect.pre_encoded | encoded)
    if not workspace.samples:
        return Voices(dialect, Sample({}, EXAMPLE_LINKS, encoded), EXAMPLE_ADDRESS), wrong
    first = workspace.samples[0]
    sample = Sample(first.fields, {**EXAMPLE_LINKS, **first.links}, encoded)
    return Voices(dialect, sample, first.address), wrong


def _dialect(workspace: Workspace) -> Dialect:
    if not isinstance(workspace.dialect, str):
        from handbill.resolve.custom import custom

        return custom(workspace.dialect)
    if workspace.dialect not in SHIPPED:
        raise Fault(
            f"no dialect {workspace.dialect}",
            expected="one of " + ", ".join(SHIPPED) + ", or patterns of your own",
            nearest=nearest(workspace.dialect, SHIPPED),
        )
    return SHIPPED[workspace.dialect]


def _samples(workspace: Workspace, node: Node) -> Iterator[Mistake]:
    """Fields that `fields:` does not declare (where it declares any), unknown links, unprintable values."""
    for number, sample in enumerate(workspace.samples):
        for part, given, known, what in (
            ("fields", sample.fields, workspace.fields or sample.fields, "recipient field"),
            ("links", sample.links, LINKS, "system link"),
        ):
            for name, value in given.items():
                way = ("samples", number, part, name)
                path = f"samples[{number}].{part}.{name}"
                if name not in known:
                    expected = "one of " + ", ".join(known)
                    message = f"there is no {what} {name}"
                    yield Mistake(key_place(node, way), path, message, expected, nearest(name, known))
                try:
                    check_characters(value)
                except Fault as fault:
                    yield fault.at(place(find(node, way)[0]), path)
