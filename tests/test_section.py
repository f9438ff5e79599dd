"""Sections resolved: rows of the catalogue, house words, pictures and links; every fault at its own line."""

from __future__ import annotations

import re
from typing import Any

import pytest

from handbill.base.errors import Fault
from handbill.resolve.quote import check_quote

PRODUCTS = (
    '  - block: product-stack\n    button: {label: "Buy the ${product.kind}"}\n    products: [L-100, L-200]\n'
)
HERO = "  - block: hero\n    headline: {headline}\n    picture: {{file: wren.png, alt: A lamp}}\n"


def fields(compiled: Any, number: int = 0) -> Any:
    return compiled.mail.sections[number].tagged


def test_an_item_takes_button_link_and_facts_from_the_section(shop: Any) -> None:
    made = shop.compile(PRODUCTS)
    wren, rook = fields(made)["products"]
    assert wren.button.label.plain == "Buy the lamp"
    assert wren.button.link.plain == "https://pellow.example/lamps/wren?from=letter&part=product-stack"
    assert rook.button.link.plain == "https://pellow.example/lamps/rook?from=letter&part=product-stack"
    # en-IE in CLDR: the euro sign before, no space
    assert (wren.price.plain, wren.was.plain, rook.price.plain, rook.was) == (
        "€40.00",
        "€80.00",
        "€30.50",
        None,
    )
    assert wren.colour_names.plain == "brass and black"
    assert made.mail.facts["product.kind", "L-100"] == "lamp"
    assert [wren.side, rook.side] == ["start", "end"]


def test_an_items_own_button_wins(shop: Any) -> None:
    own = "  - block: product-stack\n    button: {label: Buy, link: /sale}\n    products:\n" + (
        "      - {sku: L-100, button: {label: Look}}\n      - {sku: L-200, button: {link: /rook}}\n"
    )
    wren, rook = fields(shop.compile(own))["products"]
    assert (wren.button.label.plain, rook.button.label.plain) == ("Look", "Buy")
    assert wren.button.link.plain.startswith("https://pellow.example/sale?")
    assert rook.button.link.plain.startswith("https://pellow.example/rook?")


def test_a_linked_picture_always_says_something(shop: Any) -> None:
    wren, rook = fields(shop.compile(PRODUCTS))["products"]
    assert (wren.picture.alt.plain, rook.picture.alt.plain) == ("A brass lamp", "Rook")


def test_prices_in_words_beside_the_struck_one(shop: Any) -> None:
    assert "now €40.00, was €80.00" in shop.compile(PRODUCTS).built.text.decode()


@pytest.mark.parametrize(
    ("stack", "expected"),
    [
        (PRODUCTS.replace("L-200", "L-2OO"), ":9:23: stack[0] product-stack, products[1]: no product L-2OO"),
        (HERO.format(headline="${offer.best_percnt}"), ":8:15: stack[0] hero, headline: there is no fact"),
        (
            HERO.format(headline="X").replace("wren", "wran"),
            "no picture wran.png in brands/pellow/pictures; nearest: wren",
        ),
        (
            HERO.format(headline="X").replace(", alt: A lamp", ""),
            ":9:14: stack[0] hero, picture: wren.png has no alt",
        ),
        (
            HERO.format(headline="X").replace("alt: A lamp", "decorative: true, link: /x"),
            "cannot be decorative",
        ),
        (HERO.format(headline="X").replace("lamp}", "lamp, focus: left}"), "'left' is not a focal point"),
        (HERO.format(headline="X") + "    overlap: 900\n", "an overlap of 900 px"),
        (HERO.format(headline="X") + "    overlap: 12.5\n", ":10:14: stack[0] hero, overlap: 12.5 is not"),
        (HERO.format(headline="X") + "    overlap: 1e999999\n", "expected a whole number, at most 9999"),
        (
            HERO.format(headline="X") + "    button: {label: Go}\n",
            ":10:13: stack[0] hero, button: link is missing",
        ),
        (
            HERO.format(headline="X") + "    button: {label: Go, link: 'javascript:x'}\n",
            "links to javascript:",
        ),
        (
            HERO.format(headline="X") + "    copy: 'See [it](data:x)'\n",
            ":10:11: stack[0] hero, copy: links to data:",
        ),
        (
            HERO.format(headline="X") + "    copy: Hi ${recipient.frist_name}\n",
            "nearest: recipient.first_name",
        ),
        (HERO.format(headline='"a\\u0007"'), "U+0007"),
        ("  - block: testimonial\n    reviews: [{id: R-1, quote: all of it}, {id: R-9}]\n", "no review R-9"),
        (
            "  - block: testimonial\n    reviews: [{id: R-1, quote: all of this is}]\n",
            "reviews[0].quote: the quote is not",
        ),
    ],
)
def test_faults_stand_at_their_value(shop: Any, stack: str, expected: str) -> None:
    (line,) = shop.mistakes(stack)
    assert line.startswith("campaigns/spring.yaml:")
    assert expected in line


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("Wren", "Wr\x07en", "products.csv:2:1: product L-100, name: the text holds the character U+0007"),
        ("Bright and", "Bright\x0b", "product L-100, copy"),
        ("brass:", "br\x1bss:", "product L-100, colours"),
        ("A brass lamp", "A \x85lamp", "product L-100, alt"),
        ("/lamps/wren", "javascript:x", "products.csv:2:1: product L-100, link: links to javascript:"),
        ("/lamps/wren", "https://[x/", "product L-100, link"),
    ],
)
def test_cells_that_mail_may_not_hold_stand_at_their_row(
    shop: Any, old: str, new: str, expected: str
) -> None:
    shop.change("brands/pellow/products.csv", old, new)
    lines = shop.mistakes(PRODUCTS)
    assert len(lines) == 1, lines
    assert lines[0].startswith("brands/pellow/products.csv:2:")
    assert expected.removeprefix("products.csv:2:1: ") in lines[0]


def test_a_file_that_cannot_be_read_is_one_mistake(shop: Any) -> None:
    shop.change("brands/pellow/products.csv", "40,80", "40,8O")
    (line,) = shop.mistakes(PRODUCTS)
    assert line.startswith("brands/pellow/products.csv:2:")


def test_reviews_cells_too(shop: Any) -> None:
    shop.change("brands/pellow/reviews.csv", "Nan Ashe", "Nan \x08Ashe")
    (line,) = shop.mistakes("  - block: testimonial\n    reviews: [R-1]\n")
    assert line.startswith("brands/pellow/reviews.csv:2:")
    assert "review R-1, name" in line


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("[our site](/letters)", "[our site](ftp://x)", "legal: links to ftp:"),
        ("link: /lamps}", "link: 'data:x'}", "navigation[0].link: links to data:"),
        ("logo.png", "lego.png", "logo: no picture lego.png"),
        ('"${section.id}"', '"${section.idd}"', "link_tags.part: there is no fact `section.idd`"),
        ('"${section.id}"', '"${recipient.ref}"', "link_tags.part: a link tag is the same for every reader"),
        ("name: Pellow\nsite", 'name: "Pel\\u0001low"\nsite', "name: the text holds the character U+0001"),
    ],
)
def test_faults_of_the_brand_stand_in_its_file(shop: Any, old: str, new: str, expected: str) -> None:
    shop.change("brands/pellow/brand.yaml", old, new)
    lines = shop.mistakes(PRODUCTS)
    assert any(line.startswith("brands/pellow/brand.yaml:") and expected in line for line in lines), lines
    assert len(lines) == len(set(lines))


def test_a_review_is_shown_as_it_was_written(shop: Any) -> None:
    made = shop.compile("  - block: testimonial\n    reviews: [{id: R-1, quote: all of it is bright}, R-2]\n")
    first, second = fields(made)["reviews"]
    assert first.quoted.plain == "\u201call of it is bright\u201d"
    assert first.who.plain == "Nan Ashe, Corrin"
    assert (first.stars.plain, first.stars_words.plain) == ("★★★★★", "5 out of 5 stars")
    assert first.verified.plain == "order number"
    assert (second.who.plain, second.stars, second.verified) == ("Tom Vale", None, None)
    # a claim of verification that the file does not make would deceive the reader
    assert made.built.text.decode().count("Verified") == 1


@pytest.mark.parametrize("quote", ["usable", "Nothing here is un", "bright and all", "nothing here"])
def test_a_cut_word_is_not_the_customers(quote: str) -> None:
    with pytest.raises(Fault):
        check_quote(quote, "Nothing here is unusable and all of it is bright.", "R-1")


@pytest.mark.parametrize("quote", ["unusable", "Nothing here", "bright.", "all of it is bright"])
def test_whole_words_are(quote: str) -> None:
    check_quote(quote, "Nothing here is unusable\nand all of  it is bright.", "R-1")


def test_house_words_reach_no_objects(shop: Any) -> None:
    words = 'words: {en: {wrote: "{name.__class__} {place}"}}\n'
    shop.change("brands/pellow/brand.yaml", "legal:", words + "legal:")
    made = shop.compile("  - block: testimonial\n    reviews: [R-1]\n")
    assert fields(made)["reviews"][0].who.plain == "{name.__class__} Corrin"


def test_the_brands_defaults_stand_in(shop: Any) -> None:
    shop.change("brands/pellow/brand.yaml", "legal:", "blocks: {product-stack: {now_word: unsaid}}\nlegal:")
    assert fields(shop.compile(PRODUCTS))["now_word"] == "unsaid"
    explicit = PRODUCTS + "    now_word: said\n"
    assert fields(shop.compile(explicit))["now_word"] == "said"


def test_text_that_a_dialect_would_read_is_guarded_in_every_part(shop: Any) -> None:
    shop.change("brands/pellow/products.csv", "Wren,lamp", "Wr{{en,lamp")
    made = shop.compile(PRODUCTS)
    assert "Wr{{en" not in made.built.html.decode()
    assert "Wr{{en" not in made.built.text.decode()
    assert "Wr{{en" in "".join(piece for piece in made.mail.sections[0].sampled["products"][0].name.plain)


def test_no_label_stands_alone_in_the_text(shop: Any) -> None:
    text = shop.compile(PRODUCTS).built.text.decode()
    assert not re.search(r"^[^\n:]*:\s*$", text, re.MULTILINE)
    assert "\n\n\n" not in text
    order = [text.index(word) for word in ("Wren", "Rook", "Lamps", "4 Tin Lane", "Unsubscribe")]
    assert order == sorted(order)
