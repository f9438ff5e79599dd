"""A variant in its language. Enters: a patched variant; leaves: the same with the language's texts in place.

Texts are looked up after the patches. What the language's own patch says is in the language already, and asks
for no translation. A campaign's own language has no texts, and asks for none.
"""

from __future__ import annotations

from collections.abc import Iterator

from handbill.base.errors import Mistake, MistakesError, Place
from handbill.base.source import Node, child, entries, items, place, scalar
from handbill.expand import Expanded
from handbill.loader import Loader
from handbill.texts.apply import Translator
from handbill.texts.language import standing_texts, translator
from handbill.texts.read import Texts, text_files
from handbill.texts.source import Specs
from handbill.vary.plan import BRAND, LANGUAGE, NAMED, Plan, Value, Variant

_NO_WORDS = (BRAND, LANGUAGE, "same")  # of a patch: what puts no words into it


class Tongues:
    """The languages of one campaign in one brand. `baseline` is the campaign in its own brand, `own` in this
    one; `written` is the language it is written in. Texts are read once for each language."""

    def __init__(
        self, loader: Loader, plan: Plan, baseline: Expanded, own: Expanded, specs: Specs, written: str
    ) -> None:
        self.loader, self.plan, self.baseline, self.own = loader, plan, baseline, own
        self.specs, self.written = specs, written
        self.name = scalar(child(baseline.doc.root, "campaign")) or ""
        self.path = loader.root / baseline.doc.name
        self.usual = conditions(plan.baseline)
        self._found: dict[str, tuple[Translator | None, list[Mistake]]] = {}

    def run(self, variant: Variant, expanded: Expanded) -> tuple[Expanded, list[Mistake]]:
        """`expanded`, which the variant's patches have made, in its language."""
        language = variant.language
        if language is None or language == self.written:
            return expanded, []
        value = next(one for one in variant.values if one.language is not None)
        made, mistakes = self._translator(language, value)
        if made is None:
            return expanded, mistakes
        met = conditions(variant)
        translated, wrong = made.run(expanded, met)
        wrong = [*wrong, *made.unused_narrow(expanded, met, self.usual)]
        own = places(value.node)
        return translated, [*mistakes, *(one for one in wrong if one.place not in own)]

    def _translator(self, language: str, value: Value) -> tuple[Translator | None, list[Mistake]]:
        if language not in self._found:
            self._found[language] = self._load(language, value)
        return self._found[language]

    def _load(self, language: str, value: Value) -> tuple[Translator | None, list[Mistake]]:
        loader, at = self.loader, place(value.language or value.at)
        patched = any(key.value not in _NO_WORDS for key, _value in items(value.node))
        own, shared = text_files(self.path, self.name, language)
        if patched and not (own.is_file() or shared.is_file()):
            # the language's own patch may say all there is to say; what it leaves is missing from this file
            try:
                standing = standing_texts(loader, self.own, self.specs, language)
            except MistakesError as error:
                return None, list(error.mistakes)
            return Translator(Texts(language, loader.name(shared)), self.baseline, self.specs, standing), []
        made, wrong = translator(
            loader, self.path, self.name, language, self.baseline, self.specs, self.own, at
        )
        if made is None:
            return None, wrong
        return made, [*wrong, *made.unused(axes(self.plan))]


def conditions(variant: Variant) -> dict[str, str]:
    """What texts can be for: the variant's choices beside its language, and its name where it has one."""
    met = {axis: chosen for axis, chosen in variant.choices.items() if axis != LANGUAGE}
    named = next((one.name for one in variant.values if not one.axis), None)
    return met if named is None else {NAMED: named, **met}


def axes(plan: Plan) -> dict[str, list[str]]:
    """All that `conditions` can hold."""
    found = {axis: values for axis, values in plan.choices().items() if axis != LANGUAGE}
    return {NAMED: [one.name for one in plan.named], **found} if plan.named else found


def places(node: Node | None) -> frozenset[Place]:
    """Where a language's own patch says something: it is in that language already."""
    return frozenset(map(place, _nodes(node)))


def _nodes(node: Node | None) -> Iterator[Node]:
    """Every value at and below a node."""
    if node is None:
        return
    yield node
    for _key, value in items(node):
        yield from _nodes(value)
    for value in entries(node):
        yield from _nodes(value)
