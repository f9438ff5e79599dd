"""From a rule's terms to a line. Enters: a `Where`; leaves: a place in the author's file.

A stretch of HTML belongs to the section that made it. In a section the field is found by its way, or by the
words that stand in it: facts in a field match whatever they were filled with.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from handbill.base.errors import Place
from handbill.base.source import Node, entries, find, items, key_place, place, scalar
from handbill.preflight.contract import Way, Where
from handbill.preflight.part import Part, one_line

if TYPE_CHECKING:
    from handbill.preflight.specimen import Specimen

_REFERENCE = re.compile(r"\$\{[^}]*\}")
_LETTERS = re.compile(r"\w{3}")
_FACT = re.compile(r"\\\$\\\{[^}]*\}")
_MARKS = re.compile(r"[*_`\\]")
_EXACT, _FILLED, _INSIDE = 3, 2, 1
_SHORTEST = 3  # characters: a shorter piece stands in too many fields to tell anything


def located(where: Where, specimen: Specimen) -> tuple[Place, str]:
    """The place of `where` and the id of its section, empty for the mail as a whole."""
    if where.row is not None:
        return where.row, ""
    mail = specimen.mail
    if where.file == "brand":
        return _field(mail.shop.brand_node, where), ""
    if where.file == "workspace":
        return _field(specimen.workspace_node, where), ""
    part = None
    if where.span is not None:
        part = specimen.part_at(where.span[0])
    elif where.section:
        part = next((one for one in specimen.parts if one.id == where.section), None)
    if part is None:
        if where.near and (found := nearby(where.near, mail.root, skip="stack")) is not None:
            return place(found[1]), ""
        return _field(mail.root, where), ""
    return in_part(where, part), part.id


def in_part(where: Where, part: Part) -> Place:
    """The place of a `where` that is in a section."""
    node = part.spoken.node
    if where.way:
        found_node, whole = find(node, where.way)
        if whole or found_node is not node:
            return place(found_node)
    if where.near:
        if (way := said_at(part, where.near)) is not None:
            found_node, _whole = find(node, way)
            if found_node is not node:
                return place(found_node)
        shop_node = part.mail.shop.brand_node
        own = nearby(where.near, node)
        shop = nearby(where.near, shop_node) if own is None or own[0] < _FILLED else None
        best = max((one for one in (own, shop) if one is not None), key=lambda one: one[0], default=None)
        if best is not None:
            return place(best[1])
    return part.spoken.place


def said_at(part: Part, words: str) -> Way | None:
    """The way to the section's value that says `words`, or else that holds them in its copy."""
    wanted, holding = one_line(words), None
    for way, _filled, text in part.texts():
        said = one_line(text)
        if said == wanted:
            return way
        if holding is None and len(wanted) >= _SHORTEST and wanted in said:
            holding = way
    return holding


def _field(node: Node, where: Where) -> Place:
    found, whole = find(node, where.way)
    if whole or found is node:
        return place(found)
    return key_place(node, where.way[:1])


def nearby(words: str, node: Node, skip: str = "") -> tuple[int, Node] | None:
    """The scalar below `node` that says `words`, or holds them, and how well it fits."""
    wanted = one_line(words)
    best: tuple[int, Node] | None = None
    for _way, text, found in scalars(node, skip):
        fit = _fit(wanted, text)
        if fit and (best is None or fit > best[0]):
            best = fit, found
    return best


def _fit(wanted: str, text: str) -> int:
    said = one_line(_MARKS.sub("", text))
    if said == wanted:
        return _EXACT
    if (
        "${" in said
        and _LETTERS.search(_REFERENCE.sub("", said))
        and re.fullmatch(_FACT.sub(".*", re.escape(said)), wanted)
    ):
        return _FILLED
    if len(said) >= _SHORTEST and len(wanted) >= _SHORTEST and (wanted in said or said in wanted):
        return _INSIDE
    return 0


def head_texts(root: Node) -> Iterator[tuple[str, str]]:
    """Every text typed for the list of mails, its send-time choices among them: the field, and the text."""
    for key, value in items(root):
        if key.value in ("subject", "preheader"):
            yield from ((key.value, text) for _way, text, _node in scalars(value))


def scalars(node: Node, skip: str = "", way: Way = ()) -> Iterator[tuple[Way, str, Node]]:
    """Every text below a node, with the way to it; what stands under the key `skip` is left out."""
    text = scalar(node)
    if text:
        yield way, text, node
    for key, value in items(node):
        if key.value != skip:
            yield from scalars(value, skip, (*way, key.value))
    for number, entry in enumerate(entries(node)):
        yield from scalars(entry, skip, (*way, number))
