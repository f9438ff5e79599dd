"""Section models. Enters: a block's field specs; leaves: a pydantic model, made only for blocks in use."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ConfigDict, Field, WithJsonSchema, create_model

from handbill.library.block import PREFIX
from handbill.library.spec import BlockSpec, FieldSpec
from handbill.models.campaign import Moment
from handbill.models.common import Colour, Loose, Model, Toggle
from handbill.models.picture import PictureIn
from handbill.models.read import Choice, Reference, number, picture
from handbill.models.read import several as listed


class ButtonIn(Model):
    """A button as written: a label and where it leads. An item's button inherits what it leaves out."""

    label: str | None = Field(None, min_length=1)
    link: str | None = Field(None, min_length=1)


class LinkIn(Model):
    """A link in running order: its words and where they lead."""

    label: str = Field(min_length=1)
    link: str = Field(min_length=1)


def _choice(options: tuple[str, ...]) -> Any:
    return Annotated[Literal[options], BeforeValidator(Choice(options))]


PLAIN: dict[str, Any] = {
    "text": Loose,
    "copy": Loose,
    "link": LinkIn,
    "button": ButtonIn,
    "picture": Annotated[PictureIn, BeforeValidator(picture, json_schema_input_type=str | PictureIn)],
    "colour": Colour,
    "toggle": Toggle,
    "number": Annotated[Decimal, BeforeValidator(number), WithJsonSchema({"type": "number"})],
    "money": Loose,
    "date": Moment,
    "cells": tuple[Any, ...],
}
REFERENCES = {"sku": "The product's code in the catalogue.", "id": "The review's id in its file."}
KEYS = {"product": "sku", "products": "sku", "review": "id", "reviews": "id"}


class _Section(Model):
    """What all section models share: fields go by the names that block.yaml gives them, and no other."""

    model_config = ConfigDict(populate_by_name=False)


def section_model(spec: BlockSpec, tones: tuple[str, ...]) -> type[Model]:
    """The model of a section's own fields; `tones` are the brand's."""
    return _model(spec.block, spec.fields, tones, about=spec.about)


def _model(
    name: str, fields: dict[str, FieldSpec], tones: tuple[str, ...], about: str = "", **more: tuple[Any, Any]
) -> type[Model]:
    members: dict[str, Any] = dict(more)
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
        if spec.default is not None:
            limits["json_schema_extra"] = _shown_default(spec)
        # a prefix of its own: a field may be called copy or json, which are methods of pydantic's models
        members[f"{PREFIX}{field}"] = (
            (kind, Field(alias=field, **limits))
            if spec.required
            else (kind | None, Field(None, alias=field, **limits))
        )
    model: type[Model] = create_model(name, __base__=_Section, __doc__=about or None, **members)
    return model


def _shown_default(spec: FieldSpec) -> Any:
    """The block's own default, for editors; what holds is settled when the section is resolved."""
    if not isinstance(spec.default, str | None):
        return {"default": spec.default.cycle[0]}
    if spec.type == "number":
        return {"default": float(spec.default or 0)}
    return {"default": spec.default == "true" if spec.type == "toggle" else spec.default}


def _type(name: str, spec: FieldSpec, tones: tuple[str, ...]) -> Any:
    if spec.type == "choice":
        return _choice(spec.options)
    if spec.type == "list":
        return tuple[_model(name, spec.of, tones), ...]  # type: ignore[misc]
    if spec.type in KEYS:
        key = KEYS[spec.type]
        reference: dict[str, Any] = {key: (Loose, Field(min_length=1, description=REFERENCES[key]))}
        entry = _model(name, spec.of, tones, **reference)
        either: Any = Loose | entry
        one: Any = Annotated[entry, BeforeValidator(Reference(key), json_schema_input_type=either)]
        if spec.type in ("product", "review"):
            return one
        several: Any = one | tuple[one, ...]
        return Annotated[tuple[one, ...], BeforeValidator(listed, json_schema_input_type=several)]
    return PLAIN[spec.type]
