"""Types shared by the models. Every plain scalar arrives as text, so each type reads text itself.

Each type also says what an editor should take for right: in YAML a price or a SKU may look like a number.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, WithJsonSchema

from handbill.models.read import (
    CURRENCY,
    FORMAT,
    NAME,
    PATTERNS,
    TAG,
    TIME,
    WORD,
    colour,
    lines,
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
Language = Annotated[str, StringConstraints(pattern=TAG)]
Names = Annotated[tuple[str, ...], BeforeValidator(lines, json_schema_input_type=str | tuple[str, ...])]
#: Text that may look like a number in the file: a SKU, a code, a price, a weight.
Loose = Annotated[str, WithJsonSchema({"type": ["string", "number"]})]
Filled = Annotated[str, Field(min_length=1)]

__all__ = [
    "CURRENCY", "FORMAT", "NAME", "PATTERNS", "TAG", "TIME", "WORD", "Colour", "Filled", "Language", "Loose",
    "Model", "Name", "Names", "Toggle", "Version", "Word", "wrong",
]  # fmt: skip
