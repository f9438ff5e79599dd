"""The gallery and the pages of blocks: whole, complete, the same each time, and never out of date."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import html5lib
import pytest
from click.testing import CliRunner, Result
from html5lib.constants import E
from tests.tools.block_docs import DOCS, MOST, PICTURES, pages
from tests.workspaces import block, make

from handbill.apps.newblock import block_files
from handbill.base.errors import HandbillError
from handbill.cli.main import cli
from handbill.library.find import blocks

SAMPLE = "block: jotting\nwords: </script><script>alert(1)</script>\n"


def run(*words: str) -> Result:
    return CliRunner().invoke(cli, ["blocks", *words], catch_exceptions=False)


def sheet(root: Path, *words: str) -> str:
    target = root / "sheet.html"
    done = run("sheet", str(target), "--workspace", str(root), *words)
    assert done.exit_code == 0, done.output
    return target.read_text("utf-8")


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace of two shops, with a block for both and one without a sample for one."""
    files: dict[str, str | bytes | None] = {
        **block(), "library/blocks/jotting/sample.yaml": SAMPLE,
        **{name.replace("jotting", "odd"): text.replace("jotting", "odd") if isinstance(text, str) else text
           for name, text in block("brands/orrowby/blocks/jotting").items()},
        "brands/second/brand.yaml": "handbill: 1\nbrand: second\nname: Second & Sons\nextends: orrowby\n",
    }  # fmt: skip
    return make(tmp_path_factory.mktemp("gallery"), files)


@pytest.fixture(scope="module")
def gallery(root: Path) -> str:
    return sheet(root)


def parsed(html: str) -> Any:
    """The page's tree by html5lib, which follows the HTML standard's parser; it must find no error."""
    parser = html5lib.HTMLParser(namespaceHTMLElements=False)
    tree = parser.parse(html)
    assert [E.get(code, code) for _at, code, _data in parser.errors] == []
    return tree


def data(tree: Any, name: str) -> dict[str, str]:
    (found,) = [one for one in tree.iter("script") if one.get("id") == name]
    read = json.loads(found.text)
    assert isinstance(read, dict)
    return read


def test_the_page_is_well_formed_and_stands_alone(gallery: str) -> None:
    tree = parsed(gallery)
    for element in tree.iter():
        for name in ("src", "href"):
            value = element.get(name) if isinstance(element.tag, str) else None
            assert value is None or value.startswith("#"), value
    ids = [one.get("id") for one in tree.iter() if isinstance(one.tag, str) and one.get("id")]
    assert len(ids) == len(set(ids))
    links = [one.get("href")[1:] for one in tree.iter("a")]
    assert set(links) <= set(ids)


def test_every_block_appears_with_its_samples_in_every_shop(gallery: str) -> None:
    tree = parsed(gallery)
    named = [heading.text for heading in tree.iter("h2")]
    assert set(named) == {*blocks(()), "jotting", "odd"}
    frames = [frame.get("data-mail") for frame in tree.iter("iframe")]
    mails = data(tree, "mails")
    assert set(frames) == set(mails)
    assert {frames.count(key) for key in mails} == {2}  # a desktop and a phone
    assert all(frame.get("sandbox") == "allow-same-origin" for frame in tree.iter("iframe"))
    number = named.index("hero")
    assert f"{number} orrowby" in mails
    assert f"{number} second" in mails
    assert not any(key.startswith(f"{named.index('odd')} ") for key in mails)  # it has no sample
    assert "This block has no sample.yaml yet." in gallery
    assert "Second &amp; Sons" in gallery


def test_every_picture_of_a_mail_is_in_the_page(gallery: str) -> None:
    tree = parsed(gallery)
    pictures = data(tree, "pictures")
    used = {
        name for mail in data(tree, "mails").values() for name in re.findall(r"\.\./pictures/([\w.-]+)", mail)
    }
    assert used == set(pictures)
    assert any(name.startswith("sample-wide-") for name in used)
    assert all(re.match(r"data:image/(?:png|jpeg|gif);base64,", one) for one in pictures.values())


def test_nothing_in_a_sample_leaves_its_frame(gallery: str) -> None:
    assert "<script>alert(1)" not in gallery
    assert any("&lt;script&gt;alert(1)" in mail for mail in data(parsed(gallery), "mails").values())


def test_own_and_built_in_blocks_are_told_apart(gallery: str) -> None:
    tree = parsed(gallery)
    places = {one.find(".//h2").text: one.find(".//p").text for one in tree.iter("section")}
    assert places["hero"] == "built in"
    assert places["jotting"] == "workspace library, library/blocks/jotting"
    assert places["odd"] == "brand orrowby, brands/orrowby/blocks/odd"


def test_the_same_library_gives_the_same_bytes(root: Path, gallery: str) -> None:
    assert sheet(root) == gallery


def test_one_shop_alone(root: Path) -> None:
    keys = data(parsed(sheet(root, "--brand", "second")), "mails")
    assert {key.split()[1] for key in keys} == {"second"}


def test_a_wrong_sample_stops_the_page_with_its_place(tmp_path: Path) -> None:
    root = make(tmp_path, {**block(), "library/blocks/jotting/sample.yaml": "block: jotting\nword: x\n"})
    with pytest.raises(HandbillError, match=r"library/blocks/jotting/sample\.yaml:2:1"):
        sheet(root)
    assert not (root / "sheet.html").exists()


@pytest.mark.parametrize("name", ["sheet.txt", "folder.html"])
def test_what_cannot_hold_the_page_is_said(tmp_path: Path, name: str) -> None:
    root = make(tmp_path)
    (root / "folder.html").mkdir()
    with pytest.raises(HandbillError, match=r"cannot hold the page; expected a file NAME\.html"):
        run("sheet", str(root / name), "--workspace", str(root))


# -- a block to start from


@pytest.mark.parametrize("brand", [None, "orrowby"])
def test_a_new_block_compiles_at_once(tmp_path: Path, brand: str | None) -> None:
    root = make(tmp_path)
    words = ["--brand", brand] if brand else []
    done = run("new", "my-aside", "--workspace", str(root), *words)
    home = root / (f"brands/{brand}" if brand else "library") / "blocks/my-aside"
    assert sorted(path.name for path in home.iterdir()) == sorted(block_files("my-aside"))
    assert "- block: my-aside" in done.output
    tree = parsed(sheet(root))
    named = [heading.text for heading in tree.iter("h2")]
    mail = data(tree, "mails")[f"{named.index('my-aside')} orrowby"]
    assert "A block of your own" in mail
    assert run("show", "my-aside", "--workspace", str(root), *words).output.startswith("my-aside (")


def test_a_new_block_overwrites_nothing(tmp_path: Path) -> None:
    root = make(tmp_path, block())
    with pytest.raises(HandbillError, match="library/blocks/jotting: is there already"):
        run("new", "jotting", "--workspace", str(root))
    for name in ("Bad", "../x", "shared"):
        with pytest.raises(HandbillError, match=r"is not a name|reserved"):
            run("new", name, "--workspace", str(root))
    assert "takes the place of the built-in hero" in run("new", "hero", "--workspace", str(root)).output


# -- the pages of docs/blocks


def test_the_pages_of_blocks_are_up_to_date() -> None:
    made = pages()
    there = {path.name: path.read_text("utf-8") for path in DOCS.glob("*.md")}
    assert there.keys() == made.keys(), "python tests/tools/block_docs.py"
    assert [name for name in made if made[name] != there[name]] == [], (
        "python tests/tools/block_docs.py --text"
    )


def test_every_page_has_its_pictures_and_they_are_small() -> None:
    for name, text in pages().items():
        for picture in re.findall(r"\((pictures/[^)]+)\)", text):
            assert (DOCS / picture).stat().st_size <= MOST, (name, picture)
    assert {path.suffix for path in PICTURES.iterdir()} == {".jpg"}
