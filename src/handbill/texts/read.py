"""`texts/LANG.yaml`. Enters: a campaign's file and a language tag; leaves: its translations, with places.

Format 1: `mail`, `sections` and `variants` hold texts by field (dotted, nested, or in lists, as one likes);
`made_from` holds, in the same shape, what each text was translated from, as a hash.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.files import inside
from handbill.base.frozen import dataclass, field
from handbill.base.source import Node, child, entries, is_mapping, is_sequence, items, place, plain, scalar
from handbill.loader import TEXTS, Loader
from handbill.models.read import FORMAT, NAME, PATTERNS, TAG
from handbill.texts.source import DIGITS, Key

COMMAND = Place("--language")
KEEP, ERROR = "keep", "error"
POLICIES = {
    "untranslated": "what a text without a translation is",
    "out_of_date": "what a translation of a text that has changed is",
}
_PARTS = ("mail", "sections", "variants")
_KEYS = ("handbill", *POLICIES, *_PARTS, "made_from")
_WHERE = re.compile(r"[a-z][a-z0-9_-]*=[^=,\s]+(?:,[a-z][a-z0-9_-]*=[^=,\s]+)*")


@dataclass(frozen=True, slots=True)
class Entry:
    """One translation: its text, the nodes of key and text, and the hash of what it was made from."""

    key: Key
    text: str
    node: Node
    at: Node
    made_from: str | None = None

    @property
    def place(self) -> Place:
        """Where its key is written; an entry of a list has none, and is where its text is."""
        return place(self.at)


@dataclass(frozen=True, slots=True)
class Texts:
    """One language's file. `untranslated` and `out_of_date` are `error` or `keep`."""

    language: str
    name: str
    entries: Mapping[Key, Entry] = field(default_factory=dict)
    untranslated: str = ERROR
    out_of_date: str = ERROR
    conditions: Mapping[str, Node] = field(default_factory=dict)  # the keys of `variants`, as written

    def where(self) -> tuple[str, ...]:
        """The conditions that some entry is for, as `condition` writes them."""
        return tuple(dict.fromkeys(key.where for key in self.entries if key.where))


def text_files(campaign: Path, name: str, language: str) -> tuple[Path, Path]:
    """The campaign's own file, and the one it shares with its neighbours."""
    folder = campaign.parent / TEXTS
    return folder / name / f"{language}.yaml", folder / f"{language}.yaml"


def find_texts(loader: Loader, campaign: Path, name: str, language: str, at: Place = COMMAND) -> Path | None:
    """Which file holds the language's texts for this campaign; None without one. `at` asked for the language.

    Raises MistakesError when there are two, for which of them counts could not be seen, and for a name that
    is no language.
    """
    if not re.fullmatch(TAG, language):
        what, expected = PATTERNS[TAG]
        raise MistakesError([Mistake(at, "", f"{language or 'this'} is not {what}", expected)])
    own, shared = text_files(campaign, name, language)
    found = [path for path in (own, shared) if path.is_file()]
    if len(found) == 2:
        message = f"{loader.name(shared)} holds texts for {name} in {language} as well"
        expected = "one of the two files"
        raise MistakesError([Mistake(Place(loader.name(own)), "", message, expected)])
    return found[0] if found else None


def load_texts(loader: Loader, campaign: Path, name: str, language: str, at: Place = COMMAND) -> Texts | None:
    """The language's texts for a campaign, None without a file. Raises MistakesError."""
    path = find_texts(loader, campaign, name, language, at)
    if path is None:
        return None
    try:
        inside(loader.root, loader.root, loader.name(path))
    except Fault as fault:
        raise MistakesError([fault.at(Place(loader.name(path)))]) from None
    doc = loader.read(path)
    texts, mistakes = read_texts(doc.root, doc.name, language)
    if mistakes:
        raise MistakesError(mistakes)
    return texts


def read_texts(root: Node, name: str, language: str) -> tuple[Texts, list[Mistake]]:
    """The texts in a file's root node."""
    return _Reading(name, language).run(root)


def condition(choices: Mapping[str, str]) -> str:
    """Choices as a key of `variants`: `arm=quiet,segment=new`, in the order of their names."""
    return ",".join(f"{axis}={value}" for axis, value in sorted(choices.items()))


class _Reading:
    def __init__(self, name: str, language: str) -> None:
        self.name, self.language = name, language
        self.mistakes: list[Mistake] = []
        self.conditions: dict[str, Node] = {}

    def wrong(self, node: Node, path: str, message: str, expected: str = "", near: str = "") -> None:
        self.mistakes.append(Mistake(place(node), path, message, expected, near))

    def run(self, root: Node) -> tuple[Texts, list[Mistake]]:
        version = child(root, "handbill")
        if version is None or scalar(version) != str(FORMAT):
            message = "handbill is missing" if version is None else (
                f"format version {scalar(version) or 'this'} is not one this handbill reads"
            )  # fmt: skip
            self.wrong(version or root, "handbill", message, f"handbill: {FORMAT}")
        self.known(root, _KEYS, "")
        policies = {name: self.policy(root, name) for name in POLICIES}
        stamps = self.stamps(child(root, "made_from"))
        found: dict[Key, Entry] = {}
        for key, node, at in self.whole(root):
            text = plain(node)
            if text is None or text == "":
                continue  # a line that still waits for its words
            if key in found:
                expected = f"one text (the other at line {found[key].place.line})"
                self.wrong(at, str(key), "the text is given twice", expected)
                continue
            found[key] = Entry(key, text, node, at, stamps.get(key))
        texts = Texts(self.language, self.name, found, **policies, conditions=self.conditions)
        return texts, self.mistakes

    def known(self, node: Node, names: Sequence[str], path: str) -> None:
        for key, _value in items(node):
            if key.value not in names:
                expected = "one of " + ", ".join(names)
                self.wrong(key, path, f"unknown field {key.value}", expected, nearest(key.value, names))

    def policy(self, root: Node, name: str) -> str:
        node = child(root, name)
        if node is None:
            return ERROR
        value = scalar(node) or ""
        if value not in (ERROR, KEEP):
            expected, near = f"{POLICIES[name]}: {ERROR} or {KEEP}", nearest(value, (ERROR, KEEP))
            self.wrong(node, name, f"{value or 'this'} is not a choice", expected, near)
            return ERROR
        return value

    def stamps(self, node: Node | None) -> dict[Key, str]:
        if node is None:
            return {}
        found: dict[Key, str] = {}
        self.known(node, _PARTS, "made_from")
        for key, value, _at in self.whole(node, "made_from"):
            text = scalar(value) or ""
            if re.fullmatch(f"[0-9a-f]{{{DIGITS}}}", text):
                found[key] = text
                continue
            expected = f"{DIGITS} hexadecimal digits, as handbill writes them, or no line"
            self.wrong(value, f"made_from, {key}", f"{text or 'this'} is not a hash", expected)
        return found

    def whole(self, root: Node, path: str = "") -> Iterator[tuple[Key, Node, Node]]:
        """Every leaf below `mail`, `sections` and `variants`: its key, its node, the node of its name."""
        yield from self.mail_and_sections(root, "", path)
        variants = child(root, "variants")
        if variants is not None and not self.mapped(variants, _joined(path, "variants")):
            return
        for key, value in items(variants):
            way = _joined(path, "variants", key.value)
            if not _WHERE.fullmatch(key.value):
                self.wrong(key, way, f"{key.value} names no variants", "axis=value, such as arm=quiet")
                continue
            choices = dict(part.split("=", 1) for part in key.value.split(","))
            where = condition(choices)
            if not path:
                self.conditions.setdefault(where, key)
            if "language" in choices:
                self.wrong(
                    key, way, f"this file is for {self.language} alone", "other axes, such as arm=quiet"
                )
                continue
            if not self.mapped(value, way):
                continue
            self.known(value, _PARTS[:2], way)
            yield from self.mail_and_sections(value, where, way)

    def mail_and_sections(self, root: Node, where: str, path: str) -> Iterator[tuple[Key, Node, Node]]:
        mail, sections = child(root, "mail"), child(root, "sections")
        if mail is not None and self.mapped(mail, _joined(path, "mail")):
            for way, node, at in self.leaves(mail, (), mail):
                yield Key("", way, where), node, at
        if sections is None or not self.mapped(sections, _joined(path, "sections")):
            return
        for key, value in items(sections):
            if not re.fullmatch(NAME, key.value):
                expected = "a section's id, and its fields below it"
                self.wrong(key, _joined(path, "sections"), f"{key.value} is not an id", expected)
            elif self.mapped(value, _joined(path, "sections", key.value)):
                for way, node, at in self.leaves(value, (), value):
                    yield Key(key.value, way, where), node, at

    def mapped(self, node: Node, path: str) -> bool:
        if is_mapping(node) or plain(node) is None:
            return True
        self.wrong(node, path, "a mapping is expected here", "field: text")
        return False

    def leaves(self, node: Node, way: tuple[str, ...], at: Node) -> Iterator[tuple[str, Node, Node]]:
        """Texts by dotted field, however deeply they are nested."""
        if is_mapping(node):
            for key, value in items(node):
                yield from self.leaves(value, (*way, key.value), key)
        elif is_sequence(node):
            for number, value in enumerate(entries(node)):
                yield from self.leaves(value, (*way, str(number)), value)
        else:
            yield ".".join(way), node, at


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)
