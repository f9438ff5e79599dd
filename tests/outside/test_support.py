"""All that mails use, against the open support data ("Can I email"): what a main reader lacks is on record.

readers.toml says for each lack what the reader shows instead, and names the test that shows it. Mails are the
demos, every block's sample and every outline. Each part of a feature that the data's notes say is lacking and
the records say is not used is looked for here.
"""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Callable, Iterator
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple

import html5lib
import pytest

from handbill.readers.support import MAIN, features

from .branches import Page, declarations, others, word_processor
from .browser import Reader, View
from .letters import Letter
from .mails import ROOT, Mail
from .uses import used_by_most, used_by_word_processors

RECORDS = tomllib.loads(Path(__file__).with_name("readers.toml").read_text("utf-8"))
CODES = {reader.code: reader for reader in MAIN}
UNUSED = "tests/outside/test_support.py::test_parts_that_are_lacking_are_not_used"


def lacking(by_most: set[str], by_word_processors: set[str]) -> set[tuple[str, str]]:
    """(feature, reader) for each of these features that a main reader lacks, in whole or in part."""
    return {
        (name, reader.code)
        for reader in MAIN
        for name in (by_word_processors if reader.code == "OW" else by_most)
        if name in features() and features()[name].verdict(reader).lacks
    }


def recorded() -> list[tuple[str, str]]:
    return [pair for one in RECORDS["lack"] for pair in product(one["features"], one["readers"])]


@pytest.fixture(scope="session")
def used(letters: list[Letter]) -> tuple[set[str], set[str]]:
    """Names used by readers in general, and by word-processor-based ones."""
    most: set[str] = set()
    theirs: set[str] = set()
    for letter in letters:
        most |= used_by_most(letter.html)
        theirs |= used_by_word_processors(letter.html)
    return most, theirs


def test_every_lack_is_on_record(used: tuple[set[str], set[str]]) -> None:
    found = lacking(*used)
    assert len(found) > 100
    assert sorted(found - set(recorded())) == [], "no record says what is seen instead"
    assert sorted(set(recorded()) - found) == [], "records that nothing needs"
    assert len(recorded()) == len(set(recorded())), "two records of one lack"


def test_a_new_lack_is_found() -> None:
    rules = "p:hover{clip-path:none}"
    html = (
        f"<!DOCTYPE html><html><head><style>{rules}</style></head><body>"
        '<div style="display:flex;object-fit:cover">x<dialog hidden>y</dialog></div></body></html>'
    )
    new = lacking(used_by_most(html), used_by_word_processors(html))
    assert {
        ("css-display-flex", "OW"), ("css-object-fit", "Yw"), ("html-hidden", "Gw"), ("html-dialog", "Gw"),
        ("css-pseudo-class-hover", "OW"), ("css-clip-path", "OW"),
    } <= new - set(recorded())  # fmt: skip


def test_what_the_data_do_not_list_is_on_record(used: tuple[set[str], set[str]]) -> None:
    unlisted = {name for names in used for name in names if name not in features()}
    on_record = [name for one in RECORDS["beyond"] for name in one["names"]]
    assert sorted(unlisted - set(on_record)) == [], "no record says what it is for"
    assert sorted(set(on_record) - unlisted) == [], "records that nothing needs"
    assert len(on_record) == len(set(on_record))


@cache
def functions(file: str) -> set[str]:
    tree = ast.parse((ROOT / file).read_text("utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


def test_every_record_names_a_test() -> None:
    for one in RECORDS["lack"]:
        file, _, test = one["shown_by"].partition("::")
        assert test.startswith("test_"), one
        assert test in functions(file), one
        assert one["instead"].rstrip("*").endswith("."), one


# Parts of features


class Facts(NamedTuple):
    """What all mails say, in either branch: (element, property, value), (element, attribute, value), …"""

    declared: set[tuple[str, str, str]]
    attributes: set[tuple[str, str, str]]
    selectors: set[str]
    media: set[str]
    html: str


@pytest.fixture(scope="session")
def facts(letters: list[Letter]) -> Facts:
    made = Facts(set(), set(), set(), set(), "\n".join(letter.html for letter in letters))
    for letter in letters:
        for html in (others(letter.html), word_processor(letter.html)):
            root = html5lib.parse(html, namespaceHTMLElements=False)
            for element in root.iter():
                for name, value in element.attrib.items():
                    made.attributes.add((str(element.tag), str(name), value))
                style = declarations(element.get("style", ""))
                if style.get("height") == style.get("line-height"):  # a line as high says the same
                    style.pop("height", None)
                made.declared.update((str(element.tag), name, value) for name, value in style.items())
            for style in root.iter("style"):
                text = style.text or ""
                made.media.update(re.findall(r"@media\s*([^{]+?)\s*\{", text))
                for prelude, body in re.findall(r"([^{}]+)\{([^{}]*)\}", text):
                    made.selectors.update(one.strip() for one in prelude.split(","))
                    plain = declarations(re.sub(r"\s*!important", "", body))
                    made.declared.update(("", name, value) for name, value in plain.items())
    return made


def values(facts: Facts, *names: str) -> set[str]:
    return {value for _tag, name, value in facts.declared if name in names}


def outside(found: set[str], pattern: str) -> list[str]:
    return sorted(value for value in found if not re.fullmatch(pattern, value))


ATTRIBUTE_SELECTORS = (
    r"a\[x-apple-data-detectors\]|table\[align=(left|right)\]|\[data-ogs[bc]\] \.\w+|\.\w+\[data-ogsb\]"
)
# What the records call unused: for each feature, the cases that some mail has. There are none.
PARTS: dict[str, Callable[[Facts], list[Any]]] = {
    "css-at-media": lambda facts: outside(
        facts.media, r"only screen and \((min-width:600|max-width:599)px\)|\(prefers-color-scheme:dark\)"
    ),
    "css-background-image": lambda facts: outside(values(facts, "background-image"), r'url\("[^",]+"\)'),
    "css-border-radius": lambda facts: outside(values(facts, "border-radius"), r"[^/]*"),
    "css-clear": lambda facts: outside(values(facts, "clear"), "left|right|both|none"),
    "css-display": lambda facts: outside(
        values(facts, "display"), "none|block|inline|inline-block|table|table-cell"
    ),
    "css-float": lambda facts: outside(values(facts, "float"), "left|right|none"),
    "css-font-size": lambda facts: outside(values(facts, "font-size"), r"[\d.]+px|inherit"),
    "css-font-weight": lambda facts: outside(values(facts, "font-weight"), "[1-9]00|inherit"),
    "css-height": lambda facts: sorted(
        (tag, value)
        for tag, name, value in facts.declared
        if name == "height" and value != "auto" and tag not in ("td", "", "roundrect", "v:roundrect")
    ),
    "css-important": lambda facts: [
        *re.findall(r"!(?!important)(?i:important)", facts.html),
        *re.findall(r"background-image:[^;}]*!important", facts.html),
    ],
    "css-letter-spacing": lambda facts: outside(values(facts, "letter-spacing"), r"-?[\d.]+px|normal"),
    "css-margin": lambda facts: sorted(
        f"{name}:{value}"
        for _tag, name, value in facts.declared
        if name.startswith("margin") and re.search(r"(?<![\w.])-\d", value)
    ),
    "css-outline": lambda facts: outside(values(facts, "outline"), "none"),
    "css-overflow": lambda facts: [
        *outside(values(facts, "overflow"), "hidden|visible"),
        *sorted(name for _tag, name, _value in facts.declared if name.startswith("overflow-")),
    ],
    "css-selector-attribute": lambda facts: outside(
        {one for one in facts.selectors if "[" in one}, ATTRIBUTE_SELECTORS
    ),
    "css-text-align": lambda facts: outside(values(facts, "text-align"), "left|right|center"),
    "css-text-decoration": lambda facts: outside(
        values(facts, "text-decoration"), "none|underline|line-through"
    ),
    "css-text-transform": lambda facts: outside(values(facts, "text-transform"), "none|uppercase"),
    "html-dir": lambda facts: sorted(one for one in facts.attributes if one[:2] == ("a", "dir")),
    "html-lists": lambda facts: sorted(
        one for one in facts.attributes if one[:2] in (("ol", "reversed"), ("li", "value"))
    ),
    "html-style": lambda facts: re.findall(r"<body(?:(?!</body>).)*?<style>", facts.html, re.DOTALL),
    "html-target": lambda facts: sorted(
        one for one in facts.attributes if one[1] == "target" and one[2] != "_blank"
    ),
}


@pytest.mark.parametrize("feature", sorted(PARTS))
def test_parts_that_are_lacking_are_not_used(feature: str, facts: Facts) -> None:
    assert PARTS[feature](facts) == []


def test_every_part_that_a_record_calls_unused_is_looked_for() -> None:
    said = {name for one in RECORDS["lack"] if one["shown_by"] == UNUSED for name in one["features"]}
    assert said == set(PARTS)


def test_parts_that_are_used_are_found() -> None:
    bad = Facts(
        {("p", "margin", "0 -4px"), ("div", "height", "4px"), ("p", "font-size", "2rem")},
        {("ol", "reversed", ""), ("a", "dir", "rtl")},
        {"td[class=x]"},
        {"(max-height:4px)"},
        "p{color:red !IMPORTANT}",
    )
    found = {feature for feature, check in PARTS.items() if check(bad)}
    assert found == {
        "css-margin", "css-height", "css-font-size", "html-lists", "html-dir", "css-selector-attribute",
        "css-at-media", "css-important",
    }  # fmt: skip


# What stands in for a feature


def unsaid(page: Page) -> Iterator[str]:
    """Styles that readers are known to lack, where no attribute says the same.

    Centred paragraphs fill their cell where no width of theirs is read: they need none.
    """
    outermost = page.root.find("body/div/table")
    for element in page.body.iter():
        style = declarations(element.get("style", ""))
        if element.tag == "table":
            if {element.get(name) for name in ("border", "cellpadding", "cellspacing")} != {"0"}:
                yield f"{element.attrib}: spacing"
            if element.get("role") != "presentation":
                yield f"{element.attrib}: no role"
        centred = "center" in (element.get("align"), page.parents[element].get("align"))
        fills = element.get("width") == "100%"
        if element.tag == "table" and "auto" in style.get("margin", "") and not (centred or fills):
            yield f"{element.attrib}: centred by a margin alone"
        colour = style.get("background-color", "")
        chip = element.get("role") == "img"  # its colour comes from the catalogue
        if (
            element.tag in ("td", "table")
            and colour.startswith("#")
            and element.get("bgcolor") != colour
            and not chip
        ):
            yield f"{element.attrib}: bgcolor"
    if outermost is None or outermost.get("bgcolor") != page.body.get("bgcolor"):
        yield "the outermost table has not the page's colour"


def test_attributes_say_what_styles_say(letters: list[Letter]) -> None:
    wrong = {fault: letter.name for letter in letters for fault in unsaid(Page(letter.html))}
    assert wrong == {}
    for letter in letters:  # and where an attribute is not heard, a rule says it
        for side in ("left", "right"):
            assert f"table[align={side}]{{float:{side}}}" in letter.html


def labelled(html: str, name: str) -> Iterator[Any]:
    for element in html5lib.parse(others(html), namespaceHTMLElements=False).iter():
        if element.get(name):
            yield element


def test_labels_stand_beside_words(letters: list[Letter]) -> None:
    """Colour chips aside: there is nothing but a colour."""
    for letter in letters:
        for element in labelled(letter.html, "aria-label"):
            alts = "".join(inner.get("alt", "") for inner in element.iter())
            said = ("".join(element.itertext()) + alts).strip(" \n\u00a0")
            chips = [one for one in element.iter() if "background-color:" in one.get("style", "")]
            assert said or chips, (letter.name, element.attrib)


def test_nothing_that_is_hidden_from_screen_readers_says_anything(letters: list[Letter]) -> None:
    for letter in letters:
        for element in labelled(letter.html, "aria-hidden"):
            assert not re.search(r"[^\W_]", "".join(element.itertext())), (letter.name, element.attrib)


@pytest.mark.parametrize("view", [View(375), View(1000)], ids=str)
def test_it_is_whole_without_a_doctype(campaign: Mail, reader: Reader, view: View) -> None:
    """HTML Standard section 13.2.6.4.1: without a doctype a page is laid out in quirks mode. There a cell's
    height includes its padding (Quirks Mode Standard, table cell height box sizing), so some are lower."""
    seen = []
    for html in (campaign.html, campaign.html.lstrip()[len("<!DOCTYPE html>") :]):
        with reader.open(html, campaign.pictures, view) as opened:
            seen.append((opened.page.evaluate("document.compatMode"), opened.look()))
    (standard, first), (quirks, second) = seen
    assert (standard, quirks) == ("CSS1Compat", "BackCompat")
    assert second["visible"] == first["visible"] != []
    assert second["overflow"][0] <= second["overflow"][1]
    assert second["clipped"] == second["covered"] == []
