"""JSON Schema of a campaign's `variants:`. Enters: how its sections are called; leaves: plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from handbill.vary.patch import HEAD
from handbill.vary.plan import NAMED
from handbill.vary.practice import PRACTICE
from handbill.vary.read import MOST_AXES, USUAL

Schema = dict[str, Any]
WORD: Schema = {"type": ["string", "number", "boolean"]}  # an editor may read a name as another type
NAME = "^[a-z][a-z0-9]*(?:-[a-z0-9]+)*$"
_FIELD = "|".join((r"[^.]+\..+", *HEAD))
PATCH: Schema = {"$ref": "#/$defs/patch"}
SECTION: Schema = {"$ref": "#/$defs/any-section"}


def variants_schema(sections: Sequence[Schema]) -> tuple[Schema, dict[str, Schema]]:
    """`variants:`, and the definitions it refers to. `sections` are references to all kinds of sections."""
    practice: Schema = {"enum": list(PRACTICE)}
    rules = " ".join(f"{rule.name}: {rule.says} The arm: {rule.instead}." for rule in PRACTICE.values())
    chosen = {"anyOf": [_list(WORD), {"type": "object", "minProperties": 1, "additionalProperties": PATCH}]}
    choices = _one_or_list({"type": "object", "minProperties": 1, "additionalProperties": _one_or_list(WORD)})
    defs = {"any-section": {"oneOf": list(sections)}, "patch": _patch(practice), "named": _patch(practice)}
    defs["named"]["properties"] |= {"brand": {"type": "string"}, "language": {"type": "string"}}
    return {
        "type": "object",
        "minProperties": 1,
        "description": "Mails made from this one: axes multiply, and each value is a patch.",
        "properties": {
            "axes": {
                "type": "object",
                "minProperties": 1,
                "maxProperties": MOST_AXES,
                "description": "What varies; an empty patch {} is the campaign as it is.",
                "properties": {
                    "language": {**chosen, "description": "Tags; words come from texts/LANG.yaml."},
                    "brand": {**chosen, "description": "Shops of the workspace."},
                    "practice": {"anyOf": [_list({"enum": [USUAL, *PRACTICE]}), chosen["anyOf"][1]]},
                },
                "propertyNames": {"pattern": NAME, "not": {"const": NAMED}},
                "additionalProperties": {
                    "type": "object",
                    "minProperties": 1,
                    "additionalProperties": PATCH,
                },
            },
            "only": {**choices, "description": "Keep the variants that match one of these."},
            "except": {**choices, "description": "Leave out the variants that match one of these."},
            "named": {
                "type": "object",
                "minProperties": 1,
                "description": "Single variants beside the axes.",
                "propertyNames": {"pattern": NAME},
                "additionalProperties": {"$ref": "#/$defs/named"},
            },
            "practice": {**_one_or_list(practice), "description": f"An arm that breaks a rule. {rules}"},
            "same": {"const": "intended", "description": "Variants may be equal, as in a test of equals."},
        },
        "additionalProperties": False,
    }, defs


def _patch(practice: Schema) -> Schema:
    spot = {name: {"type": "string"} for name in ("before", "after")}
    either = {"oneOf": [{"required": ["before"]}, {"required": ["after"]}]}
    addition: Schema = {
        "type": "object",
        "properties": {**spot, "section": SECTION, "sections": _list(SECTION)},
        "additionalProperties": False,
        "allOf": [either, {"oneOf": [{"required": ["section"]}, {"required": ["sections"]}]}],
    }
    to: Schema = {"type": "object", "properties": spot, "additionalProperties": False, **either}
    return {
        "type": "object",
        "properties": {
            "set": {
                "type": "object",
                "minProperties": 1,
                "description": "id.field: value; also subject, preheader, offer.ends and the like.",
                "propertyNames": {"pattern": f"^(?:{_FIELD})$"},
            },
            "drop": {
                **_one_or_list({"type": "string"}),
                "description": "Sections by id, fields by id.field.",
            },
            "add": {**_one_or_list(addition), "description": "Sections before or after another."},
            "move": {
                "type": "object",
                "minProperties": 1,
                "description": "id: {after: id}",
                "additionalProperties": to,
            },
            "replace": {
                "type": "object",
                "minProperties": 1,
                "description": "id: another section, which keeps the id.",
                "additionalProperties": SECTION,
            },
            "practice": {**_one_or_list(practice), "description": "Break a rule of practice."},
            "same": {"const": "intended", "description": "May come out equal to another variant."},
        },
        "additionalProperties": False,
    }


def _list(one: Schema) -> Schema:
    return {"type": "array", "minItems": 1, "items": one}


def _one_or_list(one: Schema) -> Schema:
    return {"anyOf": [one, _list(one)]}
