"""The document around the sections, as an HTML parser that is not ours reads it (html5lib)."""

from __future__ import annotations

import re
from typing import Any

import html5lib
import pytest

ONE = "  - block: copy\n    headline: One\n    copy: First words.\n"


def parsed(html: bytes) -> Any:
    parser = html5lib.HTMLParser(namespaceHTMLElements=False, strict=False)
    tree = parser.parse(html)
    assert parser.errors == []
    return tree


@pytest.fixture
def html(shop: Any) -> bytes:
    head = "preheader: Read <this> & that\nsubject: One & <two>"
    made = shop.compile(ONE, head)
    content: bytes = made.built.html
    return content


def test_the_head_says_what_it_must(html: bytes) -> None:
    tree = parsed(html)
    assert tree.get("lang") == "en-IE"
    assert tree.get("dir") == "ltr"
    assert tree.find("head/title").text == "One & <two>"
    names = {meta.get("name"): meta.get("content") for meta in tree.iter("meta")}
    assert names["viewport"] == "width=device-width, initial-scale=1"
    assert names["x-apple-disable-message-reformatting"] == ""
    assert names["color-scheme"] == names["supported-color-schemes"] == "light dark"
    assert "telephone=no" in names["format-detection"]
    assert tree.find("head/meta").get("charset") == "utf-8"


def test_body_has_no_class(html: bytes) -> None:
    # a webmail scopes every rule by it and loses them all (found by running real readers)
    assert parsed(html).find("body").get("class") is None


def test_the_preheader_is_hidden_and_followed_by_filler(html: bytes) -> None:
    first, filler, article = parsed(html).findall("body/div")
    assert first.text == "Read <this> & that"
    for hidden in (first, filler):
        assert {"display:none", "max-height:0", "overflow:hidden", "mso-hide:all"} <= set(
            hidden.get("style").split(";")
        )
    assert filler.get("aria-hidden") == "true"
    assert first.get("aria-hidden") is None
    assert (article.get("role"), article.get("aria-label"), article.get("lang")) == (
        "article",
        "One & <two>",
        "en-IE",
    )


def test_no_preheader_no_hidden_text(shop: Any) -> None:
    assert len(parsed(shop.compile(ONE).built.html).findall("body/div")) == 1


def test_what_hides_from_readers_is_balanced(html: bytes) -> None:
    text = html.decode()
    # conditional comments for word-processor readers: each opening has its end, none inside another
    marks = re.findall(r"<!--\[if [^\]]*\]>|<!\[endif\]-->|<!--<!\[endif\]-->", text)
    assert len(marks) % 2 == 0
    assert all(("endif" in mark) is bool(at % 2) for at, mark in enumerate(marks))
    assert text.count("<table") == text.count("</table>")
    assert text.count("<td") == text.count("</td>")


def test_rules_stand_in_several_elements_in_fixed_order(shop: Any) -> None:
    shop.change(
        "brands/pellow/brand.yaml", "legal:", 'colours: {text: {light: "#101010", dark: "#f0f0f0"}}\nlegal:'
    )
    styles = [style.text for style in parsed(shop.compile(ONE).built.html).iter("style")]
    assert ["@media only screen" in one for one in styles].count(True) == 1
    starts = [one.strip().split("{")[0].split(" .")[0] for one in styles]
    assert starts[0] == ":root"
    assert starts[-2] == "@media (prefers-color-scheme:dark)"
    assert starts[-1].startswith("[data-ogs")
    # every rule of theirs must win over the element's own style
    for one in styles[1:]:
        assert all(
            part.endswith("!important")
            for rule in re.findall(r"\{([^{}]*)\}", one)
            for part in rule.split(";")
        )


def test_right_to_left_mails_say_so_throughout(shop: Any) -> None:
    made = shop.compile(ONE, "dir: rtl")
    tree = parsed(made.built.html)
    assert tree.get("dir") == "rtl"
    assert {one.get("dir") for one in tree.iter() if one.get("dir")} == {"rtl"}


def test_web_fonts_are_kept_from_word_processors(shop: Any) -> None:
    font = "web_fonts: [{family: Tin, link: 'https://pellow.example/tin.woff2'}]\n"
    shop.change("brands/pellow/brand.yaml", "legal:", font + "legal:")
    text = shop.compile(ONE).built.html.decode()
    before, _, after = text.partition("@font-face")
    assert before.rstrip().endswith("<!--[if !mso]><!-->\n<style>")
    assert after.partition("</style>")[2].lstrip().startswith("<!--<![endif]-->")


def test_a_web_font_names_its_substitute_for_word_processors(shop: Any) -> None:
    # the engine takes no other font of a list than the first (support data, css-at-font-face)
    own = """\
web_fonts: [{family: Tin, link: 'https://pellow.example/tin.woff2'}]
type: {title: {face: "'Tin', Georgia, serif"}, text: {face: "Tin, Arial, sans-serif"}}
legal:"""
    shop.change("brands/pellow/brand.yaml", "legal:", own)
    text = shop.compile(ONE).built.html.decode()
    rules = re.findall(r"@font-face\{(.*?)\}", re.sub(r"<!--\[if !mso\].*?endif\]-->", "", text, flags=re.S))
    assert len(rules) == 1
    assert re.fullmatch(
        r"font-family:'Tin';mso-font-alt:(Arial;mso-generic-font-family:swiss|Georgia;mso-generic-font-family:roman)",
        rules[0],
    )


def test_a_first_font_that_windows_lacks_names_its_substitute_too(shop: Any) -> None:
    # of two substitutes the first that Windows has, for the engine runs there; Arial itself needs none
    own = """\
type:
  title: {face: "'Hiragino Mincho ProN', 'Songti TC', 'Yu Mincho', Georgia, serif"}
  text: {face: "Arial, Helvetica, sans-serif"}
legal:"""
    shop.change("brands/pellow/brand.yaml", "legal:", own)
    text = shop.compile(ONE).built.html.decode()
    rules = re.findall(r"@font-face\{(.*?)\}", text)
    assert rules == [
        "font-family:'Hiragino Mincho ProN';mso-font-alt:'Yu Mincho';mso-generic-font-family:roman"
    ]
    assert text.partition("@font-face")[0].rstrip().endswith("<!--[if mso]>\n<style>")
