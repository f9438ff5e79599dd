"""Standing sections, ids and search order, on the tree that still knows its lines."""

# ruff: noqa: E501 - sources and messages whole, on one line

from __future__ import annotations

from pathlib import Path

import pytest
from tests.workspaces import BRAND, block, make

from handbill.base.cache import Cache
from handbill.base.errors import Mistake
from handbill.base.source import place, plain
from handbill.expand import Section, expand
from handbill.library.find import blocks, standing
from handbill.loader import Loader

TWO = "handbill: 1\nsections:\n  - {block: copy, copy: one}\n  - {block: closing, id: last, button: {label: Go, link: /}}\n"


def run(root: Path, stack: str, files: dict[str, str]) -> tuple[tuple[Section, ...], list[Mistake]]:
    make(root, {**files, "campaigns/x.yaml": f"brand: orrowby\nstack:\n{stack}"})
    loader = Loader(root, Cache(root / "cache"))
    shelves = loader.shelves(loader.brand("orrowby"))
    expanded, mistakes = expand(loader.read(root / "campaigns/x.yaml"), standing(shelves), loader)
    return expanded.sections, mistakes


def test_one_section_with_overrides(tmp_path: Path) -> None:
    foot = "block: copy\ncopy: Words\nbutton: {label: Go, link: /}\n"
    (section,), mistakes = run(
        tmp_path,
        "  - {standing: foot, align: center, button: {label: Come}}\n",
        {"library/standing/foot.yaml": foot},
    )
    assert mistakes == []
    assert (section.id, section.block, section.path) == ("foot", "copy", "stack[0] foot")
    assert plain(section.node) == {
        "copy": "Words",
        "button": {"label": "Come", "link": "/"},
        "align": "center",
    }
    places = {key.value: str(place(key)) for key, _value in section.node.value}
    assert places["copy"] == "library/standing/foot.yaml:2:1"
    assert places["align"] == "campaigns/x.yaml:3:22"


def test_several_sections_are_changed_by_their_ids(tmp_path: Path) -> None:
    text = "  - {standing: end, when: recipient.vip, set: {last.button.label: Come, copy.align: center}}\n  - {standing: end}\n"
    sections, mistakes = run(tmp_path, text, {"library/standing/end.yaml": TWO})
    assert mistakes == []
    assert [(one.id, one.when) for one in sections] == [
        ("copy", "recipient.vip"), ("last", "recipient.vip"), ("copy-2", None), ("last-2", None),
    ]  # fmt: skip
    assert plain(sections[1].node)["button"] == {"label": "Come", "link": "/"}
    assert plain(sections[0].node)["align"] == "center"
    assert plain(sections[2].node) == {"copy": "one"}
    assert [one.path for one in sections[:2]] == ["stack[0] end[0] copy", "stack[0] end[1] closing"]


def test_nested(tmp_path: Path) -> None:
    outer = "sections:\n  - standing: end\n  - {standing: word, align: center}\n"
    files = {
        "library/standing/outer.yaml": outer,
        "library/standing/end.yaml": TWO,
        "library/standing/word.yaml": "block: copy\ncopy: x\n",
    }
    sections, mistakes = run(tmp_path, "  - standing: outer\n", files)
    assert mistakes == []
    assert [(one.id, one.block) for one in sections] == [
        ("copy", "copy"),
        ("last", "closing"),
        ("word", "copy"),
    ]


def test_ids_are_fixed_before_they_are_counted(tmp_path: Path) -> None:
    text = (
        "  - {block: copy}\n  - {block: copy, id: copy-2}\n  - {block: copy}\n  - {block: copy, id: copy}\n"
    )
    sections, mistakes = run(tmp_path, text, {})
    assert mistakes == []
    assert [one.id for one in sections] == ["copy-3", "copy-2", "copy-4", "copy"]


@pytest.mark.parametrize(
    ("use", "message"),
    [
        ("{standing: end, align: center}", "stack[0] end: end holds several sections, so align needs one of their ids; expected set: {copy.align: …}"),
        ("{standing: end, id: foot}", "stack[0] end: end holds several sections and takes no id"),
        ("{standing: end, set: {lst.copy: x}}", "stack[0] end, set: lst.copy names no field of a section here; expected id.field with one of the ids copy, last; nearest: last"),
        ("{standing: end, set: {last.block: x}}", "last.block names no field of a section here"),
        ("{standing: end, set: {last: x}}", "last names no field of a section here"),
        ("{standing: end, set: x}", "set is a mapping"),
        ("{standing: end, block: copy}", "a section has a block or a standing section, not both"),
        ("{standing: [end]}", "a section names its standing section"),
        ("{standing: end, otherwise: x}", "end holds several sections, and otherwise stands for one"),
        ("{standing: bad}", "bad: unknown field copy; expected handbill and sections alone, fields in the sections"),
        ("{standing: none}", "sections is a list of sections"),
        ("{standing: new}", "format version 2 is not one this handbill reads"),
        ("{standing: twice}", "the id a is used twice"),
        ("words", "a section is a mapping"),
    ],
)  # fmt: skip
def test_mistakes(tmp_path: Path, use: str, message: str) -> None:
    files = {
        "library/standing/end.yaml": TWO,
        "library/standing/bad.yaml": TWO + "copy: x\n",
        "library/standing/none.yaml": "sections: {}\n",
        "library/standing/new.yaml": "handbill: 2\nblock: copy\n",
        "library/standing/twice.yaml": "sections: [{block: copy, id: a}, {block: copy, id: a}]\n",
    }
    _sections, mistakes = run(tmp_path, f"  - {use}\n", files)
    assert len(mistakes) == 1, mistakes
    assert message in str(mistakes[0])


def test_search_order_and_hiding(tmp_path: Path) -> None:
    child = BRAND.replace("brand: orrowby", "brand: fell\nextends: orrowby")
    files: dict[str, str | bytes | None] = {"brands/fell/brand.yaml": child}
    for folder in ("brands/fell", "brands/orrowby", "library"):
        files |= block(f"{folder}/blocks/jotting")
        files[f"{folder}/standing/foot.yaml"] = f"# {folder}\nblock: copy\ncopy: x\n"
    files |= block("brands/orrowby/blocks/hero") | block("library/blocks/own")
    make(tmp_path, files)
    loader = Loader(tmp_path, Cache(tmp_path / "cache"))
    shelves = loader.shelves(loader.brand("fell"))
    found = blocks(shelves)
    assert {name: found[name].label for name in ("jotting", "hero", "own", "copy")} == {
        "jotting": "brand fell", "hero": "brand orrowby", "own": "workspace library", "copy": "built in",
    }  # fmt: skip
    assert standing(shelves)["foot"] == tmp_path / "brands/fell/standing/foot.yaml"


def test_a_brand_takes_from_its_parent_what_it_leaves_out(tmp_path: Path) -> None:
    child = "handbill: 1\nbrand: fell\nextends: orrowby\nname: Fell\ntones: {ink: {text: '#000000'}}\n"
    make(tmp_path, {"brands/fell/brand.yaml": child})
    files = Loader(tmp_path, Cache(tmp_path / "cache")).brand("fell")
    merged = plain(files.root.root)
    assert (merged["brand"], merged["name"], merged["timezone"]) == ("fell", "Fell", "Europe/Dublin")
    assert merged["tones"]["ink"] == {"ground": "#1a2335", "text": "#000000", "title": "#ffffff"}
    assert [folder.name for folder in files.folders] == ["fell", "orrowby"]
    # what neither says is missing in the file being read
    assert place(files.root.root).file == "brands/fell/brand.yaml"
