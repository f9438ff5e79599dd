"""HTML by the standard's own parsing rules (lexbor's parser). Enters: bytes; leaves: the same tree as `scan`.

The parser keeps no places, so start tags are found again in the bytes: the next of the same name, in order.
"""

from __future__ import annotations

import re
from typing import Any

from handbill.dom.tree import VOID, Child, Element, make_head

_START = re.compile(
    rb"<!--.*?(?:-->|$)|<(script|style|title|textarea)\b.*?</\1|<([a-zA-Z][^\s/>]*)"
    rb"(?:[^>\"']|\"[^\"]*\"|'[^']*')*>",
    re.DOTALL | re.IGNORECASE,
)
_TAG = re.compile(rb"<[a-zA-Z][^\s/>]*(?:[^>\"']|\"[^\"]*\"|'[^']*')*>")
_IMPLIED = frozenset(("html", "head", "body", "tbody", "colgroup"))
_TABLE = frozenset(("table", "tbody", "thead", "tfoot", "tr", "colgroup", "html", "head"))
_DEEPEST = 150  # levels; what lies deeper is left out, and a note says so


def repair(html: bytes) -> tuple[Element, list[str], list[str]]:
    """The `html` element, the texts of its `<style>` elements, and notes."""
    from selectolax.lexbor import LexborHTMLParser

    places: dict[str, list[tuple[int, int]]] = {}
    for found in _START.finditer(html):
        name = found.group(1) or found.group(2)
        if name:
            whole = _TAG.match(html, found.start())
            length = len(whole.group()) if whole else len(found.group())
            places.setdefault(name.decode("latin-1").lower(), []).append((found.start(), length))
    for waiting in places.values():
        waiting.reverse()
    builder = _Builder(places)
    top = LexborHTMLParser(html.decode("utf-8", "replace")).root
    made = builder.element(top, None, 0, 0)
    assert made is not None  # the standard implies an html element in anything
    notes = ["the markup needed repairs by the HTML standard's rules; its places are estimates"]
    if builder.cut:
        notes.append(f"elements nested deeper than {_DEEPEST} levels are left out")
    return made, builder.styles, notes


class _Builder:
    def __init__(self, places: dict[str, list[tuple[int, int]]]) -> None:
        self.places = places
        self.styles: list[str] = []
        self.cut = False

    def element(self, node: Any, parent: Element | None, at: int, depth: int) -> Element | None:
        """The node and all below it; None for an implied row group, whose rows go to the parent."""
        tag = str(node.tag).lower()
        waiting = self.places.get(tag)
        start, length = waiting.pop() if waiting else (at, 0)
        attributes = {str(k): str(v or "") for k, v in (node.attributes or {}).items()}
        if not length and parent is not None and tag == "tbody":
            self._children(node, parent, start, depth)
            return None
        element = Element(make_head(tag, attributes, length), parent, start)
        if tag == "style":
            self.styles.append(node.text(deep=True) or "")
        if depth >= _DEEPEST:
            self.cut = True
        else:
            self._children(node, element, start, depth)
        element.end = max(start + length, _end_of(element)) if tag not in VOID else start + length
        return element

    def _children(self, node: Any, parent: Element, at: int, depth: int) -> None:
        child = node.child
        while child is not None:
            made: Child | None = None
            if child.tag == "-text":
                text = child.text_content or ""
                if text.strip(" \t\n\r\f"):
                    made = text
                elif text and parent.tag not in _TABLE:
                    made = " "
            elif child.tag and not child.tag.startswith(("-", "_", "!")):
                made = self.element(child, parent, at, depth + 1)
                at = made.start if made is not None else at
            if made:
                parent.children.append(made)
            child = child.next


def _end_of(element: Element) -> int:
    last = next((one for one in reversed(element.children) if isinstance(one, Element)), None)
    return last.end if last is not None else element.start
