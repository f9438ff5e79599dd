"""Compiling again writes exactly what differs: the tree is a clean build's, and nothing else was touched.

Both directions are held against a build into an empty folder, over random edits (common practice).
"""

from __future__ import annotations

import json
import random
from collections import Counter
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

import handbill

from .many import campaign, touched, tree

ROUNDS = 20


def coloured(colour: str) -> bytes:
    data = BytesIO()
    Image.new("RGB", (600, 400), colour).save(data, "PNG")
    return data.getvalue()


class Author:
    """Somebody who edits a shop, and damages what was written now and then."""

    def __init__(self, shop: Any, seed: int) -> None:
        self.shop, self.random = shop, random.Random(seed)
        self.said: dict[str, Any] = {}
        self.edits = (
            self.words, self.words, self.arms, self.price, self.picture, self.other_picture, self.colour,
            self.lost, self.damaged, self.nothing,
        )  # fmt: skip

    def edit(self) -> str:
        made = self.random.choice(self.edits)
        made()
        return made.__name__

    def words(self) -> None:
        field = self.random.choice(["headline", "note", "quiet"])
        self.said[field] = f"Words {self.random.randrange(4)}"

    def arms(self) -> None:
        self.said["arms"] = tuple(self.random.sample(["loud", "late", "long"], self.random.randrange(3)))

    def price(self) -> None:
        row = next(line for line in self.csv().splitlines() if line.startswith("L-200"))
        cells = row.split(",")
        cells[3] = f"{self.random.randrange(20, 24)}.50"
        self.shop.put("brands/pellow/products.csv", self.csv().replace(row, ",".join(cells)))

    def csv(self) -> str:
        return str((self.shop.root / "brands/pellow/products.csv").read_text("utf-8"))

    def picture(self) -> None:
        colour = self.random.choice(["#204060", "#c8a04a", "#507050"])
        self.shop.put("brands/pellow/pictures/wren.png", coloured(colour))

    def other_picture(self) -> None:
        self.said["picture"] = self.random.choice(["wren.png", "rook.png"])

    def colour(self) -> None:
        brand = (self.shop.root / "brands/pellow/brand.yaml").read_text("utf-8").partition("\ncolours:")[0]
        colour = self.random.choice(["#9a3412", "#1d4ed8"])
        self.shop.put("brands/pellow/brand.yaml", f'{brand.rstrip()}\ncolours:\n  accent: "{colour}"\n')

    def written(self) -> Path:
        """Some file that was written."""
        out = self.shop.root / "out"
        files = sorted(path for path in out.rglob("*") if path.is_file())
        return self.random.choice(files)

    def lost(self) -> None:
        self.written().unlink()

    def damaged(self) -> None:
        path = self.written()
        path.write_bytes(path.read_bytes()[:-2] + b"x\n")

    def nothing(self) -> None: ...


@pytest.mark.parametrize("seed", [1, 2])
def test_any_edit_gives_a_clean_builds_tree_and_touches_nothing_else(
    shop: Any, tmp_path: Path, seed: int
) -> None:
    author, out = Author(shop, seed), shop.root / "out" / "spring"
    handbill.compile(campaign(shop))
    for number in range(ROUNDS):
        what = author.edit()
        path = campaign(shop, **author.said)
        was, lay = tree(out), touched(out)
        made = handbill.compile(path)
        clean = tmp_path / f"clean{number}"
        handbill.compile(path, out=clean)
        now = tree(out)
        assert now == tree(clean / "spring"), what
        same = [name for name in now if was.get(name) == now[name]]
        again = touched(out)
        assert [name for name in same if again[name] != lay[name]] == [], what
        assert made.changed is (was != now), what
        written = {one.id for one in made.variants if one.written}
        differ = {name.split("/")[0] for name in now if was.get(name) != now[name]}
        assert written == differ - {"pictures", "manifest.json", *made.removed}, what
        assert not handbill.compile(path).changed
        assert touched(out) == again, what


def test_a_second_run_opens_nothing_of_the_campaign(shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    path = campaign(shop)
    first = handbill.compile(path)
    assert first.changed
    assert all(one.written for one in first.variants)

    def never(*_: Any, **__: Any) -> None:
        raise AssertionError("opened")

    monkeypatch.setattr("handbill.batch.run.compile_campaign", never)
    again = handbill.compile(path)
    assert not again.changed
    assert [one.id for one in again.variants] == [one.id for one in first.variants]
    assert [one.html for one in again.variants] == [one.html for one in first.variants]


@pytest.mark.parametrize(
    "change",
    [
        ("brands/pellow/standing/new.yaml", "block: copy\ncopy: X\n"),  # was looked for
        ("brands/pellow/pictures/.hidden.png", "x"),
        ("handbill.yaml", None),
        ("texts/de-DE.yaml", "handbill: 1\n"),
    ],
)
def test_whatever_may_count_is_looked_at(
    shop: Any, monkeypatch: pytest.MonkeyPatch, change: tuple[str, str | None]
) -> None:
    path = campaign(shop)
    handbill.compile(path)
    opened: list[Any] = []
    from handbill.batch import run

    compile_campaign = run.compile_campaign
    monkeypatch.setattr(
        run, "compile_campaign", lambda *a, **k: opened.append(a) or compile_campaign(*a, **k)
    )
    shop.put("campaigns/other.yaml", "not read here")
    shop.put("out/elsewhere.txt", "x")
    assert not handbill.compile(path).changed
    assert not opened
    name, text = change
    shop.put(name, text if text is not None else (shop.root / name).read_bytes() + b"\n# a remark\n")
    assert not handbill.compile(path).changed
    assert len(opened) == 1


def test_without_a_cache_nothing_is_written_twice_either(
    shop: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = campaign(shop)
    handbill.compile(path)
    before = touched(shop.root / "out")
    monkeypatch.setenv("HANDBILL_CACHE", str(tmp_path / "other"))
    assert not handbill.compile(path).changed
    assert touched(shop.root / "out") == before


def test_variants_that_are_gone_are_removed_and_nothing_of_somebody_elses(shop: Any) -> None:
    made = handbill.compile(campaign(shop, arms=("loud",)))
    mine = made.folder / "arm=loud,wording=plain" / "notes.txt"
    mine.write_text("mine")
    (made.folder / "kept").mkdir()
    again = handbill.compile(campaign(shop))
    assert again.removed == tuple(f"arm=loud,wording={one}" for one in ("brief", "plain", "warm"))
    assert [path.name for path in mine.parent.iterdir()] == ["notes.txt"]
    assert (made.folder / "kept").is_dir()
    assert not list(made.folder.glob("arm=loud,wording=warm"))
    assert not [name for name in tree(made.folder) if name.startswith(".")]


def test_some_variants_alone_leave_the_others(shop: Any) -> None:
    path = campaign(shop)
    whole = tree(handbill.compile(path).folder)
    path = campaign(shop, headline="Other")
    some = handbill.compile(path, variants=["arm=control,wording=plain"])
    assert [(one.id, one.written) for one in some.variants] == [("arm=control,wording=plain", True)]
    now = tree(some.folder)
    assert now.keys() == whole.keys()
    assert {name.split("/")[0] for name in now if now[name] != whole[name]} == {"arm=control,wording=plain"}


def test_a_mistake_in_one_variant_writes_none(shop: Any) -> None:
    path = campaign(shop)
    before = tree(handbill.compile(path).folder)
    campaign(shop, headline="Other", arms=("loud",))
    text = path.read_text("utf-8")
    path.write_text(text.replace("loud: {set: {top.headline: loud}}", "loud: {set: {top.headline: '${no}'}}"))
    with pytest.raises(handbill.MistakesError) as caught:
        handbill.compile(path)
    assert "there is no fact `no`" in str(caught.value)
    assert tree(shop.root / "out" / "spring") == before
    assert {path.name for path in (shop.root / "out").iterdir()} == {"spring"}


def test_two_alike_are_a_mistake_unless_intended(shop: Any) -> None:
    path = campaign(shop, arms=("Two",))
    with pytest.raises(handbill.MistakesError) as caught:
        handbill.compile(path)
    (mistake,) = caught.value.mistakes
    assert mistake.place.file == "campaigns/spring.yaml"
    assert "the same as arm=quiet,wording=plain" in mistake.message
    text = path.read_text("utf-8").replace("      Two: {set", "      Two: {same: intended, set")
    path.write_text(text)
    made = handbill.compile(path)
    emls = {(one.folder / "email.eml").read_bytes() for one in made.variants}
    assert len(emls) == len(made.variants)  # each is a message of its own (RFC 5322 section 3.6.4)


HERO = """\
  - block: hero
    id: top
    headline: One
    copy: "Words, ${recipient.first_name or \\"friend\\"}."
    picture: {file: wren.png, alt: "A lamp for ${recipient.first_name or \\"you\\"}"}
    button: {label: Look, link: "/lamps?from=${section.id}"}
"""
SEGMENTS = """\
variants:
  axes:
    segment:
      a: {set: {top.copy: First.}}
      b: {set: {top.copy: Second.}}
      c: {set: {top.picture.file: rook.png}}
      d: {set: {top.button.label: See}}
"""


def test_fields_that_a_patch_leaves_alone_are_looked_up_once(
    shop: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With them come their facts, links and pictures: each mail is what a campaign of its own would be."""
    from handbill.resolve import picture, section

    asked: list[str] = []
    planned, button = picture.planned, section.SectionResolver.button

    def planning(at: Any, value: Any, *more: Any) -> Any:
        asked.append(value.file)
        return planned(at, value, *more)

    def pressing(at: Any, value: Any, *more: Any, **how: Any) -> Any:
        asked.append(value.label)
        return button(at, value, *more, **how)

    monkeypatch.setattr(picture, "planned", planning)
    monkeypatch.setattr(section.SectionResolver, "button", pressing)
    path = shop.campaign(HERO)
    alone = path.read_text("utf-8")
    path.write_text(alone + SEGMENTS, "utf-8")
    made = handbill.compile(path)
    # once for the dialect's voice and once for the sample's
    assert Counter(asked) == {"wren.png": 2, "rook.png": 2, "Look": 2, "See": 2}
    for name, edit in (
        ("a", lambda text: text.replace(text[text.index('"Words') : text.index("\n    picture")], "First.")),
        ("c", lambda text: text.replace("{file: wren.png", "{file: rook.png")),
        ("d", lambda text: text.replace("{label: Look", "{label: See")),
    ):
        file = path.with_name(f"alone-{name}.yaml")
        file.write_text(edit(alone).replace("campaign: spring", f"campaign: alone-{name}"), "utf-8")
        folder = handbill.compile(file).folder / "main"
        own = made.folder / f"segment={name}"
        for part in ("email.html", "email.txt"):
            assert (own / part).read_bytes() == (folder / part).read_bytes()
        for key in ("facts", "links", "pictures"):
            assert (
                json.loads((own / "manifest.json").read_bytes())[key]
                == (json.loads((folder / "manifest.json").read_bytes())[key])
            )
