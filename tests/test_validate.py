"""Values by model: complaints in plain words at their places, and schemas (JSON Schema 2020-12) for editors."""

# ruff: noqa: E501 - sources and messages whole, on one line

from __future__ import annotations

from typing import Any, Literal

import pytest
from pydantic import Field

from handbill.base.source import parse_yaml, plain
from handbill.library.block import field_value
from handbill.library.fields import section_model
from handbill.library.spec import BlockSpec
from handbill.models.brand import Brand
from handbill.models.campaign import Campaign
from handbill.models.check import validate
from handbill.models.common import Model, Toggle, Word

SPEC = """\
handbill: 1
block: jotting
about: A line.
fields:
  copy: {type: copy, required: true, about: What it says.}
  json: {type: text}
  size: {type: choice, options: [small, large], default: small, about: How large.}
  on: {type: toggle, default: "true"}
  gap: {type: number, default: "12"}
  ink: {type: colour}
  price: {type: money}
  day: {type: date}
  art: {type: picture}
  go: {type: button}
  items: {type: products, required: true, most: 2, of: {note: {type: text}, side: {type: choice, options: [a, b], default: a}}}
  points: {type: list, least: 2, of: {words: {type: text, required: true}}}
"""


def spec() -> BlockSpec:
    return BlockSpec.model_validate(plain(parse_yaml(SPEC.encode(), "b").root))


def values(text: str) -> tuple[Any, list[str]]:
    model = section_model(spec(), ("base", "ink"))
    node = parse_yaml(text.encode(), "x.yaml").root
    made, wrong = validate(model, node, prefix="stack[0] jotting")
    return made, [str(one) for one in wrong]


def test_fields_may_be_named_as_pydantic_names_its_own() -> None:
    made, wrong = values("{copy: a, json: 9.90, items: K-1, 'on': false, art: p.png, gap: 1.5, ink: '#FFF'}")
    assert wrong == []
    assert (field_value(made, "copy"), field_value(made, "json"), field_value(made, "on")) == (
        "a",
        "9.90",
        False,
    )
    assert field_value(made, "items")[0].sku == "K-1"
    assert field_value(made, "art").file == "p.png"
    assert field_value(made, "ink") == "#ffffff"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("{items: [K-1]}", "1:1: stack[0] jotting, copy: copy is missing"),
        ("{copy: a, items: K-1, field_json: x}", "1:23: stack[0] jotting, field_json: unknown field field_json; expected one of"),
        ("{copy: [a], items: K-1}", "1:8: stack[0] jotting, copy: a list where text is expected"),
        ("{copy: '', items: K-1}", "1:8: stack[0] jotting, copy: copy is empty"),
        ("{copy: a, items: [{sku: K-1, nte: x}]}", "1:30: stack[0] jotting, items[0].nte: unknown field nte; expected one of sku, tone, note, side; nearest: note"),
        ("{copy: a, items: [{note: x}]}", "1:19: stack[0] jotting, items[0].sku: sku is missing"),
        ("{copy: a, items: [{sku: K, side: c}]}", "1:34: stack[0] jotting, items[0].side: 'c' is not a choice; expected one of a, b"),
        ("{copy: a, items: [1, 2, 3]}", "1:18: stack[0] jotting, items: 3 entries; expected at most 2"),
        ("{copy: a, items: []}", "1:18: stack[0] jotting, items: 0 entries; expected at least 1"),
        ("{copy: a, items: K-1, points: [{words: x}]}", "1:31: stack[0] jotting, points: 1 entry; expected at least 2"),
        ("{copy: a, items: K-1, 'on': yes}", "1:29: stack[0] jotting, on: 'yes' is not true or false; expected true or false"),
        ("{copy: a, items: K-1, gap: nan}", "1:28: stack[0] jotting, gap: 'nan' is not a number; expected a number"),
        ("{copy: a, items: K-1, ink: red}", "1:28: stack[0] jotting, ink: 'red' is not a colour; expected six hexadecimal digits such as '#1a2335', in quotes"),
        ("{copy: a, items: K-1, day: 2027-01-15}", "1:28: stack[0] jotting, day: '2027-01-15' is not a date and time; expected such as 2027-01-15T08:00"),
        ("{copy: a, items: K-1, day: [x]}", "1:28: stack[0] jotting, day: this is not a date and time; expected such as 2027-01-15T08:00"),
        ("{copy: a, items: K-1, size: {a: b}}", "1:29: stack[0] jotting, size: a mapping is not a choice; expected one of small, large"),
        ("{copy: a, items: K-1, tone: ikn}", "1:29: stack[0] jotting, tone: 'ikn' is not a choice; expected one of base, ink; nearest: ink"),
        ("{copy: a, items: K-1, art: {fil: x}}", "1:28: stack[0] jotting, art.file: file is missing"),
        ("{copy: a, items: K-1, go: word}", "1:27: stack[0] jotting, go: text where a mapping is expected; expected name: value"),
    ],
)  # fmt: skip
def test_complaints(text: str, line: str) -> None:
    _made, wrong = values(text)
    assert any(one.startswith("x.yaml:" + line) for one in wrong), wrong


def test_branches_and_keys_are_no_part_of_a_way() -> None:
    class A(Model):
        kind: Literal["code"]
        code: str

    class B(Model):
        kind: Literal["b"]

    class Whole(Model):
        offer: A | B | None = Field(None, discriminator="kind")
        either: str | dict[str, int] = ""
        words: dict[Word, Toggle] = Field(default_factory=dict)

    node = parse_yaml(b"offer: {kind: code, code: [x]}\neither: [1]\nwords: {Bad: true, good: 3}", "x").root
    _value, wrong = validate(Whole, node)
    assert sorted(str(one).partition("; ")[0] for one in wrong) == [
        "x:1:27: offer.code: a list where text is expected",
        "x:2:9: either: a list where text is expected",
        "x:3:26: words.good: '3' is not true or false",
        "x:3:9: words.Bad: 'Bad' is not a name",
    ]


def test_long_values_are_cut_in_messages() -> None:
    _made, wrong = values("{copy: a, items: K-1, size: " + "x" * 500 + "}")
    assert len(wrong[0]) < 200


def test_a_sections_schema() -> None:
    schema = section_model(spec(), ("base", "ink")).model_json_schema()
    fields = schema["properties"]
    assert schema["description"] == "A line."
    assert schema["required"] == ["copy", "items"]
    assert schema["additionalProperties"] is False
    assert fields["copy"] == {"description": "What it says.", "title": "Copy", "type": ["string", "number"]}
    assert fields["tone"]["anyOf"][0]["enum"] == ["base", "ink"]
    assert fields["size"]["anyOf"][0]["enum"] == ["small", "large"]
    assert (fields["size"]["default"], fields["size"]["description"]) == ("small", "How large.")
    assert (fields["on"]["default"], fields["gap"]["default"]) == (True, 12)
    assert fields["price"]["anyOf"][0]["type"] == ["string", "number"]
    assert {"type": "string"} in fields["art"]["anyOf"]
    item = schema["$defs"]["jotting_items"]
    assert item["required"] == ["sku"]
    assert item["properties"]["side"]["anyOf"][0]["enum"] == ["a", "b"]


def test_schemas_allow_what_the_files_may_hold() -> None:
    brand, campaign = Brand.model_json_schema(), Campaign.model_json_schema()
    assert brand["properties"]["handbill"]["const"] == campaign["properties"]["handbill"]["const"] == 1
    assert set(brand["$defs"]["TypeRole"]["properties"]["weight"]["anyOf"][0]["enum"]) == {
        400,
        700,
        "400",
        "700",
    }
    colour = brand["properties"]["colours"]["additionalProperties"]
    assert {"type": "string"} in colour["anyOf"]
    assert {"type": "integer"} in brand["properties"]["space"]["additionalProperties"]["anyOf"]
    assert campaign["properties"]["send"]["type"] == "string"
    assert set(campaign["required"]) >= {"handbill", "campaign", "brand", "send", "subject", "stack"}


def test_nothing_else_is_thrown() -> None:
    model = section_model(spec(), ("base",))
    for text in (
        "a: b",
        "copy: {a: [b, {c: d}]}",
        "items: {sku: [a]}",
        "points: 3",
        "art: [x]",
        "go: [a]",
        "gap: {}",
    ):
        node = parse_yaml(text.encode(), "x").root
        made, wrong = validate(model, node)
        assert made is None
        assert wrong
