"""Which rules apply. Enters: a document and a view; leaves: a `Style` for each element (CSS Cascade 4)."""

from __future__ import annotations

from typing import Any

from handbill.dom.css import Declarations, Rule, Selector, View, rules
from handbill.dom.style import Style, computed, root_style
from handbill.dom.tree import Document, Element


class Sheet:
    """The rules of a mail's head that apply in one view, sorted for quick matching."""

    __slots__ = ("by_class", "by_tag", "complex", "notes")

    def __init__(self, texts: tuple[str, ...], view: View) -> None:
        self.by_class: dict[str, list[tuple[tuple[int, ...], Declarations]]] = {}
        self.by_tag: dict[str, list[tuple[tuple[int, ...], Declarations]]] = {}
        self.complex: list[tuple[tuple[int, ...], Selector, Declarations]] = []
        notes: list[str] = []
        order = 0
        for text in texts:
            for rule in rules(text, view):
                self._add(rule, order)
                order += 1
                notes += [f"selector not understood: {one}" for one in rule.unread]
        self.notes = tuple(dict.fromkeys(notes))

    def _add(self, rule: Rule, order: int) -> None:
        for selector in rule.selectors:
            key = (*selector.specificity, order)
            subject = selector.subject
            simple = len(selector.compounds) == 1 and not (subject.attributes or subject.ids or subject.root)
            if simple and len(subject.classes) == 1 and not subject.tag:
                self.by_class.setdefault(subject.classes[0], []).append((key, rule.declarations))
            elif simple and not subject.classes and subject.tag:
                self.by_tag.setdefault(subject.tag, []).append((key, rule.declarations))
            else:
                self.complex.append((key, selector, rule.declarations))

    def matching(self, element: Element) -> tuple[Declarations, ...]:
        look = element.head.look
        found = list(self.by_tag.get(look.tag, ()))
        for name in look.classes:
            found += self.by_class.get(name, ())
        for key, selector, body in self.complex:
            if selector.matches(element):
                found.append((key, body))
        if len(found) > 1:
            found.sort(key=lambda one: one[0])
        return tuple([body for _, body in found])


class Styler:
    """Computed styles of one document in one view: `of(element)` for any element, at any time."""

    def __init__(self, document: Document, view: View) -> None:
        self.view = view
        self.sheet = Sheet(document.styles, view)
        self._known: dict[Element, Style] = {}
        self._complex = bool(self.sheet.complex) and any(
            _could_match(selector, document) for _, selector, _ in self.sheet.complex
        )
        if not self._complex:
            self.sheet.complex.clear()
        self._tags = self.sheet.by_tag

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
        if self._complex or look.classes or look.tag in self._tags:
            matched = self.sheet.matching(element)
            key: Any = (look, matched) if matched else look
        else:
            matched, key = (), look
        found = parent.kids.get(key)
        if found is None:
            found = parent.kids[key] = computed(parent, look, matched)
        return found


def _could_match(selector: Selector, document: Document) -> bool:
    """Whether attributes that a selector asks for occur in the mail at all (readers' own hooks do not)."""
    asked = [name for _, compound in selector.compounds for name, _ in compound.attributes]
    return all(f"{name}".encode() in document.html.partition(b"<body")[2] for name in asked)
