"""Validation. Enters: an expanded campaign and a library; leaves: typed values, or every mistake in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pydantic import ValidationError

from handbill.base.errors import Mistake, nearest
from handbill.base.source import child, place, plain
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
        block = library.blocks.get(section.block)
        if block is None:
            continue
        model = model_of(block, library.house.tones)
        try:
            values = model.model_validate(plain(section.node))
        except ValidationError as error:
            wrong.extend(worded(error, model, section.node, section.path))
        else:
            valid.append(ValidSection(section, block, values))
    return tuple(valid), wrong


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
