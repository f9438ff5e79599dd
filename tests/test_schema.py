"""JSON Schema of campaigns and brands, held against good and broken files by PyPI's jsonschema (2020-12)."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from handbill.cli.main import cli

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "demo"
HINT = "# yaml-language-server: $schema="


def printed(*arguments: str) -> str:
    done = CliRunner().invoke(cli, ["schema", *arguments, "--workspace", str(DEMO)], catch_exceptions=False)
    assert done.exit_code == 0
    return done.output


def read(path: Path) -> Any:
    """A file as an editor sees it: plain YAML; dates are text to JSON Schema."""
    data = yaml.safe_load(path.read_text("utf-8"))

    def plain(value: Any) -> Any:
        if isinstance(value, dict):
            return {str(key): plain(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [plain(inner) for inner in value]
        return value.isoformat() if isinstance(value, date) else value

    return plain(data)


@cache
def campaigns_of(brand: str) -> Draft202012Validator:
    schema = json.loads(printed("campaign", "--brand", brand))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


@pytest.fixture
def campaign() -> Draft202012Validator:
    return campaigns_of("orrowby")


@pytest.fixture(scope="module")
def brand() -> Draft202012Validator:
    schema = json.loads(printed("brand"))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


@pytest.mark.parametrize("path", sorted(DEMO.glob("schema/*.json")), ids=lambda path: path.name)
def test_the_demos_schemas_are_fresh(path: Path) -> None:
    kind, _, name = path.stem.partition("-")
    arguments = [kind, "--brand", name] if name else [kind]
    fresh = path.read_text("utf-8") == printed(*arguments)
    assert fresh, f"stale: handbill schema {' '.join(arguments)} --workspace demo > demo/schema/{path.name}"


@pytest.mark.parametrize("path", sorted(DEMO.glob("campaigns/*.yaml")), ids=lambda path: path.name)
def test_the_demos_campaigns_are_right(path: Path) -> None:
    data = read(path)
    assert [error.message for error in campaigns_of(data["brand"]).iter_errors(data)] == []


@pytest.mark.parametrize("path", sorted(DEMO.glob("brands/*/brand.yaml")), ids=lambda path: path.parent.name)
def test_the_demos_brands_are_right(path: Path, brand: Draft202012Validator) -> None:
    assert [error.message for error in brand.iter_errors(read(path))] == []


@pytest.mark.parametrize(
    "path", sorted([*DEMO.glob("campaigns/*.yaml"), *DEMO.glob("brands/*/brand.yaml")]), ids=str
)  # fmt: skip
def test_an_editor_finds_the_schema(path: Path) -> None:
    first = path.read_text("utf-8").splitlines()[0]
    assert first.startswith(HINT)
    assert (path.parent / first.removeprefix(HINT)).resolve().is_file()


BASE = {
    "handbill": 1, "campaign": "a-b", "brand": "orrowby", "send": "2027-01-15T08:00", "subject": "Hi",
    "stack": [
        {"block": "copy", "headline": 2027, "copy": "Words", "tone": "ink", "when": "recipient.vip"},
        {"block": "hero", "id": "top", "headline": "X", "picture": "hero.jpg", "overlap": 20,
         "button": {"label": "Go"}},
        {"block": "product-stack", "products": ["K-210", {"sku": "S-110", "layout": "feature"}]},
        {"block": "footer-nav", "show_social": "false", "rule": True},
        {"standing": "footer", "set": {"footer-nav.rule": False}},
    ],
}  # fmt: skip


def test_what_handbill_reads_is_right(campaign: Draft202012Validator) -> None:
    assert [error.message for error in campaign.iter_errors(BASE)] == []


def section(number: int, **more: Any) -> Callable[[Any], None]:
    def change(data: Any) -> None:
        data["stack"][number].update(more)

    return change


def head(**more: Any) -> Callable[[Any], None]:
    def change(data: Any) -> None:
        data.update(more)

    return change


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (section(0, block="cpoy"), ["stack", 0]),
        (section(0, headlin="X"), ["stack", 0]),
        (section(0, tone="pink"), ["stack", 0]),
        (section(0, when="vip"), ["stack", 0]),
        (section(0, align="left"), ["stack", 0]),
        (section(0, copy=["Words"]), ["stack", 0]),
        (section(1, overlap="much"), ["stack", 1]),
        (section(1, picture={"alt": "no file"}), ["stack", 1]),
        (section(1, button={"lable": "Go"}), ["stack", 1]),
        (section(2, products=[]), ["stack", 2]),
        (section(2, products=[{"layout": "split"}]), ["stack", 2]),
        (section(2, products=[{"sku": "K-210", "layout": "tall"}]), ["stack", 2]),
        (section(3, rule="perhaps"), ["stack", 3]),
        (section(4, standing="food"), ["stack", 4]),
        (section(4, block="copy"), ["stack", 4]),
        (head(brand="other"), ["brand"]),
        (head(send="15 January"), ["send"]),
        (head(offer={"kind": "markup"}), ["offer"]),
        (head(campaign="A B"), ["campaign"]),
        (head(handbill=2), ["handbill"]),
        (head(stack=[]), ["stack"]),
        (head(subjekt="Hi"), []),
    ],
)
def test_what_is_broken_is_found(
    campaign: Draft202012Validator, change: Callable[[Any], None], where: list[Any]
) -> None:
    data = copy.deepcopy(BASE)
    change(data)
    assert [list(error.absolute_path) for error in campaign.iter_errors(data)] == [where]


@pytest.mark.parametrize("missing", ["handbill", "campaign", "brand", "send", "subject", "stack"])
def test_what_is_missing_is_found(campaign: Draft202012Validator, missing: str) -> None:
    data = {name: value for name, value in BASE.items() if name != missing}
    (error,) = campaign.iter_errors(data)
    assert missing in error.message


def brand_file(**more: Any) -> Any:
    return {**read(DEMO / "brands" / "orrowby" / "brand.yaml"), **more}


@pytest.mark.parametrize(
    "more",
    [
        {"sight": "x"}, {"currency": "euro"}, {"button": {"height": "tall"}}, {"button": {"heigth": 40}},
        {"type": {"text": {"weight": "600"}}}, {"colours": {"text": {"drak": "#000000"}}},
        {"sender": {"name": "X"}},
        {"blocks": {"hero": {"layuot": "over"}}}, {"blocks": {"hero": {"layout": "under"}}}, {"handbill": 3},
    ],
)  # fmt: skip
def test_what_is_broken_in_a_brand_is_found(brand: Draft202012Validator, more: dict[str, Any]) -> None:
    assert list(brand.iter_errors(brand_file(**more)))


@pytest.mark.parametrize(
    "more",
    [
        {"type": {"text": {"weight": 700}}}, {"space": {"side": 40}}, {"languages": "en-IE"},
        {"handbill": "1"},
        {"blocks": {"hero": {"layout": "over", "above": {"desktop": 40, "phone": 20}}}},
    ],
)  # fmt: skip
def test_shorthands_of_a_brand_are_right(brand: Draft202012Validator, more: dict[str, Any]) -> None:
    assert [error.message for error in brand.iter_errors(brand_file(**more))] == []


def test_a_brand_that_extends_another_may_leave_the_rest_to_it(brand: Draft202012Validator) -> None:
    assert not list(brand.iter_errors({"handbill": 1, "brand": "small", "extends": "orrowby"}))
    assert list(brand.iter_errors({"handbill": 1, "brand": "small"}))


def test_a_brands_own_blocks_are_in_its_schema(shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.put(
        "brands/pellow/blocks/card/block.yaml",
        "handbill: 1\nblock: card\nabout: A card.\n"
        "fields: {size: {type: choice, options: [a, b], default: a}}\n",
    )
    shop.put("brands/pellow/standing/foot.yaml", "block: footer-nav\n")
    monkeypatch.chdir(shop.root / "brands")  # the workspace is found upward
    output = (
        CliRunner().invoke(cli, ["schema", "campaign", "--brand", "pellow"], catch_exceptions=False).output
    )
    validator = Draft202012Validator(json.loads(output))
    stack = [{"block": "card", "size": "b"}, {"standing": "foot"}]
    assert not list(validator.iter_errors({**BASE, "brand": "pellow", "stack": stack}))
    assert list(validator.iter_errors({**BASE, "brand": "pellow", "stack": [{"block": "card", "size": "c"}]}))
