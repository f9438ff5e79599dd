"""What there is to translate. Enters: an expanded campaign, its blocks' specs; leaves: its texts by key.

A block's own description says which fields are words: text, copy, the label of a button or link, the alt text
of a picture. Entries of products and reviews go by their code, so that another order changes no key. Words of
the catalogue are not here: they come with the shop's files.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from hashlib import sha256
from typing import TYPE_CHECKING, NamedTuple

from handbill.base.errors import Place
from handbill.base.frozen import dataclass
from handbill.base.source import Node, child, entries, find, is_mapping, is_sequence, place, scalar
from handbill.expand import Expanded, Section
from handbill.models.limits import BEST_PREHEADER, BEST_SUBJECT, MAX_ALT, MAX_LABEL

if TYPE_CHECKING:
    from handbill.library.spec import BlockSpec, FieldSpec

Way = tuple[str | int, ...]
Specs = Mapping[str, "BlockSpec"]

#: The campaign's own texts: where they stand, the length that is best, and what each is.
HEAD: Mapping[str, tuple[Way, int | None]] = {
    "subject": (("subject",), BEST_SUBJECT),
    "preheader": (("preheader",), BEST_PREHEADER),
    "offer.terms": (("offer", "terms"), None),
}
OTHERWISE = ("otherwise",)  # where a section's texts for the other recipients stand
_ENTRY = {"products": "sku", "product": "sku", "reviews": "id", "review": "id"}
_PICTURE = ("file", "dark", "focus", "link")  # what another language may have otherwise, and need not
_REFERENCE = re.compile(r'(?<!\$)\$\{[^}"]*("[^"]*")?[^}"]*\}')
DIGITS = 10  # of a hash that is kept: 40 bits tell the texts of a campaign apart


class Key(NamedTuple):
    """How a text is called: its section's id (none for the campaign's own), its field, and the variants it
    is for (`arm=quiet`; none for all)."""

    section: str
    field: str
    where: str = ""

    def __str__(self) -> str:
        name = f"{self.section}: {self.field}" if self.section else self.field
        return f"{self.where}, {name}" if self.where else name


@dataclass(frozen=True, slots=True)
class Source:
    """One text as the campaign has it. `most` is the limit in characters that a mail is held to, `best` one
    of common practice. What is not `demanded` (links, pictures, text without a word) may stay as it is."""

    key: Key
    text: str
    way: Way
    place: Place
    demanded: bool
    most: int | None = None
    best: int | None = None


def stamp(text: str) -> str:
    """What is kept of a source text: the beginning of its SHA-256; space around it does not count."""
    return sha256(text.strip().encode("utf-8", "surrogatepass")).hexdigest()[:DIGITS]


def sources(expanded: Expanded, specs: Specs) -> tuple[Source, ...]:
    """Every text of a campaign, in its order; sections of unknown blocks are passed over."""
    return (*head_sources(expanded), *(one for each in expanded.sections for one in of_section(each, specs)))


def head_sources(expanded: Expanded) -> Iterator[Source]:
    """The campaign's own texts: subject, preheader, the offer's terms."""
    for name, (way, best) in HEAD.items():
        node, whole = find(expanded.head, way)
        text = scalar(node) if whole else None
        if text:
            yield Source(Key("", name), text, way, place(node), worded(text), best=best)


def of_section(section: Section, specs: Specs) -> Iterator[Source]:
    """A section's texts, those in its cells and those for the other recipients included.

    What a section says in a language of its own is in that language on purpose, and may stay.
    """
    spec, other = specs.get(section.block), section.otherwise
    if spec is not None:
        found = _Walk(section.id, specs).fields(spec.fields, section.node, (), ())
        yield from found if section.lang is None else map(_left, found)
    if other is not None and (spec := specs.get(other.block or section.block)) is not None:
        found = _Walk(section.id, specs).fields(spec.fields, other.node, OTHERWISE, OTHERWISE)
        yield from found if other.lang is None and section.lang is None else map(_left, found)


def _left(source: Source) -> Source:
    return replace(source, demanded=False)


def worded(text: str) -> bool:
    """Whether a text says anything in words: figures and facts alone read alike in every language.

    The words of a fact's fallback count.
    """
    return any(character.isalpha() for character in _REFERENCE.sub(r"\1", text))


class _Walk:
    def __init__(self, section: str, specs: Specs) -> None:
        self.section, self.specs = section, specs

    def one(
        self, name: Sequence[str], way: Way, node: Node | None, around: Node, *, words: bool = True,
        most: int | None = None,
    ) -> Iterator[Source]:  # fmt: skip
        text = scalar(node)
        if words and not text:
            return
        at = place(node if node is not None else around)
        demanded = words and worded(text or "")
        yield Source(Key(self.section, ".".join(name)), text or "", way, at, demanded, most)

    def fields(
        self, specs: Mapping[str, FieldSpec], node: Node, name: tuple[str, ...], way: Way, among: str = ""
    ) -> Iterator[Source]:
        """The texts of a mapping; `among` is the kind of list it is an entry of."""
        for field, spec in specs.items():
            value = child(node, field)
            if value is None and spec.inherits is None:
                continue
            called, along = (*name, field), (*way, field)
            if spec.type in ("text", "copy"):
                # a review's quote is the reviewer's own words, which no translator may change
                words = value is not None and not (among in ("reviews", "review") and field == "quote")
                yield from self.one(called, along, value, node, words=words, most=spec.most)
            elif value is not None:
                yield from self.composed(spec, value, called, along)

    def composed(self, spec: FieldSpec, value: Node, name: tuple[str, ...], way: Way) -> Iterator[Source]:
        if spec.type in ("button", "link") and is_mapping(value):
            most = MAX_LABEL if spec.type == "button" else None
            label = child(value, "label")
            yield from self.one((*name, "label"), (*way, "label"), label, value, most=most)
            yield from self.one((*name, "link"), (*way, "link"), child(value, "link"), value, words=False)
        elif spec.type == "picture":
            yield from self.one(
                (*name, "alt"), (*way, "alt"), child(value, "alt"), value, most=MAX_ALT
            )  # fmt: skip
            for part in _PICTURE:
                inner = value if part == "file" and scalar(value) else child(value, part)
                yield from self.one((*name, part), (*way, part), inner, value, words=False)
        elif spec.type == "list":
            for number, node in enumerate(entries(value)):
                yield from self.fields(spec.of, node, (*name, str(number)), (*way, number))
        elif spec.type in _ENTRY:
            yield from self.references(spec, value, name, way)
        elif spec.type == "cells":
            for number, entry in enumerate(entries(value)):
                block = self.specs.get(scalar(child(entry, "block")) or "")
                if block is not None:
                    yield from self.fields(block.fields, entry, (*name, str(number)), (*way, number))

    def references(self, spec: FieldSpec, value: Node, name: tuple[str, ...], way: Way) -> Iterator[Source]:
        """Products or reviews, by their codes; the second use of a code goes by its number."""
        if not is_sequence(value):
            if is_mapping(value):
                own = scalar(child(value, _ENTRY[spec.type])) or "0"
                whole = name if spec.type in ("product", "review") else (*name, own)
                yield from self.fields(spec.of, value, whole, way, spec.type)
            return
        seen: set[str] = set()
        for number, entry in enumerate(entries(value)):
            code = scalar(child(entry, _ENTRY[spec.type])) or scalar(entry) or str(number)
            called = str(number) if code in seen else code
            seen.add(code)
            if is_mapping(entry):
                yield from self.fields(spec.of, entry, (*name, called), (*way, number), spec.type)
