"""Section models. Enters: a block's field specs; leaves: a pydantic model, made only for blocks in use."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, create_model
from pydantic_core import PydanticCustomError

from handbill.base.errors import nearest
from handbill.library.spec import BlockSpec, FieldSpec
from handbill.models.campaign import Moment
from handbill.models.common import Colour, Model, Toggle


class ButtonIn(Model):
    """A button as written: a label and where it leads. An item's button inherits what it leaves out."""

    label: str | None = Field(None, min_length=1)
    link: str | None = Field(None, min_length=1)


class LinkIn(Model):
    """A link in running order: its words and where they lead."""

    label: str = Field(min_length=1)
    link: str = Field(min_length=1)


class PictureIn(Model):
    """A picture file sought in the brand's pictures, then its parents'."""

    file: str = Field(min_length=1)
    alt: str | None = Field(None, description="What the picture shows, for those who do not see it.")
    decorative: Toggle = Field(False, description="It says nothing that the copy does not: no alt text.")
    dark: str | None = Field(None, description="Another file for dark screens.")
    link: str | None = None
    focus: str | None = Field(None, description="The point a crop keeps: two fractions, '0.5 0.3'.")


def _picture(value: Any) -> Any:
    return {"file": value} if isinstance(value, str) else value


def _number(value: Any) -> Any:
    if isinstance(value, str):
        try:
            number = Decimal(value)
        except InvalidOperation:
            number = Decimal("NaN")
        if not number.is_finite():
            raise PydanticCustomError(
                "handbill", "{message}", {"message": f"{value!r} is not a number", "expected": "a number"}
            )
        return number
    return value


def _choice(options: tuple[str, ...]) -> Any:
    def check(value: Any) -> Any:
        if value not in options:
            context = {
                "message": f"{value!r} is not a choice",
                "expected": "one of " + ", ".join(options),
                "nearest": nearest(str(value), options),
            }
            raise PydanticCustomError("handbill", "{message}", context)
        return value

    return Annotated[Literal[options], BeforeValidator(check)]


def _reference(key: str) -> Any:
    def check(value: Any) -> Any:
        return {key: value} if isinstance(value, str) else value

    return check


def _several(value: Any) -> Any:
    return [value] if isinstance(value, (str, dict)) else value


PLAIN: dict[str, Any] = {
    "text": str,
    "copy": str,
    "link": LinkIn,
    "button": ButtonIn,
    "picture": Annotated[PictureIn, BeforeValidator(_picture)],
    "colour": Colour,
    "toggle": Toggle,
    "number": Annotated[Decimal, BeforeValidator(_number)],
    "money": str,
    "date": Moment,
    "cells": tuple[Any, ...],
}
PREFIX = "field_"
KEYS = {"product": "sku", "products": "sku", "review": "id", "reviews": "id"}


def field_value(model: Model, name: str) -> Any:
    """The value of a block's field in a validated section or entry, None when it has none."""
    return getattr(model, PREFIX + name, None)


def section_model(spec: BlockSpec, tones: tuple[str, ...]) -> type[Model]:
    """The model of a section's own fields; `tones` are the brand's."""
    return _model(spec.block, spec.fields, tones, about=spec.about)


def _model(
    name: str, fields: dict[str, FieldSpec], tones: tuple[str, ...], about: str = "", **more: Any
) -> type[Model]:
    members: dict[str, Any] = dict(more)
    if len(tones) > 1:
        members["tone"] = (
            _choice(tones) | None,
            Field(None, description="Which of the brand's tones it is set in."),
        )
    for field, spec in fields.items():
        kind = _type(f"{name}_{field}", spec, tones)
        limits: dict[str, Any] = {"description": spec.about} if spec.about else {}
        if spec.type in ("list", "products", "reviews", "cells"):
            limits |= {"min_length": spec.least or (1 if spec.required else None), "max_length": spec.most}
        elif spec.type in ("text", "copy") and spec.required:
            limits["min_length"] = 1
        # a prefix of its own: a field may be called copy or json, which are methods of pydantic's models
        members[f"{PREFIX}{field}"] = (
            (kind, Field(alias=field, **limits))
            if spec.required
            else (kind | None, Field(None, alias=field, **limits))
        )
    model: type[Model] = create_model(name, __base__=Model, __doc__=about or None, **members)
    return model


def _type(name: str, spec: FieldSpec, tones: tuple[str, ...]) -> Any:
    if spec.type == "choice":
        return _choice(spec.options)
    if spec.type == "list":
        return tuple[_model(name, spec.of, tones), ...]  # type: ignore[misc]
    if spec.type in KEYS:
        key = KEYS[spec.type]
        entry = _model(name, spec.of, tones, **{key: (str, Field(min_length=1))})
        one: Any = Annotated[entry, BeforeValidator(_reference(key))]
        if spec.type in ("product", "review"):
            return one
        return Annotated[tuple[one, ...], BeforeValidator(_several)]
    return PLAIN[spec.type]
