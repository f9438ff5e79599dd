"""A variant in its language. Enters: a patched variant; leaves: the same with the language's texts in place.

Texts are looked up after the patches. What the language's own patch says is in the language already, and asks
for no translation. A campaign's own language has no texts, and asks for none.
"""

from __future__ import annotations

from collections.abc import Iterator

from handbill.base.errors import Mistake, MistakesError, Place
from handbill.base.source import Node, child, entries, items, place, scalar
from handbill.expand import Expanded
from handbill.load import Loader
from handbill.texts.apply import Translator
from handbill.texts.read import Texts, load_texts, text_files
from handbill.texts.source import Specs
from handbill.vary.plan import LANGUAGE, Plan, Value, Variant


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
        self._found: dict[str, tuple[Translator | None, list[Mistake]]] = {}

    def run(self, variant: Variant, expanded: Expanded) -> tuple[Expanded, list[Mistake]]:
        """`expanded`, which the variant's patches have made, in its language."""
        language = variant.language
        if language is None or language == self.written:
            return expanded, []
        value = next(one for one in variant.values if one.language is not None)
        translator, mistakes = self._translator(language, value)
        if translator is None:
            return expanded, mistakes
        translated, wrong = translator.run(expanded, variant.choices)
        wrong = [*wrong, *translator.unused_narrow(expanded, variant.choices)]
        own = frozenset(map(place, _nodes(value.node)))
        return translated, [*mistakes, *(one for one in wrong if one.place not in own)]

    def _translator(self, language: str, value: Value) -> tuple[Translator | None, list[Mistake]]:
        if language not in self._found:
            self._found[language] = self._load(language, value)
        return self._found[language]

    def _load(self, language: str, value: Value) -> tuple[Translator | None, list[Mistake]]:
        node = value.language
        at = place(node) if node is not None else Place("--language")
        path = value.path if value.axis else f"{value.path}, {LANGUAGE}"
        try:
            texts = load_texts(self.loader, self.path, self.name, language, at)
        except MistakesError as error:
            return None, list(error.mistakes)
        if texts is None and value.node is not None and value.node.value:
            # its own patch may say all there is to say; what it leaves is missing from here
            texts = Texts(language, self.loader.name(text_files(self.path, self.name, language)[1]))
        if texts is None:
            own, shared = (self.loader.name(one) for one in text_files(self.path, self.name, language))
            message = f"the campaign is written in {self.written} and has no texts in {language}"
            return None, [Mistake(at, path, message, f"{shared} or {own}; handbill texts export begins one")]
        translator = Translator(texts, self.baseline, self.specs, self.own)
        axes = {axis: values for axis, values in self.plan.choices().items() if axis != LANGUAGE}
        return translator, translator.unused(axes)


def _nodes(node: Node | None) -> Iterator[Node]:
    """Every value at and below a node."""
    if node is None:
        return
    yield node
    for _key, value in items(node):
        yield from _nodes(value)
    for value in entries(node):
        yield from _nodes(value)
