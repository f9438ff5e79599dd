"""Types shared by the models. Every plain scalar arrives as text, so each type reads text itself."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, StringConstraints
from pydantic_core import PydanticCustomError

FORMAT = 1  # the version of every file format that handbill reads


class Model(BaseModel):
    """Frozen, strict about unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True, defer_build=True)


def _wrong(message: str, expected: str) -> PydanticCustomError:
    return PydanticCustomError("handbill", "{message}", {"message": message, "expected": expected})


def _toggle(value: Any) -> Any:
    if isinstance(value, str):
        folded = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
        if value in folded:
            return folded[value]
        raise _wrong(f"{value!r} is not true or false", "true or false")
    return value


def _colour(value: Any) -> Any:
    if not isinstance(value, str) or not re.fullmatch(r"#(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})", value):
        raise _wrong(f"{value!r} is not a colour", "six hexadecimal digits such as '#1a2335', in quotes")
    if len(value) == 4:
        value = "#" + "".join(digit * 2 for digit in value[1:])
    return value.lower()


def _version(value: Any) -> Any:
    if value is None or str(value) != str(FORMAT):
        raise _wrong(f"format version {value} is not one this handbill reads", f"handbill: {FORMAT}")
    return FORMAT


def _lines(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


Toggle = Annotated[bool, BeforeValidator(_toggle)]
Colour = Annotated[str, BeforeValidator(_colour)]
Version = Annotated[int, BeforeValidator(_version)]
Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(?:-[a-z0-9]+)*$", max_length=80)]
Word = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
Names = Annotated[tuple[str, ...], BeforeValidator(_lines)]
