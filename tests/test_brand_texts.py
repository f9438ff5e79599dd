"""What a shop says otherwise in a language: texts/LANG.yaml beside its brand.yaml."""

from __future__ import annotations

from tests.conftest import Shop

STACK = "  - {block: product-stack, products: [L-100]}\n"
GERMAN = """\
handbill: 1
legal: Sie haben diese Briefe bestellt.
navigation:
  - {label: Lampen, link: /de/lampen}
logo: {alt: "Pellow, Lampen"}
products: {file: products-de.csv}
"""
PRODUCTS = "sku,name,kind,price,was,picture,link\nL-100,Zaunkönig,Lampe,40,80,wren.png,/de/zaunkoenig\n"


def german(shop: Shop) -> None:
    shop.put("brands/pellow/texts/de-DE.yaml", GERMAN)
    shop.put("brands/pellow/products-de.csv", PRODUCTS)


def test_a_mail_in_german_has_the_shops_german_words(shop: Shop) -> None:
    german(shop)
    made = shop.compile(STACK, "language: de-DE")
    html = made.built.html.decode()
    for text in (
        "Sie haben diese Briefe bestellt.",
        "Lampen</a>",
        "/de/lampen",
        'alt="Pellow, Lampen"',
        "Zaunkönig",
    ):
        assert text in html, text
    assert "You asked" not in html
    assert "Wren" not in html


def test_other_languages_keep_the_brands_own(shop: Shop) -> None:
    german(shop)
    for head in ("", "language: en-GB"):
        html = shop.compile(STACK, head).built.html.decode()
        assert "You asked for these letters" in html
        assert "Zaunkönig" not in html


def test_a_parents_words_hold_for_its_children(shop: Shop) -> None:
    german(shop)
    shop.put("brands/tern/brand.yaml", "handbill: 1\nbrand: tern\nextends: pellow\nname: Tern\n")
    made = shop.compile(STACK, "language: de-DE\nbrand: tern")
    assert b"Sie haben diese Briefe bestellt." in made.built.html
    shop.put("brands/tern/texts/de-DE.yaml", "handbill: 1\nlegal: Von Tern.\n")
    again = shop.compile(STACK, "language: de-DE\nbrand: tern")
    assert b"Von Tern." in again.built.html
    assert b"Zaunk" in again.built.html


def test_what_is_wrong_has_its_line_there(shop: Shop) -> None:
    shop.put("brands/pellow/texts/de-DE.yaml", "handbill: 1\ncurrency: CHF\nbrand: tern\n")
    assert shop.mistakes(STACK, "language: de-DE") == [
        "brands/pellow/texts/de-DE.yaml:2:1: currency is the same in every language; expected fields of "
        "brand.yaml that this language changes",
        "brands/pellow/texts/de-DE.yaml:3:1: brand is the same in every language; expected fields of "
        "brand.yaml that this language changes",
    ]
    shop.put("brands/pellow/texts/de-DE.yaml", "handbill: 1\nlegla: Ja\n")
    (line,) = shop.mistakes(STACK, "language: de-DE")
    assert line.startswith("brands/pellow/texts/de-DE.yaml:2:1: legla: unknown field legla; expected one of ")
    assert line.endswith("; nearest: legal")
    shop.put("brands/pellow/texts/de-DE.yaml", "legal: Ja\n")
    assert shop.mistakes(STACK, "language: de-DE") == [
        "brands/pellow/texts/de-DE.yaml:1:1: handbill: handbill is missing; expected handbill: 1"
    ]


def test_a_language_is_no_way_out_of_the_folder(shop: Shop) -> None:
    shop.put("brands/pellow/secret.yaml", "handbill: 1\nlegal: Ja\n")
    assert "language: '../secret' is not a language" in shop.mistakes(STACK, "language: ../secret")[0]
