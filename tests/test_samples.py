"""Every block's sample, in every demo shop and in one without catalogue or pictures, in both directions."""

from __future__ import annotations

import re
from pathlib import Path

import html5lib
import pytest
from html5lib.constants import E
from tests.workspaces import block, make

from handbill.apps.samples import Sample, compile_sample, compile_samples, folder, has_sample, visible
from handbill.base.cache import Cache
from handbill.base.errors import MistakesError
from handbill.catalogue import load_products, load_reviews
from handbill.library.find import blocks
from handbill.loader import Loader
from handbill.models.brand import Columns

DEMO = Path(__file__).parents[1] / "demo"
BRANDS = sorted(path.parent.name for path in DEMO.glob("brands/*/brand.yaml"))
PLAIN = """\
handbill: 1
brand: orrowby
name: Orrowby
site: https://orrowby.example
pictures_at: https://pictures.orrowby.example/
currency: JPY
sender: {name: Orrowby, address: letters@orrowby.example}
"""
# What the HTML standard's parser says of any mail: nesting that old readers need, and doctypes of old.
ALLOWED_ERRORS = {"expected-doctype-but-got-start-tag"}


@pytest.fixture(scope="module")
def loader() -> Loader:
    return Loader(DEMO, Cache())


def parse_errors(html: str) -> list[str]:
    """Errors that html5lib, an implementation of the HTML standard's parser, finds."""
    parser = html5lib.HTMLParser()
    parser.parse(html)
    return [f"{at}: {E.get(code, code)}" for at, code, _data in parser.errors if code not in ALLOWED_ERRORS]


@pytest.mark.parametrize("rtl", [False, True], ids=["ltr", "rtl"])
@pytest.mark.parametrize("brand", BRANDS)
def test_every_sample_compiles(loader: Loader, brand: str, rtl: bool) -> None:
    samples = {sample.block: sample for sample in compile_samples(loader, brand, rtl=rtl)}
    assert samples.keys() == visible(loader, brand).keys()
    for sample in samples.values():
        assert parse_errors(sample.built.html.decode()) == []
        assert f'dir="{"rtl" if rtl else "ltr"}"' in sample.html


def test_every_built_in_block_has_a_sample() -> None:
    assert [found.name for found in blocks(()).values() if not has_sample(found)] == []


def test_a_shop_without_anything_shows_the_sample_shop(tmp_path: Path) -> None:
    bare = make(tmp_path, {
        "brands/orrowby/brand.yaml": PLAIN, "brands/orrowby/products.csv": None,
        "brands/orrowby/reviews.csv": None, "brands/orrowby/pictures/one.png": None,
    })  # fmt: skip
    samples = {sample.block: sample for sample in compile_samples(Loader(bare, Cache()), "orrowby")}
    assert "Alder" in samples["product-stack"].text
    assert "¥38" in samples["product-stack"].text.replace("￥", "¥")  # ISO 4217: the yen has no minor unit
    assert any(plan.name.startswith("sample-wide-") for plan in samples["hero"].mail.plans)
    assert "Nell Ashdown" in samples["testimonial"].text


def test_only_the_block_itself_is_shown(loader: Loader) -> None:
    sample = compile_sample(loader, BRANDS[0], visible(loader, BRANDS[0])["copy"])
    assert "Made to be mended" in sample.html
    assert "Unsubscribe" in sample.built.text.decode()
    assert "Unsubscribe" not in sample.html
    assert "Unsubscribe" not in sample.text


def test_a_wrong_sample_names_its_own_line(tmp_path: Path) -> None:
    root = make(tmp_path, {
        **block(), "library/blocks/jotting/sample.yaml": "block: jotting\nword: x\n",
    })  # fmt: skip
    loader = Loader(root, Cache())
    with pytest.raises(MistakesError) as caught:
        compile_sample(loader, "orrowby", visible(loader, "orrowby")["jotting"])
    assert any(
        str(one).startswith("library/blocks/jotting/sample.yaml:2:1:") for one in caught.value.mistakes
    )


def test_a_sample_may_hold_several_sections(tmp_path: Path) -> None:
    several = "sections:\n  - {block: jotting, words: One}\n  - {block: jotting, words: Two}\n"
    root = make(tmp_path, {**block(), "library/blocks/jotting/sample.yaml": several})
    loader = Loader(root, Cache())
    sample: Sample = compile_sample(loader, "orrowby", visible(loader, "orrowby")["jotting"])
    assert re.findall(r"One|Two", sample.text) == ["One", "Two"]


def test_the_sample_shop_is_whole_and_small() -> None:
    products = load_products(Columns(file="products.csv"), folder(), folder(), "EUR", None)
    reviews = load_reviews(Columns(file="reviews.csv"), folder(), folder(), None)
    assert [*products.keys()] == ["S-1", "S-2", "S-3", "S-4", "S-5", "S-6"]
    assert [*reviews.keys()] == ["T-1", "T-2", "T-3", "T-4"]
    for product in map(products.pick, products.keys()):
        assert (folder() / product.picture).is_file()
    for review in map(reviews.pick, reviews.keys()):
        assert products.get(review.product) is not None
    size = sum(path.stat().st_size for path in (folder() / "pictures").iterdir())
    assert size <= 600_000  # the project's own limit
