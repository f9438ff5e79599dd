"""Types shared by the models. Every plain scalar arrives as text, so each type reads text itself.

Each type also says what an editor should take for right: in YAML a price or a SKU may look like a number.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, WithJsonSchema

from handbill.models.read import (
    CATEGORIES,
    CURRENCY,
    FORMAT,
    NAME,
    PATTERNS,
    TAG,
    TIME,
    WORD,
    colour,
    lines,
    said,
    toggle,
    version,
    wrong,
)


class Model(BaseModel):
    """Frozen, strict about unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True, defer_build=True)


Toggle = Annotated[bool, BeforeValidator(toggle)]
Colour = Annotated[
    str,
    BeforeValidator(colour),
    WithJsonSchema({"type": "string", "pattern": "^#(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})$"}),
]
Version = Annotated[int, BeforeValidator(version), WithJsonSchema({"const": FORMAT})]
Name = Annotated[str, StringConstraints(pattern=NAME, max_length=80)]
Word = Annotated[str, StringConstraints(pattern=WORD, max_length=40)]
#: House words, or their forms by CLDR's plural categories; `other` stands for every number without one.
Said = Annotated[
    Any,
    BeforeValidator(said),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": ["string", "number", "boolean"]},
                {
                    "type": "object",
                    "propertyNames": {"enum": list(CATEGORIES)},
                    "additionalProperties": {"type": ["string", "number", "boolean"]},
                    "required": ["other"],
                },
            ]
        }
    ),
]
Words = dict[Word, Said]
Language = Annotated[str, StringConstraints(pattern=TAG)]
Names = Annotated[tuple[str, ...], BeforeValidator(lines, json_schema_input_type=str | tuple[str, ...])]
#: Text that may look like a number in the file: a SKU, a code, a price, a weight.
Loose = Annotated[str, WithJsonSchema({"type": ["string", "number"]})]
Filled = Annotated[str, Field(min_length=1)]

__all__ = [
    "CURRENCY", "FORMAT", "NAME", "PATTERNS", "TAG", "TIME", "WORD", "Colour", "Filled", "Language", "Loose",
    "Model", "Name", "Names", "Said", "Toggle", "Version", "Word", "Words", "wrong",
]  # fmt: skip
