"""A campaign in another language. Enters: an expanded variant and a language's texts; leaves: it translated.

Translations come after a variant's other patches, since they are made from what those leave. A text that a
variant changes is not the one that was translated, so it asks for a translation of its own. One translation
of a section serves every variant that shares it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial

from handbill.base.errors import Mistake, nearest
from handbill.base.frozen import dataclass
from handbill.base.kept import Kept
from handbill.base.source import (
    Doc,
    Node,
    child,
    entries,
    is_mapping,
    make_mapping,
    make_scalar,
    make_sequence,
    place,
    put,
)
from handbill.expand import Expanded, Section
from handbill.texts.read import ERROR, Entry, Texts
from handbill.texts.source import OTHERWISE, Key, Source, Specs, Way, head_sources, of_section, sources, stamp

MOST = 1_000  # translated sections, and heads, kept at a time
_NUMBER = re.compile(r"-[0-9]+$")


@dataclass(frozen=True, slots=True)
class Override:
    """One text in the other language: as a patch `set: {section.field: text}` that knows its line."""

    source: Source
    entry: Entry


@dataclass(frozen=True, slots=True)
class Met:
    """How texts and translations meet: what to set, what lacks a translation, what is out of date."""

    overrides: tuple[Override, ...]
    missing: tuple[Source, ...]
    out_of_date: tuple[Override, ...]


class Translator:
    """One language for the variants of one brand.

    `baseline` is the campaign before any patch of a variant; its texts are what `sections` in the file are
    made from. `standing` are the texts that lie beside standing sections, by the file that the sections come
    from. `run` may be called for any number of variants: what it keeps is bounded.
    """

    def __init__(
        self,
        texts: Texts,
        baseline: Expanded,
        specs: Specs,
        standing: Mapping[str, Texts] | None = None,
    ) -> None:
        self.texts, self.specs, self.standing = texts, specs, standing or {}
        self.original = {one.key: one for one in sources(baseline, specs)}
        self.where: dict[str, list[tuple[str, frozenset[str]]]] = {}  # conditions by their first part
        self.by_section: dict[str, set[str]] = {}
        self.by_where: dict[str, list[Entry]] = {}
        for one in texts.where():
            parts = one.split(",")
            self.where.setdefault(parts[0], []).append((one, frozenset(parts)))
        for key, entry in texts.entries.items():
            self.by_section.setdefault(key.section, set()).add(key.where)
            self.by_where.setdefault(key.where, []).append(entry)
        self.kept: Kept[tuple[Section, list[Mistake]]] = Kept(MOST)
        self.heads: Kept[tuple[Doc, Node, list[Mistake]]] = Kept(MOST)

    def run(self, expanded: Expanded, choices: Mapping[str, str]) -> tuple[Expanded, list[Mistake]]:
        """`expanded`, one variant of the campaign after its other patches, in the language.

        Mistakes: texts without a translation at their own place, out-of-date ones in the file of texts (where
        that file's policies make them mistakes), and two translations that fit one variant equally well.
        """
        fitting = self.fitting(choices)
        doc, head, wrong = self.heads.of(
            expanded.head, lambda: self.head(expanded, fitting, choices), self.key("", fitting)
        )
        mistakes = list(wrong)
        sections = []
        for section in expanded.sections:
            made, wrong = self.kept.of(
                section, partial(self.section, section, fitting, choices), self.key(section.id, fitting)
            )
            sections.append(made)
            mistakes.extend(wrong)
        same = all(a is b for a, b in zip(sections, expanded.sections, strict=True))
        if same and head is expanded.head:
            return expanded, mistakes
        return Expanded(doc, head, tuple(sections)), mistakes

    def key(self, section: str, fitting: Sequence[str]) -> tuple[str, ...]:
        """Which of a variant's conditions make a difference to a section."""
        here = self.by_section.get(section, ())
        return tuple(one for one in fitting if one in here)

    def head(
        self, expanded: Expanded, fitting: Sequence[str], choices: Mapping[str, str]
    ) -> tuple[Doc, Node, list[Mistake]]:
        """The campaign's own texts in the language."""
        mistakes: list[Mistake] = []
        met = self.meet(tuple(head_sources(expanded)), fitting, choices, mistakes)
        doc, head = expanded.doc, expanded.head
        if met.overrides:
            doc, head = Doc(doc.name, translated(doc.root, met.overrides)), translated(head, met.overrides)
        return doc, head, mistakes

    def section(
        self, section: Section, fitting: Sequence[str], choices: Mapping[str, str]
    ) -> tuple[Section, list[Mistake]]:
        """A section in the language. Its mistakes name the choices of the first variant that has them."""
        mistakes: list[Mistake] = []
        met = self.meet(tuple(of_section(section, self.specs)), fitting, choices, mistakes)
        return _translated_section(section, met.overrides) if met.overrides else section, mistakes

    def fitting(self, choices: Mapping[str, str]) -> tuple[str, ...]:
        """The file's conditions that hold for a variant, the narrowest first."""
        mine = {f"{axis}={value}" for axis, value in choices.items()}
        found = [(one, parts) for part in mine for one, parts in self.where.get(part, ()) if parts <= mine]
        return tuple(one for one, _parts in sorted(found, key=lambda pair: (-len(pair[1]), pair[0])))

    def meet(
        self,
        found: Iterable[Source],
        fitting: Sequence[str],
        choices: Mapping[str, str],
        mistakes: list[Mistake],
    ) -> Met:
        """What is set, missing and out of date among `found`; what of it is a mistake is added."""
        overrides: list[Override] = []
        missing: list[Source] = []
        old: list[Override] = []
        for source in found:
            entry = self.entry(source, fitting, mistakes)
            if entry is None:
                if source.demanded:
                    missing.append(source)
                continue
            overrides.append(Override(source, entry))
            if entry.made_from not in (None, stamp(source.text)) and source.text:
                old.append(overrides[-1])
        if self.texts.untranslated == ERROR:
            mistakes.extend(self.not_translated(source, choices) for source in missing)
        if self.texts.out_of_date == ERROR:
            mistakes.extend(outdated(one) for one in old)
        return Met(tuple(overrides), tuple(missing), tuple(old))

    def entry(self, source: Source, fitting: Sequence[str], mistakes: list[Mistake]) -> Entry | None:
        """The translation for a text of a variant: the narrowest that fits, else the one for all."""
        entries_ = self.texts.entries
        narrow = [entry for one in fitting if (entry := entries_.get(source.key._replace(where=one)))]
        if len(narrow) > 1:
            first, second = narrow[0], narrow[1]
            if first.key.where.count(",") == second.key.where.count(",") and first.text != second.text:
                message = f"{first.key.where} and {second.key.where} both translate it for one variant"
                expected = f"one for {first.key.where},{second.key.where} as well"
                mistakes.append(Mistake(second.place, str(second.key), message, expected))
        if narrow:
            return narrow[0]
        plain = entries_.get(source.key)
        if plain is None:
            return standing_entry(source, self.standing)
        before = self.original.get(source.key)
        same = before is not None and before.text.strip() == source.text.strip()
        fits = same or not source.text or plain.made_from == stamp(source.text)
        return plain if fits else standing_entry(source, self.standing)

    def not_translated(self, source: Source, choices: Mapping[str, str]) -> Mistake:
        key = source.key
        before = self.original.get(key)
        rest = {axis: value for axis, value in choices.items() if axis != "language"}
        changed = before is None or before.text.strip() != source.text.strip()
        where = ",".join(f"{axis}={value}" for axis, value in sorted(rest.items())) if changed else ""
        shown = f"{key.field}: in {self.texts.name}, under "
        shown += f"variants, {where}, " if where else ""
        shown += f"sections, {key.section}" if key.section else "mail"
        message = f"not translated into {self.texts.language}"
        path = str(key._replace(where=where))
        return Mistake(source.place, path, message, shown)

    def unused(self, axes: Mapping[str, Collection[str]]) -> list[Mistake]:
        """Translations for all variants that meet no text of the baseline, and conditions that no variant
        meets: `axes` are the campaign's, with their values."""
        wrong = [
            unmet(entry, self.original)
            for key, entry in self.texts.entries.items()
            if not key.where and key not in self.original
        ]
        for where, node in self.texts.conditions.items():
            for axis, _equals, value in (part.partition("=") for part in where.split(",")):
                values = axes.get(axis)
                if values is not None and value in values:
                    continue
                given, known = (axis, list(axes)) if values is None else (value, list(values))
                message = f"the campaign has no axis {axis}" if values is None else f"{axis} has no {value}"
                expected = "one of " + ", ".join(known) if known else "variants in the campaign"
                path = f"variants, {where}"
                wrong.append(Mistake(place(node), path, message, expected, nearest(given, known)))
        return wrong

    def unused_narrow(
        self, expanded: Expanded, choices: Mapping[str, str], usual: Mapping[str, str]
    ) -> list[Mistake]:
        """Translations for just such variants as this one that meet no text of it.

        `usual` are the choices of the variant that changes least. A translation for `arm=quiet` is judged
        where the arm alone differs from them: in combination with others its section may be left out.
        """
        judged = [
            where
            for where in self.fitting(choices)
            if all(usual.get(axis) == value or f"{axis}={value}" in where.split(",")
                   for axis, value in choices.items())
        ]  # fmt: skip
        entries_ = [entry for where in judged for entry in self.by_where.get(where, ())]
        asked = {entry.key.section for entry in entries_}
        sections = [one for one in expanded.sections if one.id in asked]
        known = {one.key for one in sources(replace(expanded, sections=tuple(sections)), self.specs)}
        odd = [entry for entry in entries_ if entry.key._replace(where="") not in known]
        if not odd:
            return []
        every = {one.key: one for one in sources(expanded, self.specs)}
        return [unmet(entry, every) for entry in odd]


def standing_entry(source: Source, standing: Mapping[str, Texts]) -> Entry | None:
    """The translation beside the standing section that a text comes from.

    A use of the section may number its ids anew: where several would fit, the hash tells which was made from
    this text, and without one that does there is none.
    """
    texts = standing.get(source.place.file)
    if texts is None:
        return None
    base = _NUMBER.sub("", source.key.section)
    fitting = [
        entry
        for key, entry in texts.entries.items()
        if key.field == source.key.field and not key.where and _NUMBER.sub("", key.section) == base
    ]
    made_from = stamp(source.text)
    exact = [entry for entry in fitting if entry.made_from == made_from]
    return exact[0] if exact else fitting[0] if len(fitting) == 1 else None


def outdated(one: Override) -> Mistake:
    """The mistake of a translation whose source text has changed."""
    message = f"made from a text that has changed ({one.source.place})"
    expected = "a translation of the text as it is now, marked by handbill texts import or texts accept"
    return Mistake(one.entry.place, str(one.entry.key), message, expected)


def unmet(entry: Entry, known: Mapping[Key, Source]) -> Mistake:
    """The mistake of a translation that no text asks for."""
    key = entry.key
    ids = list(dict.fromkeys(one.section for one in known if one.section))
    if key.section and key.section not in ids:
        message, given, names = f"no section {key.section} with words of its own", key.section, ids
    else:
        message, given = f"{key.section or 'the campaign'} has no such text", key.field
        names = [one.field for one in known if one.section == key.section]
    expected = "one of " + ", ".join(names) if names else "no line"
    return Mistake(entry.place, str(key), message, expected, nearest(given, names))


def _translated_section(section: Section, overrides: Iterable[Override]) -> Section:
    """The section, and what the other recipients get, each with its own texts."""
    own, others = [], []
    for one in overrides:
        if one.source.way[:1] == OTHERWISE:
            others.append(replace(one, source=replace(one.source, way=one.source.way[1:])))
        else:
            own.append(one)
    node, whole = (translated(one, own) for one in (section.node, section.whole))
    other = section.otherwise
    if other is not None and others:
        parts = [translated(one, others) for one in (other.node, other.whole)]
        other = replace(other, node=parts[0], whole=parts[1])
    return replace(section, node=node, whole=whole, otherwise=other)


def translated(root: Node, overrides: Iterable[Override]) -> Node:
    """A copy of `root` with every text of `overrides` in its place; other nodes stay themselves."""
    for one in overrides:
        root = _set(root, one.source.way, one.entry.node, one.entry.at)
    return root


def _set(node: Node, way: Way, value: Node, key: Node) -> Node:
    step, rest = way[0], way[1:]
    if isinstance(step, int):
        nodes = entries(node)
        nodes[step] = _set(nodes[step], rest, value, key) if rest else value
        return make_sequence(nodes, node)
    if not is_mapping(node):  # a picture that is its file's name alone
        node = make_mapping([(make_scalar("file", node), node)], node)
    if not rest:
        return put(node, step, value, make_scalar(step, key))
    inner = child(node, step)
    if inner is None:
        inner = make_mapping([], key)
    return put(node, step, _set(inner, rest, value, key), make_scalar(step, inner))
