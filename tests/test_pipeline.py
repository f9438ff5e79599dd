"""The whole way: every mistake of every file at once, sorted; nothing written for a campaign that has one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from handbill.base.cache import Cache
from handbill.loader import Loader
from handbill.pipeline import render, renderer_for, resolve_campaign

ONE = "  - block: copy\n    headline: One\n    copy: Words.\n"


def test_mistakes_of_all_files_come_at_once_and_sorted(shop: Any) -> None:
    shop.change("brands/pellow/products.csv", "40,80", "forty,80")
    shop.change("handbill.yaml", "{first_name: Ida,", "{frist_name: Ida,")
    shop.change("brands/pellow/brand.yaml", "link: /lamps}", "link: 'data:x'}")
    stack = "  - block: coppy\n  - block: copy\n    copyy: x\n" + ONE + "    tone: x\n"
    stack += "  - block: copy\n    copy: ${offer.nope}\n"
    lines = shop.mistakes(stack, "subject: ${nope}")
    places = [":".join(line.split(":")[:2]) for line in lines]
    assert places == sorted(places, key=lambda one: (one.split(":")[0], int(one.split(":")[1])))
    for expected in (
        "products.csv:2", "handbill.yaml:5", "brand.yaml:13", "no block coppy", "unknown field copyy",
        "subject: there is no fact `nope`", "there is no fact `offer.nope`",
    ):  # fmt: skip
        assert any(expected in line for line in lines), (expected, lines)


def test_a_broken_brand_does_not_hide_the_campaigns_own_mistakes(shop: Any) -> None:
    shop.change("brands/pellow/brand.yaml", "currency: EUR", "currency: EUX")
    lines = shop.mistakes(ONE, "sned: 2027-01-15T08:00")
    assert any("brand.yaml" in line and "EUX" in line for line in lines)
    assert any("unknown field sned" in line for line in lines)


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        ("handbill: 1\ncampaign: [\n", "YAML syntax"),
        ("handbill: 2\ncampaign: a\nbrand: pellow\nstack: []\n", "format version 2"),
        (
            "handbill: 1\ncampaign: a\nbrand: pellow\nsend: 2027-01-15T08:00\nsubject: x\nstack: []\n",
            "the stack",
        ),
        (
            "handbill: 1\ncampaign: a\nsend: 2027-01-15T08:00\nsubject: x\nstack: [{block: copy}]\n",
            "brand is missing",
        ),
        (
            "handbill: 1\ncampaign: a\nbrand: pelow\n",
            "no brand pelow; expected one of pellow; nearest: pellow",
        ),
        ("handbill: 1\ncampaign: a\nbrand: {a: b}\n", "brand is missing"),
        ("- a\n", "a.yaml:1:1"),
        ("handbill: 1\nbrand: pellow\ncampaign: ../up\nstack: [{block: copy}]\n", "'../up' is not a name"),
        ("handbill: 1\nbrand: pellow\nsubject: {a: ${offer.ends:date} b}\n", "needs quotes"),
        ("handbill: 1\nbrand: pellow\nvariants: {}\nstack: [{block: copy}]\n", "this names no variants"),
    ],
)
def test_broken_campaigns(shop: Any, content: str, expected: str) -> None:
    lines = shop.mistakes(shop.put("campaigns/a.yaml", content))
    assert any(expected in line for line in lines), lines
    assert all(line.startswith("campaigns/a.yaml") for line in lines)


def test_unreadable_pictures_stand_at_their_fields(shop: Any) -> None:
    good = (shop.root / "brands/pellow/pictures/wren.png").read_bytes()
    shop.put("brands/pellow/pictures/rook.png", good[: len(good) // 2])
    stack = "  - block: hero\n    headline: X\n    picture: {file: rook.png, alt: A bird}\n"
    (line,) = shop.mistakes(stack)
    assert line.startswith("campaigns/spring.yaml:9:21: stack[0] hero, picture.file: ")
    assert "rook.png" in line


def test_a_picture_outside_the_workspace_is_refused(shop: Any, tmp_path: Path) -> None:
    stack = "  - block: hero\n    headline: X\n    picture: {file: ../../../../x.png, alt: A bird}\n"
    (line,) = shop.mistakes(stack)
    assert "leaves the workspace" in line
    (tmp_path / "x.png").write_bytes(b"")
    (shop.root / "brands/pellow/pictures/link.png").symlink_to(tmp_path / "x.png")
    (line,) = shop.mistakes(stack.replace("../../../../x.png", "link.png"))
    assert "link" in line


def test_a_campaign_behind_a_link_is_refused(shop: Any, tmp_path: Path) -> None:
    stray = tmp_path / "stray.yaml"
    shop.campaign(ONE).rename(stray)
    (shop.root / "campaigns/spring.yaml").symlink_to(stray)
    (line,) = shop.mistakes(shop.root / "campaigns/spring.yaml")
    assert line.startswith("campaigns/spring.yaml: ")
    assert "passes through a link" in line
    (line,) = shop.mistakes(stray)
    assert "leaves the workspace" in line


def test_one_renderer_serves_many_mails(shop: Any) -> None:
    loader = Loader(shop.root, Cache())
    first = resolve_campaign(loader, shop.campaign(ONE))
    second = resolve_campaign(loader, shop.campaign(ONE.replace("One", "Other"), name="autumn"))
    renderer = renderer_for(first)
    assert render(second, renderer).html == render(second).html
    assert render(first, renderer).html == render(first).html


def test_for_another_brand(shop: Any) -> None:
    brand = (shop.root / "brands/pellow/brand.yaml").read_text("utf-8")
    shop.put("brands/kite/brand.yaml", brand.replace("pellow", "kite").replace("Pellow", "Kite"))
    shop.put("brands/kite/pictures/logo.png", (shop.root / "brands/pellow/pictures/logo.png").read_bytes())
    for name in ("products.csv", "reviews.csv"):
        shop.put(f"brands/kite/{name}", (shop.root / "brands/pellow" / name).read_bytes())
    made = shop.compile(ONE, brand="kite")
    assert made.folder == shop.root / "out" / "spring" / "brand=kite"
    assert b"kite.example" in made.built.html
    assert b"pellow" not in made.built.html
