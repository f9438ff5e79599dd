"""Validation. Enters: an expanded campaign and a library; leaves: typed values, or every mistake in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from pydantic import ValidationError

from handbill.base.errors import Mistake, nearest
from handbill.base.frozen import dataclass, field
from handbill.base.source import child, entries, place, plain, scalar, without
from handbill.expand import Expanded, Section
from handbill.library.block import Block
from handbill.library.build import Library
from handbill.library.fields import section_model
from handbill.library.find import Found
from handbill.models.campaign import Campaign
from handbill.models.check import mistakes as worded
from handbill.models.check import validate as validate_node
from handbill.models.common import Model


@dataclass(frozen=True, slots=True)
class ValidSection:
    """A section whose fields have their types; references and facts are not looked up yet."""

    section: Section
    block: Block
    values: Model
    cells: Mapping[str, tuple[ValidSection, ...]] = field(default_factory=dict)  # by field


@dataclass(frozen=True, slots=True)
class Valid:
    """A campaign that is well-formed."""

    campaign: Campaign
    sections: tuple[ValidSection, ...]


def validate_head(expanded: Expanded) -> tuple[Campaign | None, list[Mistake]]:
    """The campaign's own fields; the stack stands for itself."""
    data = {"stack": ["…"]} if expanded.sections or child(expanded.doc.root, "stack") is not None else {}
    return validate_node(Campaign, expanded.doc.root, data={**plain(expanded.head), **data})


def check_blocks(expanded: Expanded, known: Mapping[str, Found]) -> list[Mistake]:
    """A mistake for every section whose block is not in sight."""
    return [
        Mistake(
            place(child(section.whole, "block") or section.whole),
            section.path,
            f"no block {section.block}",
            "one of " + ", ".join(known),
            nearest(section.block, known),
        )
        for section in expanded.sections
        if section.block not in known
    ]


def validate_sections(expanded: Expanded, library: Library) -> tuple[tuple[ValidSection, ...], list[Mistake]]:
    """Every section by its block's model."""
    valid: list[ValidSection] = []
    wrong: list[Mistake] = []
    for section in expanded.sections:
        made = _section(section, library, wrong)
        if made is not None:
            valid.append(made)
    return tuple(valid), wrong


def _section(
    section: Section, library: Library, wrong: list[Mistake], inside: bool = False
) -> ValidSection | None:
    block = library.blocks.get(section.block)
    if block is None:
        return None
    model = model_of(block, library.house.tones)
    try:
        values = model.model_validate(plain(section.node))
    except ValidationError as error:
        wrong.extend(worded(error, model, section.node, section.path))
        return None
    cells = {} if inside else _cells(section, block, library, wrong)
    return ValidSection(section, block, values, cells)


def _cells(
    section: Section, block: Block, library: Library, wrong: list[Mistake]
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
                where = child(node, "block") or node
                message = (
                    f"block {key} does not stand in a cell" if key in library.blocks else f"no block {key}"
                )
                wrong.append(
                    Mistake(
                        place(where), path, message, "one of " + ", ".join(fitting), nearest(key, fitting)
                    )
                )
                continue
            cell = Section(section.id, key, without(node, "block"), node, f"{path} {key}", section.when)
            made = _section(cell, library, wrong, inside=True)
            if made is not None:
                inner.append(made)
        found[name] = tuple(inner)
    return found


def all_sections(sections: Iterable[ValidSection]) -> Iterator[ValidSection]:
    """The sections in order, each followed by those in its cells."""
    for section in sections:
        yield section
        for row in section.cells.values():
            yield from row


MAX_MODELS = 500  # a process that compiles for many brands must not keep them all
_models: dict[tuple[int, tuple[str, ...]], tuple[Block, type[Model]]] = {}


def model_of(block: Block, tones: tuple[str, ...]) -> type[Model]:
    """The block's model, made once per loaded block."""
    key = (id(block), tones)
    if key not in _models:
        if len(_models) >= MAX_MODELS:
            _models.clear()
        _models[key] = (block, section_model(block.spec, tones))  # holding the block keeps its id its own
    return _models[key][1]
