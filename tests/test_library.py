"""A library as a whole: kept per user, rebuilt when anything it came from changes, the same bytes every time."""

# ruff: noqa: E501 - sources and messages whole, on one line

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from tests.workspaces import block, make

from handbill.base.cache import Cache
from handbill.base.errors import MistakesError, Place
from handbill.base.source import parse_yaml, plain
from handbill.brand.parts import load_brand
from handbill.library import assemble, build
from handbill.library.block import look_up
from handbill.library.build import Library
from handbill.library.find import blocks, built_in
from handbill.library.spec import BlockSpec
from handbill.loader import Loader
from handbill.models.check import validate


def load(root: Path, cache: Path, rtl: bool = False, only: tuple[str, ...] = ("jotting", "copy")) -> Library:
    loader = Loader(root, Cache(cache))
    parts = load_brand(loader, "orrowby", Place("x"))
    found = [one for one in blocks(loader.shelves(parts.files)).values() if one.name in only]
    return build.build(
        found, parts.brand, parts.files.root, parts.house, rtl=rtl, cache=loader.cache,
        brand_digest=parts.files.digest, root=root,
    )  # fmt: skip


@pytest.fixture
def count(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How often a library was assembled."""
    calls: list[int] = []
    real = assemble.assemble

    def counted(*args: object) -> Library:
        calls.append(1)
        return real(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(assemble, "assemble", counted)
    return calls


def test_a_second_run_reads_it_back_and_any_change_builds_anew(tmp_path: Path, count: list[int]) -> None:
    root = make(tmp_path / "w", block())
    first = load(root, tmp_path / "cache")
    again = load(root, tmp_path / "cache")
    assert len(count) == 1
    assert (again.tables, again.rules, dict(again.codes)) == (first.tables, first.rules, dict(first.codes))
    for number, name in enumerate(("block.css", "block.html.j2", "block.txt.j2", "block.yaml")):
        path = root / "library/blocks/jotting" / name
        path.write_text(path.read_text() + "\n")
        load(root, tmp_path / "cache")
        assert len(count) == 2 + number
    brand = root / "brands/orrowby/brand.yaml"
    brand.write_text(brand.read_text() + "corners: {card: 3}\n")
    load(root, tmp_path / "cache")
    load(root, tmp_path / "cache", rtl=True)
    assert len(count) == 7


def test_damaged_entries_are_ignored(tmp_path: Path, count: list[int]) -> None:
    root = make(tmp_path / "w", block())
    load(root, tmp_path / "cache")
    for damage in (
        lambda data: data[: len(data) // 2],
        lambda _data: b"",
        lambda data: data[:-9] + b"\0" * 9,
    ):
        before = len(count)
        for path in (tmp_path / "cache").rglob("*"):
            if path.is_file():
                path.write_bytes(damage(path.read_bytes()))
        load(root, tmp_path / "cache")
        assert len(count) == before + 1


def test_runs_side_by_side_and_two_hash_seeds_make_the_same(tmp_path: Path) -> None:
    root = make(tmp_path / "w", block())
    script = (
        "import sys, pathlib, hashlib; sys.path.insert(0, sys.argv[3]);"
        "from tests.test_library import load;"
        "made = load(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]));"
        "print(hashlib.sha256(repr((made.tables, sorted(made.rules.items()), made.digest)).encode()).hexdigest())"
    )
    top = str(Path(__file__).parent.parent)
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", script, str(root), str(tmp_path / cache), top],
            stdout=subprocess.PIPE, text=True, env={"PYTHONHASHSEED": seed, "PATH": "/usr/bin:/bin", "PYTHONPATH": ":".join(sys.path)},
        )
        for cache, seed in (("one", "1"), ("one", "2"), ("two", "3"))
    ]  # fmt: skip
    outputs = {run.communicate()[0] for run in runs}
    assert [run.returncode for run in runs] == [0, 0, 0]
    assert len(outputs) == 1
    assert outputs != {""}


def test_mistakes_of_all_blocks_at_once_in_every_file(tmp_path: Path) -> None:
    root = make(
        tmp_path / "w",
        {
            **block(css=".a .b {}", html="{{ x.y() }}", txt="{{ nothing }}"),
            **block("brands/orrowby/blocks/other", css=".a { colr }"),
        },
    )
    with pytest.raises(MistakesError) as caught:
        load(root, tmp_path / "cache", only=("jotting", "other"))
    files = {one.place.file for one in caught.value.mistakes}
    assert files == {
        "brands/orrowby/blocks/other/block.css", "brands/orrowby/blocks/other/block.yaml",
        "library/blocks/jotting/block.css", "library/blocks/jotting/block.html.j2", "library/blocks/jotting/block.txt.j2",
    }  # fmt: skip


def test_links_in_a_library_are_refused(tmp_path: Path) -> None:
    root = make(tmp_path / "w", block(css=None))
    (tmp_path / "away.css").write_text(".a {}")
    (root / "library/blocks/jotting/block.css").symlink_to(tmp_path / "away.css")
    with pytest.raises(MistakesError, match=r"library/blocks/jotting/block\.css: is a link"):
        load(root, tmp_path / "cache")


def spec_faults(text: str) -> list[str]:
    doc = parse_yaml(f"handbill: 1\nblock: jotting\nabout: x\n{text}".encode(), "b")
    return [f"{one.path}: {one.message}" for one in validate(BlockSpec, doc.root)[1]]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("fields: {a: {type: choice, options: [x]}}", "fields.a: a choice needs options (two or more)"),
        ("fields: {a: {type: choice, options: [x, y]}}", "fields.a: a choice needs a default"),
        (
            "fields: {a: {type: choice, options: [x, y], default: z}}",
            "fields.a: the default z is not one of x, y",
        ),
        (
            "fields: {a: {type: choice, options: [x, 'Y y'], default: x}}",
            "fields.a.options[1]: 'Y y' is not a name",
        ),
        ("fields: {a: {type: text, options: [x, y]}}", "fields.a: only a choice has options"),
        ("fields: {a: {type: list}}", "fields.a: a list needs `of:` with the fields of an entry"),
        ("fields: {a: {type: texts}}", "fields.a.type: 'texts' is not a choice"),
        ("fields: {A: {type: text}}", "fields.A: 'A' is not a name"),
        ("fields: {tone: {type: text}}", "fields: tone is a reserved name"),
        ("fields: {a: {type: list, of: {src: {type: text}}}}", "fields.a.of: src is a reserved name"),
        ("measures: {a: [1]}", "measures: a: a measure is one value"),
        ("measures: {a: 'x;y'}", "measures: a: ';' is not allowed in a value"),
    ],
)
def test_what_block_yaml_may_not_say(text: str, line: str) -> None:
    assert line in spec_faults(text)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("heading: hed\nfields: {head: {type: text}}", "heading: no field hed; expected one of head; nearest: head"),
        ("fields: {a: {type: picture, slot: row.x}}", "fields.a.slot: slot: no slot row.x"),
        ("fields: {a: {type: picture, slot: {size: {big: full}}}}", "fields.a.slot: no choice size"),
        ("fields: {a: {type: picture, ratio: wide}}", "fields.a.ratio: 'wide' is not a ratio; expected such as 5:4"),
        ("fields: {a: {type: picture, overlap: b}}", "fields.a.overlap: no number field b"),
        ("fields: {a: {type: button, passed_to: b}}", "fields.a.passed_to: no products field b"),
        ("fields: {a: {type: choice, options: [x, y], default: {cycle: [x, z]}}}", "fields.a.default: no option z"),
        ("slots: {row: {columns: {a: '400', b: '400'}}}", "slots: slots.row: the columns are 200 px wider than the 600 px they share"),
        ("slots: {row: {columns: {a: rest, b: rest}}}", "slots: slots.row: more than one column takes the rest"),
        ("slots: {row: {of: full.x}}", "slots: slots.row.of: no slot full.x"),
    ],
)  # fmt: skip
def test_references_that_lead_nowhere(tmp_path: Path, text: str, line: str) -> None:
    yaml = f"handbill: 1\nblock: jotting\nabout: x\n{text}\n"
    root = make(tmp_path / "w", block(yaml=yaml, html="x", txt="x"))
    with pytest.raises(MistakesError) as caught:
        load(root, tmp_path / "cache", only=("jotting",))
    assert any(line in str(one) for one in caught.value.mistakes), [str(one) for one in caught.value.mistakes]


def test_slots_share_their_width(tmp_path: Path) -> None:
    yaml = "handbill: 1\nblock: jotting\nabout: x\nmeasures: {art: 200}\nslots: {row: {of: inset, gap: '20', columns: {art: var(--art), words: rest}}, inner: {of: row.words, columns: {a: rest}}}\n"
    root = make(tmp_path / "w", block(yaml=yaml, html="x", txt="x"))
    made = load(root, tmp_path / "cache", only=("jotting",))
    widths = made.blocks["jotting"].widths(made.house)
    assert (widths["full"], widths["inset"]) == (600, 520)
    assert widths["row"] == {"art": 200, "words": 300, "gap": 20}
    assert look_up("inner.a", widths, "x") == 300


def test_the_built_in_blocks_are_found_and_whole() -> None:
    names = {path.parent.name for path in built_in().glob("*/block.yaml")}
    assert {"masthead", "hero", "copy", "product-stack", "testimonial", "closing", "footer-nav"} <= names
    for name in names:
        for part in (*build.PARTS, "sample.yaml"):
            assert (built_in() / name / part).is_file(), f"{name}/{part}"
        spec = plain(parse_yaml((built_in() / name / "block.yaml").read_bytes(), name).root)
        assert BlockSpec.model_validate(spec).block == name
