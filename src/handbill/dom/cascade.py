"""Which rules apply. Enters: a document and a view; leaves: a `Style` for each element (CSS Cascade 4).

Rules that ask for an attribute no element has are left out from the start: readers' own hooks, mostly.
"""

from __future__ import annotations

from typing import Any

from handbill.dom.computed import computed, root_style
from handbill.dom.css import Declarations, Rule, Selector, View, rules
from handbill.dom.style import Style
from handbill.dom.tree import HINTS, Document, Element, Look

Matched = tuple[Declarations, ...]
_Ranked = tuple[tuple[int, ...], Declarations]


class Sheet:
    """The rules of a mail's head that apply in one view, sorted for quick matching."""

    __slots__ = ("by_class", "by_tag", "complex", "known", "notes", "plain")

    def __init__(self, applying: tuple[Rule, ...], absent: frozenset[str]) -> None:
        self.by_class: dict[str, list[_Ranked]] = {}
        self.by_tag: dict[str, list[_Ranked]] = {}
        self.complex: dict[str, list[tuple[tuple[int, ...], Selector, Declarations]]] = {}
        # What matches a look, where no rule asks for more than a look tells.
        self.known: dict[Look, Matched] = {}
        notes: list[str] = []
        for order, rule in enumerate(applying):
            self._add(rule, order, absent)
            if rule.unread:
                notes += [
                    f"rules in {one} are left out"
                    if one.startswith("@")
                    else f"selector not understood: {one}"
                    for one in rule.unread
                ]
        self.notes = tuple(dict.fromkeys(notes))
        hints = frozenset(HINTS)
        self.plain = all(
            len(one.compounds) == 1 and one.asks <= hints
            for several in self.complex.values()
            for _, one, _ in several
        )

    def _add(self, rule: Rule, order: int, absent: frozenset[str]) -> None:
        body = rule.declarations
        for selector in rule.selectors:
            if selector.asks and not absent.isdisjoint(selector.asks):
                continue
            ranked = ((*selector.specificity, order), body)
            if selector.only_class:
                self.by_class.setdefault(selector.only_class, []).append(ranked)
            elif selector.only_tag:
                self.by_tag.setdefault(selector.only_tag, []).append(ranked)
            else:
                self.complex.setdefault(selector.subject.tag, []).append((ranked[0], selector, body))

    def matching(self, element: Element) -> Matched:
        look = element.head.look
        found = list(self.by_tag.get(look.tag, ()))
        for name in look.classes:
            found += self.by_class.get(name, ())
        if self.complex:
            for key, selector, body in (*self.complex.get(look.tag, ()), *self.complex.get("", ())):
                if selector.matches(element):
                    found.append((key, body))
        if len(found) > 1:
            found.sort(key=lambda one: one[0])
        return tuple([body for _, body in found])


_RULES: dict[tuple[tuple[str, ...], View], tuple[tuple[Rule, ...], tuple[str, ...]]] = {}
_SHEETS: dict[tuple[tuple[Rule, ...], frozenset[str]], Sheet] = {}
_MOST = 200


def sheet_for(document: Document, view: View) -> Sheet:
    """The sheet of a document, kept for the next one in which the same rules apply."""
    texts = document.styles
    read = _RULES.get((texts, view))
    if read is None:
        applying = tuple([rule for text in texts for rule in rules(text, view)])
        asked = dict.fromkeys(name for rule in applying for one in rule.selectors for name in one.asks)
        if len(_RULES) >= _MOST:
            _RULES.clear()
        read = _RULES[texts, view] = applying, tuple(asked)
    start = document.html.find(b"<body")
    absent = frozenset([one for one in read[1] if document.html.find(one.encode(), start) < 0])
    found = _SHEETS.get((read[0], absent))
    if found is None:
        if len(_SHEETS) >= _MOST:
            _SHEETS.clear()
        found = _SHEETS[read[0], absent] = Sheet(read[0], absent)
    return found


class Styler:
    """Computed styles of one document in one view: `of(element)` for any element, at any time."""

    def __init__(self, document: Document, view: View) -> None:
        self.view = view
        self.sheet = sheet_for(document, view)
        self._known: dict[Element, Style] = {}
        self._plain = self.sheet.plain

    @property
    def notes(self) -> tuple[str, ...]:
        return self.sheet.notes

    def of(self, element: Element) -> Style:
        found = self._known.get(element)
        if found is None:
            parent = root_style() if element.parent is None else self.of(element.parent)
            found = self._known[element] = self.below(parent, element)
        return found

    def below(self, parent: Style, element: Element) -> Style:
        """The style of an element whose parent's style is known."""
        look = element.head.look
        if self._plain:
            matched = self.sheet.known.get(look)
            if matched is None:
                matched = self.sheet.known[look] = self.sheet.matching(element)
        else:
            matched = self.sheet.matching(element)
        key: Any = (look, matched) if matched else look
        found = parent.kids.get(key)
        if found is None:
            found = parent.kin.get(key)
            if found is None:
                found = computed(parent, look, matched, key)
        return found
