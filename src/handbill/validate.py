"""Validation. Enters: an expanded campaign and a library; leaves: typed values, or every mistake in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from pydantic_core import ValidationError

from handbill.base.cache import Cache
from handbill.base.errors import Mistake, nearest
from handbill.base.frozen import dataclass, field
from handbill.base.source import child, entries, is_mapping, place, plain, scalar, without
from handbill.expand import Expanded, Section
from handbill.library.block import Block
from handbill.library.build import Library
from handbill.library.find import Found
from handbill.models.check import mistakes as worded
from handbill.models.check import validate_kept
from handbill.models.kept import reader

if TYPE_CHECKING:
    from pydantic_core import SchemaValidator

    from handbill.models.campaign import Campaign
    from handbill.models.common import Model


@dataclass(frozen=True, slots=True)
class ValidSection:
    """A section whose fields have their types; references and facts are not looked up yet."""

    section: Section
    block: Block
    values: Any  # as the block's section model has them
    cells: Mapping[str, tuple[ValidSection, ...]] = field(default_factory=dict)  # by field
    otherwise: ValidSection | None = None  # what those get for whom its `when` does not hold


@dataclass(frozen=True, slots=True)
class Valid:
    """A campaign that is well-formed."""

    campaign: Campaign
    sections: tuple[ValidSection, ...]


def validate_head(expanded: Expanded, cache: Cache | None = None) -> tuple[Campaign | None, list[Mistake]]:
    """The campaign's own fields; the stack stands for itself."""
    data = {"stack": ["…"]} if expanded.sections or child(expanded.doc.root, "stack") is not None else {}
    whole = {**plain(expanded.head), **data}
    return validate_kept(_campaign, "campaign", expanded.doc.root, cache, data=whole)


def _campaign() -> type[Campaign]:
    from handbill.models.campaign import Campaign

    return Campaign


def check_blocks(expanded: Expanded, known: Mapping[str, Found]) -> list[Mistake]:
    """A mistake for every section whose block is not in sight."""
    named = [
        one
        for section in expanded.sections
        for one in (section, section.otherwise)
        if one is not None and (one.block or one is section)
    ]
    return [
        Mistake(
            place(child(section.whole, "block") or section.whole),
            section.path,
            f"no block {section.block}",
            "one of " + ", ".join(known),
            nearest(section.block, known),
        )
        for section in named
        if section.block not in known
    ]


def validate_sections(
    expanded: Expanded, library: Library, cache: Cache | None = None
) -> tuple[tuple[ValidSection, ...], list[Mistake]]:
    """Every section by its block's model."""
    made = [validate_section(section, library, cache) for section in expanded.sections]
    valid = tuple(one for one, _wrong in made if one is not None)
    return valid, [mistake for _one, wrong in made for mistake in wrong]


def validate_section(
    section: Section, library: Library, cache: Cache | None = None
) -> tuple[ValidSection | None, list[Mistake]]:
    """One section by its block's model; one whose block is not in sight is reported by `check_blocks`."""
    wrong: list[Mistake] = []
    return _section(section, library, wrong, cache), wrong


def _section(
    section: Section, library: Library, wrong: list[Mistake], cache: Cache | None, inside: bool = False
) -> ValidSection | None:
    block = library.blocks.get(section.block)
    if block is None:
        return None
    content = plain(section.node)
    try:
        values = _reader_of(block, library, cache).validate_python(content)
    except ValidationError:
        model = model_of(block, library.house.tones)
        try:  # the model itself knows the words for what is wrong
            model.model_validate(content)
        except ValidationError as error:
            wrong.extend(worded(error, model, section.node, section.path))
        return None
    cells = {} if inside else _cells(section, block, library, wrong, cache)
    other = section.other
    return ValidSection(
        section, block, values, cells, _section(other, library, wrong, cache) if other is not None else None
    )


def _cells(
    section: Section, block: Block, library: Library, wrong: list[Mistake], cache: Cache | None
) -> dict[str, tuple[ValidSection, ...]]:
    """The sections inside a section's cells; blocks of their own kind, one level deep."""
    found: dict[str, tuple[ValidSection, ...]] = {}
    fitting = [name for name, one in library.blocks.items() if one.spec.cell]
    for name, spec in block.spec.fields.items():
        if spec.type != "cells":
            continue
        inner: list[ValidSection] = []
        for number, node in enumerate(entries(child(section.node, name))):
            path = f"{section.path}, {name}[{number}]"
            key = scalar(child(node, "block")) or ""
            if key not in fitting:
                if not key:
                    message = "a section names its block" if is_mapping(node) else "a section is a mapping"
                elif key in library.blocks:
                    message = f"block {key} does not stand in a cell"
                else:
                    message = f"no block {key}"
                where = place(child(node, "block") or node)
                expected = "block: one of " + ", ".join(fitting)
                wrong.append(Mistake(where, path, message, expected, nearest(key, fitting) if key else ""))
                continue
            cell = Section(section.id, key, without(node, "block"), node, f"{path} {key}", section.when)
            made = _section(cell, library, wrong, cache, inside=True)
            if made is not None:
                inner.append(made)
        found[name] = tuple(inner)
    return found


def all_sections(sections: Iterable[ValidSection]) -> Iterator[ValidSection]:
    """The sections in order, each followed by those in its cells and by what stands in its place."""
    for section in sections:
        yield section
        for row in section.cells.values():
            yield from row
        if section.otherwise is not None:
            yield from all_sections((section.otherwise,))


MAX_MODELS = 500  # a process that compiles for many brands must not keep them all
_models: dict[tuple[int, tuple[str, ...]], tuple[Block, type[Model]]] = {}
_readers: dict[int, tuple[Block, SchemaValidator]] = {}


def _reader_of(block: Block, library: Library, cache: Cache | None) -> SchemaValidator:
    """What checks a section of this block, made once per loaded block."""
    if id(block) not in _readers:
        if len(_readers) >= MAX_MODELS:
            _readers.clear()
        name = f"section {library.digest} {block.name}"
        made = reader(lambda: model_of(block, library.house.tones), name, cache)
        _readers[id(block)] = (block, made)
    return _readers[id(block)][1]


def model_of(block: Block, tones: tuple[str, ...]) -> type[Model]:
    """The block's model, made once per loaded block."""
    from handbill.library.fields import section_model

    key = (id(block), tones)
    if key not in _models:
        if len(_models) >= MAX_MODELS:
            _models.clear()
        _models[key] = (block, section_model(block.spec, tones))  # holding the block keeps its id its own
    return _models[key][1]
