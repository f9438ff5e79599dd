"""Bytes of HTML to a `Document`, by the quick way where the markup is plainly nested, else by the
standard's."""

from __future__ import annotations

from collections.abc import Iterable

from handbill.dom.repair import repair
from handbill.dom.scan import scan
from handbill.dom.tree import Document, Element, Section


def parse(html: bytes, sections: Iterable[tuple[str, int, int]] = ()) -> Document:
    """The tree of a mail in UTF-8; broken markup is repaired as browsers do, and a note says so.

    `sections` are (id, first byte, byte after the last) as a manifest lists them. Without them the rows of
    the table that carries the mail are the sections, called `row-1`, `row-2` and so on.
    """
    notes: list[str] = []
    quick = scan(html)
    if quick is None:
        root, styles, notes = repair(html)
    else:
        root, styles = quick
    given = tuple(Section(id, start, end) for id, start, end in sections)
    return Document(html, root, given or rows(root), tuple(styles), tuple(notes))


def rows(root: Element) -> tuple[Section, ...]:
    """The rows of the outermost table that has more than one, else the whole body."""
    body = next((one for one in root.elements if one.tag == "body"), root)
    for table in body.iter("table"):
        found = [row for row in _rows(table) if row.elements]
        if len(found) > 1:
            return tuple(Section(f"row-{n}", row.start, row.end) for n, row in enumerate(found, 1))
    return (Section("row-1", body.start, body.end),)


def _rows(table: Element) -> list[Element]:
    found: list[Element] = []
    for child in table.elements:
        found += (
            [child] if child.tag == "tr" else _rows(child) if child.tag in ("tbody", "thead", "tfoot") else []
        )
    return found
