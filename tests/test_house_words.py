"""House words: every block says every word in each of ten languages, in that language's own way.

Quotation marks are CLDR 48's (`delimiters.json`), French ones with the no-break space of French typography;
scripts are Unicode's; plural categories are CLDR's, by Babel. Whether the words are well chosen only a native
reader can say.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from babel import Locale as Cldr

from handbill.base.errors import Fault
from handbill.base.source import plain, read_yaml
from handbill.library.find import SHARED, built_in

LANGUAGES = ("en", "de", "fr", "es", "it", "nl", "pt", "ja", "ar", "he")
#: CLDR 48, main/LANG/delimiters.json: quotationStart, quotationEnd.
QUOTES = {
    "en": "“”", "de": "„“", "fr": "«»", "es": "“”", "it": "«»", "nl": "‘’", "pt": "“”", "pt-PT": "«»",
    "ja": "「」", "ar": "”“", "he": "””",
}  # fmt: skip
SCRIPTS = {"ja": ("CJK", "HIRAGANA", "KATAKANA", "KATAKANA-HIRAGANA"), "ar": ("ARABIC",), "he": ("HEBREW",)}
# Latin-script languages that write a word just as English does.
SAME = {
    ("email", "it"), ("was", "nl"), ("wrote", "*"), ("how", "*"), ("colon", "*"), ("comma", "*"),
    ("open_quote", "*"), ("close_quote", "*"),
}  # fmt: skip
Table = Mapping[str, Mapping[str, Any]]


def tables() -> Iterator[tuple[str, Table]]:
    """(name, words by language) of the shared macros and of every built-in block that has any."""
    files = [built_in() / SHARED / "macros.yaml", *sorted(built_in().glob("*/block.yaml"))]
    for path in files:
        words = plain(read_yaml(path, path.name).root).get("words")
        if words:
            yield path.parent.name, words


TABLES = dict(tables())


def forms(said: Any) -> list[str]:
    return [said] if isinstance(said, str) else list(said.values())


def each() -> Iterator[tuple[str, str, str, Any]]:
    for name, table in TABLES.items():
        for language, words in table.items():
            for word, said in words.items():
                yield name, language, word, said


def test_blocks_with_words_are_there() -> None:
    assert set(TABLES) == {"shared", "footer-nav", "testimonial"}


@pytest.mark.parametrize("name", TABLES)
def test_every_word_is_said_in_every_language(name: str) -> None:
    table = TABLES[name]
    wanted = set(table["en"])
    for language in LANGUAGES:
        assert set(table[language]) == wanted, language
    for language in set(table) - set(LANGUAGES):  # a region says only what it says otherwise
        family = table[language.split("-")[0]]
        assert set(table[language]) < wanted
        assert all(family[word] != said for word, said in table[language].items())


def test_every_template_word_is_one_of_them() -> None:
    known = {word for table in TABLES.values() for word in table["en"]}
    used = {
        word
        for path in built_in().glob("*/*.j2")
        for word in re.findall(r"\bword\.(\w+)", path.read_text("utf-8"))
    }
    assert used <= known


def test_placeholders_agree() -> None:
    for name, language, word, said in each():
        english = re.findall(r"\{\w+\}", forms(TABLES[name]["en"][word])[-1])
        for text in forms(said):
            assert sorted(re.findall(r"\{\w+\}", text)) == sorted(english), (name, language, word)


def letters(text: str) -> list[str]:
    return [one for one in re.sub(r"\{\w+\}", "", text) if one.isalpha()]


def test_nothing_is_left_in_english_by_accident() -> None:
    for name, language, word, said in each():
        english = set(forms(TABLES[name]["en"][word]))
        for text in forms(said):
            if scripts := SCRIPTS.get(language):
                for one in letters(text):
                    assert unicodedata.name(one).split()[0] in scripts, (language, word, one)
            elif language not in ("en", "en-US") and not {(word, language), (word, "*")} & SAME:
                assert text not in english, (name, language, word)


def test_plural_forms_are_categories_of_the_language() -> None:
    for name, language, word, said in each():
        if not isinstance(said, str):
            categories = {*Cldr.parse(language.replace("-", "_")).plural_form.tags, "other"}
            assert set(said) <= categories, (name, language, word)


def test_quotation_marks_are_cldrs() -> None:
    for language, pair in QUOTES.items():
        words = TABLES["shared"][language]
        space = "\xa0" if language == "fr" else ""
        assert (words["open_quote"], words["close_quote"]) == (pair[0] + space, space + pair[1])


def test_typography() -> None:
    """French sets a no-break space before a colon, Japanese sets none at all (both: their typography)."""
    for name, language, word, said in each():
        for text in forms(said):
            assert text == unicodedata.normalize("NFC", text)
            assert "'" not in text
            assert "..." not in text
            assert word in ("colon", "comma") or text == text.strip() or word.endswith("_quote")
            if language == "fr":
                assert not re.search(r"(?<!\xa0)[:;!?»]", text), (name, word)
            if language == "ja":
                assert not any(one.isspace() for one in text)
                assert not set(":,()") & set(text)
            if language == "ar":
                assert "," not in text


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_text_part_parts_words_as_the_language_does(shop: Any, language: str) -> None:
    stack = "  - {block: product-stack, products: [L-100]}\n  - {block: testimonial, reviews: [R-1]}\n"
    made = shop.compile(stack, f"language: {language}")
    text, words = made.built.text.decode(), TABLES["shared"][language]
    assert any(form + words["colon"] in text for form in forms(words["colours"]))
    assert words["now"] in text
    assert words["comma"] + words["was"] in text
    quote = "Nothing here is unusable and all of it is bright."
    assert words["open_quote"] + quote + words["close_quote"] in text
    foot = TABLES["footer-nav"][language]["unsubscribe"]
    assert foot + words["colon"] in text
    assert foot in made.built.html.decode()
    assert f'aria-roledescription="{words["email"]}"' in made.built.html.decode()


@pytest.mark.parametrize(
    ("language", "one", "two"),
    [
        ("en-IE", "Colour: ", "Colours: "),
        ("en-US", "Color: ", "Colors: "),
        ("fr", "Couleur\xa0: ", "Couleurs\xa0: "),
        ("ar", "اللون: ", "اللونان: "),
        ("ja", "カラー：", "カラー："),
    ],
)
def test_a_word_that_counts_has_the_form_for_its_number(shop: Any, language: str, one: str, two: str) -> None:
    stack = "  - {block: product-stack, products: [L-100]}\n"
    assert f"\n{two}" in shop.compile(stack, f"language: {language}").built.text.decode()
    shop.change("brands/pellow/products.csv", "brass:#c8a04a;black:#101010", "brass:#c8a04a")
    assert f"\n{one}" in shop.compile(stack, f"language: {language}").built.text.decode()


def test_arabic_has_six_forms(shop: Any) -> None:
    """CLDR's plural rules, by Babel: which form is for which number is not ours to know."""
    forms = {form: f"form-{form}" for form in ("zero", "one", "two", "few", "many", "other")}
    said = ", ".join(f"{form}: {text}" for form, text in forms.items())
    shop.change("brands/pellow/brand.yaml", "link_tags", f"words: {{ar: {{colours: {{{said}}}}}}}\nlink_tags")
    seen = set()
    before = "brass:#c8a04a;black:#101010"
    for number in (1, 2, 3, 11, 100):
        colours = ";".join(f"c{n}:#{n:06x}" for n in range(number))
        shop.change("brands/pellow/products.csv", before, colours)
        before = colours
        form = Cldr("ar").plural_form(number)
        text = shop.compile(
            "  - {block: product-stack, products: [L-100]}\n", "language: ar"
        ).built.text.decode()
        assert f"\n{forms[form]}: c0" in text, number
        seen.add(form)
    assert seen == {"one", "two", "few", "many", "other"}  # a product without colours says nothing of them


def test_a_brand_may_say_a_word_in_forms(shop: Any) -> None:
    shop.change(
        "brands/pellow/brand.yaml",
        "link_tags",
        'words: {en: {colours: {one: Shade, other: "In shades"}}}\nlink_tags',
    )
    stack = "  - {block: product-stack, products: [L-100]}\n"
    assert "\nIn shades: brass" in shop.compile(stack).built.text.decode()
    shop.change("brands/pellow/brand.yaml", '{one: Shade, other: "In shades"}', "Glazes")
    assert "\nGlazes: brass" in shop.compile(stack).built.text.decode()


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("{one: Shade}", "the form other is missing"),
        ("{eno: Shade, other: Shades}", "eno is no plural category"),
        ("[Shade]", "a list is no word"),
    ],
)
def test_wrong_forms_are_mistakes_at_their_place(shop: Any, said: str, expected: str) -> None:
    shop.change("brands/pellow/brand.yaml", "link_tags", f"words:\n  en:\n    colours: {said}\nlink_tags")
    (line,) = shop.mistakes("  - {block: copy, copy: A}\n")
    assert re.match(r"brands/pellow/brand\.yaml:1[0-9]:", line)
    assert expected in line


def test_stars_are_counted_in_the_languages_own_digits(shop: Any) -> None:
    stack = "  - {block: testimonial, reviews: [R-1]}\n"
    html = shop.compile(stack, "language: ar-EG").built.html.decode()
    assert "٥ من ٥ نجوم" in html  # CLDR: ar-EG counts in Arabic-Indic digits


def test_a_language_without_words_is_refused() -> None:
    from handbill.resolve.locale import Locale

    with pytest.raises(Fault):
        Locale.load("qq", None)


def test_the_languages_are_documented() -> None:
    text = (Path(__file__).parent.parent / "docs" / "house-style.md").read_text("utf-8")
    assert "native reader" in text
    for name in ("English", "German", "French", "Spanish", "Italian", "Dutch", "Portuguese", "Japanese",
                 "Arabic", "Hebrew"):  # fmt: skip
        assert name in text
