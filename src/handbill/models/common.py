"""Types shared by the models. Every plain scalar arrives as text, so each type reads text itself.

Each type also says what an editor should take for right: in YAML a price or a SKU may look like a number.
"""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, WithJsonSchema
from pydantic_core import PydanticCustomError

FORMAT = 1  # the version of every file format that handbill reads


class Model(BaseModel):
    """Frozen, strict about unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True, defer_build=True)


def wrong(message: str, expected: str = "", nearest: str = "") -> PydanticCustomError:
    """A complaint in our own words."""
    context = {"message": message, "expected": expected, "nearest": nearest}
    return PydanticCustomError("handbill", "{message}", context)


def _toggle(value: Any) -> Any:
    if isinstance(value, str):
        folded = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
        if value in folded:
            return folded[value]
        raise wrong(f"{value!r} is not true or false", "true or false")
    return value


def _colour(value: Any) -> Any:
    if not isinstance(value, str) or not re.fullmatch(r"#(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})", value):
        raise wrong(f"{value!r} is not a colour", "six hexadecimal digits such as '#1a2335', in quotes")
    if len(value) == 4:
        value = "#" + "".join(digit * 2 for digit in value[1:])
    return value.lower()


def _version(value: Any) -> Any:
    if value not in (FORMAT, str(FORMAT)):
        given = value if isinstance(value, str) else "nothing" if value is None else "that"
        raise wrong(f"format version {given} is not one this handbill reads", f"handbill: {FORMAT}")
    return FORMAT


def _lines(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


NAME = r"^[a-z][a-z0-9]*(?:-[a-z0-9]+)*$"
WORD = r"^[a-z][a-z0-9_]*$"
CURRENCY = r"^[A-Z]{3}$"
TIME = r"^(?:H{1,2}|h{1,2})[.:h ]?m{2}(?: ?a)?$"
TAG = r"^[a-z]{2,3}(?:-[A-Z][a-z]{3})?(?:-(?:[A-Z]{2}|[0-9]{3}))?$"
#: What a text that does not match is not, and what is expected.
PATTERNS = {
    NAME: ("a name", "lower-case letters, digits and hyphens, a letter first"),
    WORD: ("a name", "lower-case letters, digits and underscores, a letter first"),
    CURRENCY: ("a currency", "an ISO 4217 code such as EUR"),
    TIME: ("a time pattern", "H.mm, HH:mm, h:mm a or the like"),
    TAG: ("a language", "a BCP 47 tag such as de or en-GB"),
}

Toggle = Annotated[bool, BeforeValidator(_toggle)]
Colour = Annotated[
    str,
    BeforeValidator(_colour),
    WithJsonSchema({"type": "string", "pattern": "^#(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})$"}),
]
Version = Annotated[int, BeforeValidator(_version), WithJsonSchema({"const": FORMAT})]
Name = Annotated[str, StringConstraints(pattern=NAME, max_length=80)]
Word = Annotated[str, StringConstraints(pattern=WORD, max_length=40)]
Language = Annotated[str, StringConstraints(pattern=TAG)]
Names = Annotated[tuple[str, ...], BeforeValidator(_lines, json_schema_input_type=str | tuple[str, ...])]
#: Text that may look like a number in the file: a SKU, a code, a price, a weight.
Loose = Annotated[str, WithJsonSchema({"type": ["string", "number"]})]
Filled = Annotated[str, Field(min_length=1)]
