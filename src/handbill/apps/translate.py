"""Translating a campaign. Enters: its file and a language; leaves: a sheet to fill, or the file of texts.

What is asked for is what readers of some variant would see: the texts of the campaign as it stands, and those
that its variants change.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from handbill.apps.arms import arms, spoken
from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.frozen import dataclass
from handbill.base.letters import count, extent, room
from handbill.base.source import child, parse_yaml, place, scalar
from handbill.expand import Expanded, expand
from handbill.library.find import Found, blocks, standing
from handbill.library.spec import BlockSpec
from handbill.loader import Loader
from handbill.models.check import validate
from handbill.models.read import TAG, show
from handbill.pipeline import Desk, brand_parts, campaign_file
from handbill.resolve.facts import Ref, parse
from handbill.resolve.locale import Locale
from handbill.texts.apply import Translator, standing_entry
from handbill.texts.language import no_texts, standing_texts
from handbill.texts.read import COMMAND, Texts, condition, find_texts, load_texts, read_texts, text_files
from handbill.texts.sheet import Filled, Line, read_sheet, same_cell, write_sheet
from handbill.texts.source import Key, Source, Specs, sources, stamp, worded
from handbill.texts.write import Comments, Kept, comments_of, file_bytes
from handbill.vary.plan import LANGUAGE
from handbill.vary.tongue import axes, conditions

_LINKED = re.compile(r"\]\(([^()\s]+)\)")  # where copy's links lead


@dataclass(frozen=True, slots=True)
class Opened:
    """A campaign to translate; `language` is the one it is written in."""

    loader: Loader
    path: Path
    name: str
    language: str
    baseline: Expanded
    specs: Specs
    desk: Desk


@dataclass(frozen=True, slots=True)
class Taken:
    """A filled sheet taken in: the file of texts to write, how many rows said something new, the texts that
    still lack a translation, and what to look at."""

    path: Path
    data: bytes
    new: int
    same: int
    left: tuple[Source, ...]
    notes: tuple[Mistake, ...]


def open_campaign(loader: Loader, path: Path) -> Opened:
    """Raises MistakesError for a campaign that cannot be expanded."""
    doc = campaign_file(loader, path)
    parts = brand_parts(loader, doc.root, None)
    shelves = loader.shelves(parts.files)
    expanded, mistakes = expand(doc, standing(shelves), loader)
    specs = {name: _spec(found, loader) for name, found in blocks(shelves).items()}
    named = child(doc.root, "campaign")
    name = scalar(named)
    if name is None:
        at = place(named or doc.root)
        mistakes.append(Mistake(at, "campaign", "campaign is missing", "campaign: NAME"))
    desk = Desk(loader, doc)
    mistakes.extend(desk.wrong)
    if mistakes or name is None:
        raise MistakesError(mistakes)
    language = scalar(child(doc.root, "language")) or parts.brand.languages[0]
    return Opened(loader, path, name, language, expanded, specs, desk)


def _spec(found: Found, loader: Loader) -> BlockSpec:
    file = found.folder / "block.yaml"
    spec, wrong = validate(BlockSpec, loader.read(file).root)
    if spec is None:
        raise MistakesError(wrong)
    return spec


def asked(opened: Opened, language: str) -> tuple[Source, ...]:
    """Every text of the campaign that some variant in the language has, in its order; then those that
    variants change, each under the shortest condition that tells its variants from the others."""
    base = sources(opened.baseline, opened.specs)
    before = {one.key: one.text.strip() for one in base}
    seen: list[tuple[Mapping[str, str], dict[Key, Source]]] = []
    met: set[Key] = set()
    for arm in arms(opened.desk, language):
        changed = {}
        for one in sources(arm.expanded, opened.specs):
            if before.get(one.key) == one.text.strip():
                met.add(one.key)
            elif one.demanded and one.place not in arm.said:
                changed[one.key] = one
        seen.append((arm.choices, changed))
    return (*(one for one in base if one.key in met), *_narrow(seen))


def _narrow(seen: Sequence[tuple[Mapping[str, str], dict[Key, Source]]]) -> Iterator[Source]:
    done: set[tuple[Key, str]] = set()
    for choices, changed in seen:
        for key, source in changed.items():

            def same(other: Mapping[Key, Source], key: Key = key, text: str = source.text) -> bool:
                return key in other and other[key].text == text

            where = condition(choices)
            for axis, value in sorted(choices.items()):
                if all(same(other) for theirs, other in seen if theirs.get(axis) == value):
                    where = condition({axis: value})
                    break
            if (key._replace(where=where), source.text) not in done:
                done.add((key._replace(where=where), source.text))
                yield Source(
                    key._replace(where=where), source.text, source.way, source.place, True, source.most,
                    source.best,
                )  # fmt: skip


# -- out


def exported(
    opened: Opened, language: str, separator: str = ",", *, only_left: bool = False
) -> tuple[bytes, int]:
    """The sheet, and how many texts it asks for. Raises MistakesError."""
    texts = texts_of(opened, language)
    lines = []
    for source in _own_work(opened, language, texts):
        entry = texts.entries.get(source.key) if texts else None
        old = entry is not None and entry.made_from not in (None, stamp(source.text))
        if not only_left or entry is None or old:
            lines.append(Line(source, entry.text if entry else "", old))
    return write_sheet(lines, opened.name, opened.language, language, separator), len(lines)


def _own_work(opened: Opened, language: str, texts: Texts | None) -> list[Source]:
    """What the campaign's own file must hold: all but what texts beside standing sections translate."""
    standing = _standing(opened, language)

    def elsewhere(source: Source) -> bool:
        held = texts is not None and source.key in texts.entries
        return not held and standing_entry(source, standing) is not None

    return [one for one in asked(opened, language) if one.demanded and not elsewhere(one)]


def _standing(opened: Opened, language: str) -> dict[str, Texts]:
    """The texts beside all standing sections in use, whichever brand they are of."""
    found: dict[str, Texts] = {}
    for arm in arms(opened.desk, language):
        found.update(standing_texts(opened.loader, arm.expanded, opened.specs, language))
    return found


def texts_of(opened: Opened, language: str) -> Texts | None:
    """The language's texts. Raises MistakesError, also for the language the campaign is written in, and for
    one that nothing is known of: prices and dates could not be written in it."""
    _speakable(opened, language)
    return load_texts(opened.loader, opened.path, opened.name, language)


def _speakable(opened: Opened, language: str) -> None:
    if language == opened.language:
        message = f"the campaign is written in {language}"
        raise MistakesError([Mistake(COMMAND, "", message, "another language")])
    find_texts(opened.loader, opened.path, opened.name, language)
    try:
        Locale.load(language, opened.loader.cache)
    except Fault as fault:
        raise MistakesError([fault.at(COMMAND)]) from None


def kept_from(opened: Opened, language: str, raw: bytes, label: str) -> str:
    """Why the sheet `raw`, which lies where an export should go, must stay; nothing where it may be replaced:
    it is this campaign's, and all it says has been taken in."""
    known = {one.key: one for one in asked(opened, language) if one.demanded}
    try:
        rows = read_sheet(raw, label, known, opened.name, language)
    except MistakesError:
        return "is there already, and no such sheet"
    texts = texts_of(opened, language)
    held = {key: one.text for key, one in texts.entries.items()} if texts else {}
    new = [row for row in rows if not same_cell(row.text, held.get(row.source.key, ""))]
    return f"is there already, and {new[0].row} has not been imported" if new else ""


# -- in


def taken(opened: Opened, language: str, raw: bytes, label: str, *, accept: bool = False) -> Taken:
    """A filled sheet, checked. A translation that did not change stays marked as made from what it was made
    from, unless `accept` says that it holds for the text as it is now. Raises MistakesError with every row
    that is wrong."""
    texts = texts_of(opened, language)
    every = asked(opened, language)
    known = {one.key: one for one in every if one.demanded}
    rows = read_sheet(raw, label, known, opened.name, language)
    if not rows:
        message = f"no cell of the column {language} is filled"
        raise MistakesError([Mistake(Place(label), "", message, "a translation beside its text")])
    mistakes: list[Mistake] = []
    notes: list[Mistake] = []
    for row in rows:
        _check(row, mistakes, notes)
    if mistakes:
        raise MistakesError(mistakes)
    kept = {key: Kept(key, one.text, one.made_from) for key, one in texts.entries.items()} if texts else {}
    new = 0
    for row in rows:
        key, before = row.source.key, kept.get(row.source.key)
        unchanged = before is not None and same_cell(row.text, before.text)
        new += not unchanged
        old = before.made_from if unchanged and before is not None and not accept else None
        text = before.text if unchanged and before is not None else row.text
        kept[key] = Kept(key, text, old or row.made_from)
    path, comments = _file(opened, language, texts)
    ordered = _ordered(kept, every)
    data = file_bytes(ordered, texts, comments)
    left = tuple(one for one in _own_work(opened, language, texts) if one.key not in kept)
    _proved(data, ordered, path, language)
    return Taken(path, data, new, len(rows) - new, left, tuple(notes))


def accepted(
    opened: Opened, language: str, names: Collection[str] = ()
) -> tuple[Path, bytes, tuple[Key, ...]]:
    """The file with every translation (or those of `names`) marked as made from the texts as they are now.
    Raises MistakesError without a file and for unknown names."""
    texts = texts_of(opened, language)
    if texts is None:
        raise MistakesError([_no_texts(opened, language)])
    known = {one.key: one for one in asked(opened, language)}
    held = {str(key) for key in texts.entries}
    wrong = [
        Mistake(Place(texts.name), "", f"no translation of {name}", "a key of the file", nearest(name, held))
        for name in names
        if name not in held
    ]
    if wrong:
        raise MistakesError(wrong)
    kept, marked = {}, []
    for key, entry in texts.entries.items():
        made_from = entry.made_from
        source = known.get(key)
        if source is not None and source.text and (not names or str(key) in names):
            if made_from != stamp(source.text):
                marked.append(key)
            made_from = stamp(source.text)
        kept[key] = Kept(key, entry.text, made_from)
    path, comments = _file(opened, language, texts)
    ordered = _ordered(kept, tuple(known.values()))
    data = file_bytes(ordered, texts, comments)
    _proved(data, ordered, path, language)
    return path, data, tuple(marked)


def checked(opened: Opened, language: str) -> list[Mistake]:
    """What compiling every variant in the language would complain of, and what no variant uses."""
    desk = opened.desk
    mistakes: list[Mistake] = []
    try:
        _speakable(opened, language)
    except MistakesError as error:
        return list(error.mistakes)
    if language in desk.plan.choices().get(LANGUAGE, ()):
        for variant in spoken(desk, language):
            mistakes += desk.translated(variant)[1]
        return sorted(set(mistakes))
    texts = texts_of(opened, language)
    if texts is None:
        return [_no_texts(opened, language)]
    standing = _standing(opened, language)
    translator = Translator(texts, opened.baseline, opened.specs, standing)
    mistakes += translator.unused(axes(desk.plan))
    usual = conditions(desk.plan.baseline)
    for arm in arms(desk, language):
        mistakes += translator.run(arm.expanded, arm.choices)[1]
        mistakes += translator.unused_narrow(arm.expanded, arm.choices, usual)
    return sorted(set(mistakes))


def languages(opened: Opened) -> list[str]:
    """The languages that the campaign has variants in, or a file of texts for."""
    own, shared = text_files(opened.path, opened.name, "*")
    found = {path.stem for pattern in (own, shared) for path in pattern.parent.glob(pattern.name)}
    found = {tag for tag in found if re.fullmatch(TAG, tag)} | {*opened.desk.plan.choices().get(LANGUAGE, ())}
    return sorted(found - {opened.language})


def _no_texts(opened: Opened, language: str) -> Mistake:
    return no_texts(opened.loader, opened.path, opened.name, language, Place(opened.baseline.doc.name))


def _file(opened: Opened, language: str, texts: Texts | None) -> tuple[Path, Comments | None]:
    """Where the language's file is, or will be: by itself where several campaigns share a folder."""
    if texts is not None:
        path = opened.loader.root / texts.name
        return path, comments_of(path.read_text("utf-8-sig"), texts)
    own, shared = text_files(opened.path, opened.name, language)
    alone = list(opened.path.parent.glob("*.yaml")) == [opened.path]
    return (shared if alone else own), None


def _ordered(kept: Mapping[Key, Kept], every: Iterable[Source]) -> list[Kept]:
    """In the campaign's order; what it no longer asks for comes after it, as it was."""
    order = [one.key for one in every if one.key in kept]
    seen = set(order)
    return [kept[key] for key in (*order, *(key for key in kept if key not in seen))]


def _proved(data: bytes, ordered: Sequence[Kept], path: Path, language: str) -> None:
    """What is written must read as it was meant, or nothing is written."""
    texts, mistakes = read_texts(parse_yaml(data, path.name).root, path.name, language)
    if mistakes:
        raise MistakesError(mistakes)
    meant = {one.key: one.text for one in ordered}
    if {key: entry.text for key, entry in texts.entries.items()} != meant:
        raise MistakesError(
            [Mistake(Place(path.name), "", "a text holds what YAML cannot keep", "visible text")]
        )


def _check(row: Filled, mistakes: list[Mistake], notes: list[Mistake]) -> None:
    source, text, name = row.source, row.text.strip(), f"{row.row}, {row.source.key}"

    def wrong(message: str, expected: str = "", near: str = "") -> None:
        mistakes.append(Mistake(row.place, name, message, expected, near))

    def note(message: str, expected: str = "") -> None:
        notes.append(Mistake(row.place, name, message, expected))

    try:
        parts = parse(text)
    except Fault as fault:
        mistakes.append(fault.at(row.place, name))
        return
    try:
        asks = [one for one in parse(source.text.strip()) if isinstance(one, Ref)]
    except Fault:  # said where the campaign is compiled
        asks = []
    has = [one for one in parts if isinstance(one, Ref)]
    for ref in dict.fromkeys(map(_fact, asks)):
        if ref not in map(_fact, has):
            near = nearest(ref, map(_fact, has))
            wrong(
                f"{ref} is missing",
                f"every fact of the text: {' '.join(dict.fromkeys(map(str, asks)))}",
                near,
            )
    for ref in dict.fromkeys(map(_fact, has)):
        if ref not in map(_fact, asks):
            note(f"{ref} is not in the text that it translates")
    for address in dict.fromkeys(_LINKED.findall(source.text)):
        if address not in _LINKED.findall(text):
            note(f"the link to {address} is not in it", "[words](" + address + ")")
    if not source.key.section and "\n" in text:
        wrong(f"the {source.key.field} takes no line break", "one line")
    shortest = "".join(one if isinstance(one, str) else one.fallback or "" for one in parts)
    if source.most is not None and (long := count(shortest)) > source.most:
        wrong(f"{long} characters, more than {source.most}", "a shorter text")
    elif source.best is not None and room(shortest) > source.best:
        message = f"{extent(shortest)}: lists of mails show about {source.best}"
        note(message, "the offer at the beginning")
    if not worded(text):
        note(
            f"{show(text)} has no word in it",
            "words, where a spreadsheet has made a number or a date of them",
        )
    if row.made_from != stamp(source.text):
        note("the text has changed since the sheet was written", "a new sheet, or a look at the translation")


def _fact(ref: Ref) -> str:
    """A fact without its format, which another language may choose otherwise."""
    return "${" + ".".join(ref.names) + "}"
