"""Every outline in every demo shop, in both directions; and what it does for a shop that lacks things."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml
from tests.workspaces import make

from handbill.apps.outline import TO_WRITE, Stock, about, draft, outlines, stock
from handbill.apps.samples import folder
from handbill.base.cache import Cache
from handbill.base.errors import MistakesError, Place
from handbill.base.source import parse_yaml
from handbill.brand.parts import load_brand
from handbill.library.find import SHARED, blocks, built_in
from handbill.loader import Loader
from handbill.pipeline import render, resolve_doc

DEMO = Path(__file__).parents[1] / "demo"
BRANDS = sorted(path.parent.name for path in DEMO.glob("brands/*/brand.yaml"))
NAMES = sorted(path.stem for path in (built_in() / SHARED / "outlines").glob("*.yaml"))
STACK = "stack:\n  - block: product-stack\n    products:\n"
EMPTY = Stock((), (), (), {}, ())
SAMPLE_NAMES = re.compile(r"\b(?:[ST]-\d\b|sample-[a-z]+\.)")


@pytest.fixture(scope="module")
def loader() -> Loader:
    return Loader(DEMO, Cache())


def text_of(loader: Loader, outline: str, brand: str) -> str:
    parts = load_brand(loader, brand, Place("--brand"))
    source = outlines(loader)[outline].read_text("utf-8")
    return draft(source, outline, "mine", brand, stock(loader, parts)).text


def test_the_ten_are_there() -> None:
    assert sorted([
        "last-chance-sale", "feature-with-testimonials", "welcome-with-code", "launch", "back-in-stock",
        "left-behind-basket", "win-back", "after-purchase", "seasonal-guide", "plain-letter",
    ]) == NAMES  # fmt: skip


@pytest.mark.parametrize("brand", BRANDS)
@pytest.mark.parametrize("outline", NAMES)
def test_every_outline_compiles_as_it_is(loader: Loader, outline: str, brand: str) -> None:
    text = text_of(loader, outline, brand)
    assert not SAMPLE_NAMES.search(re.sub(r"#.*", "", text))
    for direction in ("ltr", "rtl"):
        doc = parse_yaml(f"{text}dir: {direction}\n".encode(), "campaigns/mine.yaml")
        built = render(resolve_doc(loader, doc))
        assert f'dir="{direction}"' in built.html.decode()
    # PyYAML, another reader of the same file, finds the same stack
    blocks_there = [one.get("block") or one["standing"] for one in yaml.safe_load(text)["stack"]]
    assert blocks_there[0] == "masthead"
    assert blocks_there[-1] == "footer"


@pytest.mark.parametrize("outline", NAMES)
def test_an_outline_compiles_with_the_sample_shop(loader: Loader, outline: str) -> None:
    source = outlines(loader)[outline].read_text("utf-8").replace("brand: sample", f"brand: {BRANDS[0]}")
    render(resolve_doc(loader, parse_yaml(source.encode(), outline), samples=folder()))


@pytest.mark.parametrize("outline", NAMES)
def test_comments_say_why_and_what_is_common_practice(loader: Loader, outline: str) -> None:
    path = outlines(loader)[outline]
    text = path.read_text("utf-8")
    assert about(path)
    if outline != "plain-letter":
        assert "common practice" in text
    assert len(re.findall(r"^ *#", text, re.M)) >= 3
    assert max(map(len, text.splitlines())) <= 120
    kept = draft(text, outline, "mine", "shop", EMPTY).text
    for line in text.splitlines():
        if line.lstrip().startswith("#"):
            assert line in kept.splitlines()


@pytest.mark.parametrize("outline", NAMES)
def test_a_shop_without_anything_gets_what_can_stand(tmp_path: Path, outline: str) -> None:
    bare = "handbill: 1\nbrand: orrowby\nname: Orrowby\nsite: https://o.example\npictures_at: https://p.example/\nsender: {name: O, address: o@o.example}\n"  # noqa: E501
    root = make(tmp_path, {
        "brands/orrowby/brand.yaml": bare, "brands/orrowby/pictures/one.png": None,
    })  # fmt: skip
    loader = Loader(root, Cache())
    parts = load_brand(loader, "orrowby", Place("--brand"))
    made = draft(outlines(loader)[outline].read_text("utf-8"), outline, "x", "orrowby", stock(loader, parts))
    render(resolve_doc(loader, parse_yaml(made.text.encode(), "campaigns/x.yaml")))
    shows = {"product-stack", "product-strip", "testimonial"}
    assert not shows & {one.get("block") for one in yaml.safe_load(made.text)["stack"]}
    if outline != "plain-letter":
        assert any("commented out" in line for line in made.missing)


def test_products_and_reviews_are_the_shops_own(loader: Loader) -> None:
    stack = yaml.safe_load(text_of(loader, "feature-with-testimonials", "orrowby"))["stack"]
    parts = load_brand(loader, "orrowby", Place("--brand"))
    has = stock(loader, parts)
    (shown,) = [one for one in stack if one.get("block") == "testimonial"]
    assert len(set(shown["reviews"])) == 3
    feature = next(one for one in stack if one.get("block") == "product-stack")["products"][0]["sku"]
    assert has.said[shown["reviews"][0]] == feature  # people speak of what is shown


def test_reduced_products_come_first_in_a_sale(loader: Loader) -> None:
    text = STACK + "      - S-1\n      - S-2\n"
    has = Stock(("A-1", "B-2", "C-3"), ("C-3",), (), {}, ())
    plain = draft(text, "o", "c", "b", has).text
    sale = draft("offer: {kind: markdown}\n" + text, "o", "c", "b", has).text
    assert [*yaml.safe_load(plain)["stack"][0]["products"]] == ["A-1", "B-2"]
    assert [*yaml.safe_load(sale)["stack"][0]["products"]] == ["C-3", "A-1"]


def test_items_beyond_the_catalogue_are_commented_out() -> None:
    text = (
        "stack:\n  - block: product-stack\n    products:\n      - S-1\n      - {sku: S-2, layout: feature}\n"
    )
    made = draft(text, "o", "c", "b", Stock(("A-1",), (), (), {}, ()))
    assert yaml.safe_load(made.text)["stack"][0]["products"] == ["A-1"]
    assert "# " in made.text.splitlines()[-1]
    assert made.missing == ()


def test_odd_names_stay_whole() -> None:
    text = "stack:\n  - block: product-stack\n    products: [S-1, S-2]\n"
    skus = ('no: "1", x', "0123")
    made = draft(text, "o", "c", "b", Stock(skus, (), (), {}, ()))
    root = parse_yaml(made.text.encode(), "o").root
    assert [node.value for node in root.value[0][1].value[0].value[1][1].value] == list(skus)


def test_a_scene_brings_its_dark_twin_and_asks_for_its_alt_text() -> None:
    text = 'stack:\n  - block: hero\n    picture: {file: sample-wide.jpg, alt: "A jug, and more"}  # why\n'
    made = draft(text, "o", "c", "b", Stock((), (), (), {}, (("sun rise.jpg", "sun rise-dark.jpg", ""),)))
    picture = yaml.safe_load(made.text)["stack"][0]["picture"]
    assert picture == {"file": "sun rise.jpg", "dark": "sun rise-dark.jpg", "alt": TO_WRITE}
    assert made.text.rstrip().endswith("# why")
    assert made.missing == ("sun rise.jpg: its alt text is to be written (line 3)",)


def test_a_workspaces_own_outline_hides_the_built_in_one(tmp_path: Path) -> None:
    own = "# Ours: two words.\nhandbill: 1\nstack:\n  - block: copy\n"
    root = make(tmp_path, {"library/outlines/launch.yaml": own, "library/outlines/ours.yaml": own})
    found = outlines(Loader(root, Cache()))
    assert about(found["launch"]) == "two words."
    assert set(found) == {*NAMES, "ours"}


def test_an_outline_without_a_stack_is_a_mistake() -> None:
    with pytest.raises(MistakesError, match="the stack holds no section"):
        draft("handbill: 1\n", "library/outlines/x.yaml", "c", "b", EMPTY)


def test_outlines_use_blocks_that_exist() -> None:
    known = blocks(())
    for name in NAMES:
        stack = yaml.safe_load((built_in() / SHARED / "outlines" / f"{name}.yaml").read_text("utf-8"))[
            "stack"
        ]
        assert {one["block"] for one in stack if "block" in one} <= known.keys()
