"""JSON Schema of campaigns and brands (draft 2020-12). Enters: models and blocks; leaves: plain data.

An editor has read the YAML with its own rules by then, so `400` may come as a number where handbill takes
text: every scalar is allowed in the spellings that handbill reads.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel

from handbill.cli.variants_schema import variants_schema
from handbill.library.spec import BlockSpec, FieldSpec
from handbill.models.brand import Brand
from handbill.models.campaign import Campaign
from handbill.models.picture import FORMATS, MOST_FRAMES

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
NUMBER = r"^-?[0-9]+(\.[0-9]+)?$"
MOMENT: Schema = {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?$"}
ID: Schema = {
    "type": ["string", "number"],
    "description": "What this section is called; the block's name otherwise.",
}
WHEN: Schema = {
    "type": "string",
    "pattern": r"^recipient\.[a-z][a-z0-9_]*$",
    "description": "Only for recipients who have this field.",
}
LANG: Schema = {
    "type": "string",
    "description": "The section's own language: a tag such as en-GB or he.",
}
DIR: Schema = {
    "enum": ["ltr", "rtl"],
    "description": "The section's own direction; the language's otherwise.",
}
TEXT: Schema = {"type": ["string", "number", "boolean"]}
TOGGLE: Schema = {"enum": [True, False, "true", "false"]}
COLOUR: Schema = {"type": "string", "pattern": "^#([0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})$"}
MEASURE: Schema = {"type": ["number", "string"]}


OTHERWISE: Schema = {"$ref": "#/$defs/otherwise"}


def campaign_schema(
    brand: str, blocks: Sequence[BlockSpec], standing: Sequence[str], tones: Sequence[str]
) -> Schema:
    """A campaign of `brand`: a stack entry is one of `blocks`, told by `block`, or a standing section."""
    schema = _model(Campaign)
    properties, defs = schema["properties"], schema.setdefault("$defs", {})
    properties["brand"] = {"const": brand}
    properties["send"] = {**MOMENT, "description": "When the mail goes out, in the shop's time zone."}
    for offer in ("MarkdownOffer", "CodeOffer"):
        for name in ("starts", "ends"):
            defs[offer]["properties"][name] = MOMENT
    sections = []
    for spec in blocks:
        name = f"block-{spec.block}"
        defs[name] = section_schema(spec, tones)
        sections.append({"$ref": f"#/$defs/{name}"})
    if standing:
        defs["standing-section"] = standing_schema(standing)
        sections.append({"$ref": "#/$defs/standing-section"})
    defs["otherwise"] = otherwise_schema([one["$ref"] for one in sections])
    properties["stack"] = {
        "type": "array",
        "minItems": 1,
        "description": "The sections of the mail in reading order.",
        "items": {"oneOf": sections},
    }
    properties["variants"], more = variants_schema(sections)
    defs |= more
    return {"$schema": DIALECT, "title": f"A campaign of {brand}", **schema}


def standing_schema(names: Sequence[str]) -> Schema:
    """A section kept for reuse; beside its name stand changes to its fields."""
    return {
        "type": "object",
        "description": "A section kept for reuse, with changes to its fields.",
        "properties": {
            "standing": {"enum": list(names)},
            "id": ID,
            "when": WHEN,
            "otherwise": OTHERWISE,
            "lang": LANG,
            "dir": DIR,
            "set": {"type": "object", "description": "Changes by id and field: {id.field: value}."},
        },
        "required": ["standing"],
        "not": {"required": ["block"]},
    }


def section_schema(spec: BlockSpec, tones: Sequence[str]) -> Schema:
    """A section made by one block."""
    about = f"{spec.about} {spec.use}".strip()
    own: dict[str, Schema] = {"block": {"const": spec.block, "description": about}, "id": ID, "when": WHEN}
    own |= {"otherwise": OTHERWISE, "lang": LANG, "dir": DIR}
    schema = _fields(spec.fields, tones, own)
    schema["required"] = ["block", *schema.get("required", [])]
    schema["dependentRequired"] = {"otherwise": ["when"]}
    return {"description": about, **schema}


def otherwise_schema(sections: Sequence[str]) -> Schema:
    """What the others get: one of `sections` (references), or changes to the fields beside it."""
    taken = dict.fromkeys(("id", "when", "otherwise"), False)
    changes: Schema = {
        "type": "object",
        "minProperties": 1,
        "not": {"anyOf": [{"required": ["block"]}, {"required": ["standing"]}]},
    }
    return {
        "type": "object",
        "description": "What the others get: fields that differ, or a section of its own.",
        "properties": taken,
        "anyOf": [changes, *({"$ref": one} for one in sections)],
    }


def _fields(fields: Mapping[str, FieldSpec], tones: Sequence[str], more: Mapping[str, Schema]) -> Schema:
    properties: Schema = dict(more)
    if len(tones) > 1:
        about = "Which of the brand's tones it is set in."
        properties["tone"] = {"enum": list(tones), "description": about}
    for name, spec in fields.items():
        field = _field(spec, tones)
        properties[name] = {**field, "description": spec.about} if spec.about else field
    required = [name for name, spec in fields.items() if spec.required]
    schema: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    return {**schema, "required": required} if required else schema


def _field(spec: FieldSpec, tones: Sequence[str]) -> Schema:
    if spec.type == "choice":
        return {"enum": list(spec.options)}
    if spec.type == "list":
        return _several(spec, _fields(spec.of, tones, {}))
    if spec.type in ("product", "products", "review", "reviews"):
        key = "sku" if spec.type.startswith("product") else "id"
        entry = _fields(spec.of, tones, {key: TEXT})
        entry["required"] = [key, *entry.get("required", [])]
        one: Schema = {"anyOf": [TEXT, entry]}
        return one if spec.type in ("product", "review") else {"anyOf": [TEXT, entry, _several(spec, one)]}
    plain: Mapping[str, Schema] = {
        "text": TEXT,
        "copy": {**TEXT, "maxLength": spec.most} if spec.most else TEXT,
        "money": {"type": ["string", "number"]},
        "number": {"type": ["number", "string"], "pattern": NUMBER},
        "toggle": TOGGLE,
        "colour": COLOUR,
        "date": MOMENT,
        "link": _object({"label": TEXT, "link": TEXT}, ["label", "link"]),
        "button": _object({"label": TEXT, "link": TEXT}, []),
        "picture": {"anyOf": [{"type": "string"}, PICTURE]},
        "cells": {"type": "array"},
    }
    return dict(plain[spec.type])


def _several(spec: FieldSpec, one: Schema) -> Schema:
    schema: Schema = {"type": "array", "items": one, "minItems": spec.least or (1 if spec.required else 0)}
    return {**schema, "maxItems": spec.most} if spec.most else schema


def _object(properties: Schema, required: list[str]) -> Schema:
    schema: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    return {**schema, "required": required} if required else schema


def _part(about: str, properties: Schema, alone: str, required: bool = True) -> Schema:
    """One of a picture's parts, which may be said by the value of its key `alone`."""
    whole = _object(properties, [alone] if required else [])
    return {"anyOf": [properties[alone], whole], "description": about}


SHAPE: Schema = {"type": "string", "pattern": "^[1-9][0-9]{0,3}:[1-9][0-9]{0,3}$"}
TINGE: Schema = {"type": "string"}
EXTEND = _part(
    "New ground that goes on from its edge: px, or the shape the whole is to have.",
    {
        "top": MEASURE,
        "bottom": MEASURE,
        "both": MEASURE,
        "colour": TINGE,
        "join": {"enum": ["smooth", "cut"]},
    },
    "top",
    required=False,
)
PICTURE = _object(
    {
        "file": {
            "type": "string",
            "description": "In the brand's pictures or its parents'; no dot: an icon.",
        },
        "alt": {**TEXT, "description": "What the picture shows, for those who do not see it."},
        "decorative": {**TOGGLE, "description": "It says nothing that the copy does not: no alt text."},
        "dark": {"type": "string", "description": "Another file for dark screens."},
        "link": {"type": "string"},
        "focus": {"type": "string", "description": "The point a crop keeps: two fractions, '0.5 0.3'."},
        "tint": {**TOGGLE, "description": "Drawn in a colour of the house style, as built-in icons are."},
        "crop": _part("What is kept of it.", {"ratio": SHAPE, "focus": {"type": "string"}}, "ratio"),
        "extend": EXTEND,
        "fit": _part(
            "How it comes into a shape that is not its own.",
            {"how": {"enum": ["cover", "contain", "trim"]}, "colour": TINGE, "shape": SHAPE},
            "how",
        ),
        "border": _part("A line inside its edge.", {"width": MEASURE, "colour": TINGE}, "width"),
        "corners": _part(
            "Round corners, in px; drawn into the picture for readers that round nothing.",
            {"radius": MEASURE, "drawn": TOGGLE, "on": TINGE},
            "radius",
        ),
        "shade": _part(
            "A veil for copy over it: auto, or a share.",
            {
                "strength": MEASURE,
                "colour": TINGE,
                "over": {"enum": ["copy", "all"]},
            },
            "strength",
            required=False,
        ),
        "density": {"enum": [1, 2, "1", "2"], "description": "Pixels of its file to each px."},
        "format": {
            "enum": [*FORMATS],
            "description": "What kind of file it becomes; auto: by what is in it.",
        },
        "phone": _part(
            "Another file or cut for narrow screens.",
            {
                "file": {"type": "string"},
                "crop": _part("What is kept of it.", {"ratio": SHAPE, "focus": {"type": "string"}}, "ratio"),
                "focus": {"type": "string"},
                "extend": EXTEND,
            },
            "file",
            required=False,
        ),
        "frames": {
            "type": "array",
            "minItems": 2,
            "maxItems": MOST_FRAMES,
            "items": _part(
                "One picture and its time.", {"file": {"type": "string"}, "seconds": MEASURE}, "file"
            ),
            "description": "In place of file: pictures that follow one another.",
        },
        "first": {**MEASURE, "description": "The frame that begins, counted from 1."},
        "fade": {**MEASURE, "description": "Seconds from one frame into the next."},
        "rounds": {**MEASURE, "description": "How often all of it plays: a number, or forever."},
        "max_kb": {**MEASURE, "description": "The most its file may weigh, KB of 1024."},
    },
    [],
)
PICTURE["anyOf"] = [{"required": ["file"]}, {"required": ["frames"]}]


def brand_schema(blocks: Sequence[BlockSpec]) -> Schema:
    """brand.yaml; under `blocks:` stand the choices and measures of the visible blocks."""
    schema = _model(Brand)
    required = schema.pop("required")
    # a brand that extends another may leave everything else to it
    schema["required"] = [name for name in required if name in ("handbill", "brand")]
    schema["if"] = {"not": {"required": ["extends"]}}
    schema["then"] = {"required": required}
    schema["properties"]["blocks"] = {
        "type": "object",
        "description": "Defaults of choices and measures, block by block.",
        "properties": {spec.block: _defaults(spec) for spec in blocks},
    }
    return {"$schema": DIALECT, "title": "brand.yaml", **schema}


def _defaults(spec: BlockSpec) -> Schema:
    measure = {"anyOf": [MEASURE, _object({"desktop": MEASURE, "phone": MEASURE}, [])]}
    return {
        "type": "object",
        "description": spec.about,
        "properties": {
            **dict.fromkeys(spec.measures, measure),
            **_choices(spec.fields),
        },
        "additionalProperties": False,
    }


def _choices(fields: Mapping[str, FieldSpec]) -> Schema:
    found: Schema = {}
    for name, spec in fields.items():
        if spec.type in ("choice", "toggle"):
            found[name] = _field(spec, ())
        elif inner := _choices(spec.of):
            found[name] = _object(inner, [])
    return found


def _model(model: type[BaseModel]) -> Schema:
    schema: Schema = _read(model.model_json_schema())
    schema["properties"]["handbill"] = {"enum": [1, "1"], "description": "The version of the file format."}
    return schema


def _read(schema: Any) -> Any:
    """A schema of pydantic's, widened to the spellings that handbill reads and without its titles."""
    if not isinstance(schema, dict):
        return schema
    if "$ref" in schema:
        return {"$ref": schema["$ref"]}
    made: Schema = {}
    for key, value in schema.items():
        if key in ("properties", "patternProperties", "$defs"):
            made[key] = {name: _read(inner) for name, inner in value.items()}
        elif key in ("anyOf", "oneOf", "allOf"):
            made[key] = [_read(inner) for inner in value]
        elif key in ("items", "additionalProperties"):
            made[key] = _read(value)
        elif key == "default" and (value is None or isinstance(value, (dict, list))):
            continue
        elif key not in ("title", "discriminator"):
            made[key] = value
    return _widened(made)


def _widened(schema: Schema) -> Schema:
    kind = schema.get("type")
    if "enum" in schema:
        digits = [int(one) for one in schema["enum"] if isinstance(one, str) and one.isdecimal()]
        return {key: value for key, value in schema.items() if key != "type"} | {
            "enum": [*schema["enum"], *digits]
        }
    if kind == "string" and not {"pattern", "const", "format"} & schema.keys():
        return {**schema, **TEXT}
    if kind in ("integer", "number"):
        return {**schema, "type": [kind, "string"], "pattern": NUMBER}
    if kind == "boolean":
        return {key: value for key, value in schema.items() if key != "type"} | TOGGLE
    if kind == "array" and "string" in schema.get("items", {}).get("type", ()):
        about: Schema = {key: schema.pop(key) for key in ("description", "default") if key in schema}
        return {"anyOf": [schema["items"], schema], **about}  # one entry needs no brackets
    return schema
