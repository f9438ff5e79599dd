"""block.yaml as a model. Enters: validated plain data; leaves: a frozen `BlockSpec`."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from handbill.library.tokens import unsafe
from handbill.models.common import Language, Model, Name, Names, Toggle, Version, Word, Words, wrong

FieldType = Literal[
    "text", "copy", "link", "button", "picture", "colour", "choice", "toggle", "number", "money", "date",
    "product", "products", "review", "reviews", "list", "cells",
]  # fmt: skip

RESERVED = frozenset({
    "block", "standing", "id", "when", "otherwise", "lang", "dir", "set", "tone", "level", "width", "word",
    "brand", "link", "house", "inner", "sku", "src", "start", "end", "loop", "caller", "self", "true",
    "false", "none", "and", "or", "not", "in", "is", "if", "else", "for",
})  # fmt: skip


def _names(value: Any) -> Any:
    for name in value if isinstance(value, dict) else ():
        if name in RESERVED:
            raise wrong(f"{name} is a reserved name", "another name")
    return value


def _measures(value: dict[str, Any]) -> dict[str, Any]:
    """px, `var(--name)` or `{desktop, phone}` by name; only a house style knows what they come to."""
    for name, measure in value.items():
        if not re.fullmatch(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*", name):
            raise wrong(f"{name!r} is not the name of a measure", "lower-case letters, digits and hyphens")
        for one in measure.values() if isinstance(measure, dict) else (measure,):
            problem = unsafe(str(one)) if isinstance(one, str) else "a measure is one value"
            if problem:
                raise wrong(f"{name}: {problem}", "12, var(--name), or {desktop: 12, phone: 8}")
    return value


Measures = Annotated[dict[str, Any], AfterValidator(_measures)]


class Cycle(Model):
    """A default that alternates from item to item, counting only items that match `among`."""

    cycle: Names = Field(min_length=2)
    among: dict[Word, str] = Field(default_factory=dict)


class UnderCopy(Model):
    """Where copy stands on a picture, and in which colour."""

    area: str | dict[str, Any] = Field(
        description="Shares of the picture: left, top, right, bottom, as in '0 0 1 0.6'; or overlap."
    )
    role: Name | dict[str, Any] = Field(description="The copy's colour role, by choice or not.")
    ink: Word | None = Field(None, description="The choice between the house's colour, light, dark and auto.")


class FieldSpec(Model):
    """One field of a block."""

    type: FieldType
    about: str = ""
    required: Toggle = False
    default: str | Cycle | None = None
    most: int | None = Field(None, ge=1, description="Characters of a text, entries of a list.")
    least: int | None = Field(None, ge=0)
    options: tuple[Name, ...] = ()
    slot: str | dict[str, Any] | None = Field(None, description="Where a picture stands: a name from slots.")
    ratio: str | dict[str, Any] | None = Field(
        None, description="Width to height a picture is cropped to: 5:4."
    )
    density: int = Field(
        2, ge=1, le=4, description="Pixels to the CSS px: 3 where phones show a picture wider than desktops."
    )
    lower: str | dict[str, Any] | None = Field(
        None, description="px of a picture's lower part that lie under what stands there: a name from slots."
    )
    tint: Name | None = Field(
        None, description="The colour role that a tinted picture takes: accent, unless it says otherwise."
    )
    fit: str | dict[str, Any] | None = Field(
        None,
        description="How a picture comes into its shape where the author does not say: cover, trim; "
        "square puts a cut-out that is taller than wide whole into a square.",
    )
    on: str | dict[str, Any] | None = Field(None, description="The colour role that lies behind a picture.")
    under_copy: UnderCopy | None = Field(None, description="For a picture that copy stands on.")
    overlap: Word | None = Field(
        None, description="The number field that says how much of the top lies under copy."
    )
    passed_to: Word | None = Field(
        None, description="The items that take what they leave out from this button."
    )
    inherits: Literal["legal"] | None = Field(
        None, description="The part of brand.yaml that stands in for nothing."
    )
    of: Annotated[dict[Word, FieldSpec], BeforeValidator(_names)] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _fits(self) -> FieldSpec:
        problem = ""
        if self.type == "choice":
            if len(self.options) < 2:
                problem = "a choice needs options (two or more)"
            elif isinstance(self.default, str) and self.default not in self.options:
                problem = f"the default {self.default} is not one of {', '.join(self.options)}"
            elif self.default is None and not self.required:
                problem = "a choice needs a default"
        elif self.options:
            problem = "only a choice has options"
        elif self.tint is not None and self.type != "picture":
            problem = "only a picture has a tint"
        elif self.type == "list" and not self.of:
            problem = "a list needs `of:` with the fields of an entry"
        if problem:
            raise wrong(problem)
        return self


class Slot(Model):
    """Columns of a row by name; one of them may be `rest`. `inset` takes the house's side space off first."""

    of: str = Field("full", description="full (the whole width), inset, or another slot's column: row.name.")
    columns: dict[Word, str] = Field(default_factory=dict)
    gap: str = "0"


class BlockSpec(Model):
    """block.yaml."""

    handbill: Version
    block: Name
    version: int = Field(1, ge=1)
    about: str = Field(min_length=1)
    use: str = Field("", description="When to use it.")
    fields: Annotated[dict[Word, FieldSpec], BeforeValidator(_names)] = Field(default_factory=dict)
    measures: Measures = Field(default_factory=dict)
    slots: dict[Word, Slot] = Field(default_factory=dict)
    words: dict[Language, Words] = Field(default_factory=dict)
    dynamic: dict[Name, Names] = Field(default_factory=dict)
    cell: Toggle = Field(False, description="It may stand in a cell of another block.")
    heading: Word | None = Field(None, description="The field that is the section's heading.")


class MacroSpec(Model):
    """One shared macro: parameters that steer class names, with the values they may take."""

    about: str = ""
    domains: dict[Word, Names] = Field(default_factory=dict)


class SharedSpec(Model):
    """macros.yaml beside macros.html.j2 and macros.css."""

    handbill: Version
    macros: dict[Word, MacroSpec]
    measures: Measures = Field(default_factory=dict)
    dynamic: dict[Name, Names] = Field(default_factory=dict)
    words: dict[Language, Words] = Field(default_factory=dict)


def choices(fields: dict[str, FieldSpec]) -> dict[str, tuple[str, ...]]:
    """Every choice of a block by name, those of list entries and items included; same names share options."""
    found: dict[str, tuple[str, ...]] = {}
    for name, spec in fields.items():
        if spec.type == "choice":
            found[name] = tuple(dict.fromkeys((*found.get(name, ()), *spec.options)))
        for inner, options in choices(spec.of).items():
            found[inner] = tuple(dict.fromkeys((*found.get(inner, ()), *options)))
    return found
