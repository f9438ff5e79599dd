"""The support data and how they are read. Source: the open data "Can I email", file of 2025-09-09."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

import handbill.readers.support as module
from handbill.readers.names import (
    at_rule_names,
    attribute_names,
    element_name,
    property_name,
    selector_name,
    value_names,
)
from handbill.readers.recorded import recorded
from handbill.readers.support import MAIN, UNTESTED, features, newest

# Verdicts of the file of that date, newest version of each reader, read off without this loader.
TWELVE = ("AM", "Ai", "Gw", "Ga", "OW", "OM", "OC", "Oa", "Yw", "Al", "Sa", "Tb")
TABLE = """\
html-table y|y|y|y|y|y|y|y|y|y|y|y
html-width y|y|y|y|a|y|y|y|y|y|y|y
html-align y|y|y|y|y|a|y|y|y|y|y|y
html-background y|y|y|a|a|y|y|y|y|y|y|y
html-role y|y|y|y|y|y|y|y|a|a|y|y
html-lang y|y|y|y|y|y|y|y|a|a|y|y
html-style y|y|a|a|a|y|y|y|y|y|y|y
html-link y|y|n|n|y|n|n|n|n|n|n|n
html-doctype y|y|y|y|n|y|y|y|y|y|n|n
html-semantics y|y|a|a|n|a|a|a|n|n|y|y
html-srcset y|y|n|n|n|n|n|n|n|n|y|y
html-picture a|y|n|n|n|n|n|n|n|n|y|y
html-svg a|y|n|n|n|n|n|n|n|n|y|y
html-mailto-links y|y|y|y|y|y|y|y|y|y|y|y
html-aria-hidden y|y|y|y|y|y|y|y|n|n|y|n
html-meta-color-scheme y|n|n|n|n|n|n|n|n|n|n|y
css-background-color y|y|y|y|y|y|y|y|y|y|y|y
css-background-image y|y|y|y|n|y|y|y|a|a|y|y
css-linear-gradient y|y|y|a|n|n|n|n|n|n|a|y
css-border y|y|y|y|a|y|y|y|y|y|y|y
css-border-radius y|y|y|y|n|y|y|y|a|a|y|y
css-box-shadow y|y|n|a|n|y|y|y|n|n|y|y
css-padding y|y|y|y|a|y|y|y|y|y|y|y
css-margin y|y|a|a|a|a|a|a|a|a|y|y
css-width y|y|y|y|a|y|y|y|y|y|y|y
css-max-width y|y|y|y|a|y|y|y|y|y|y|y
css-display-none y|y|y|y|a|y|y|y|y|y|y|y
css-display-flex y|y|y|a|n|y|y|y|y|y|y|y
css-display-grid y|y|n|n|n|y|y|n|n|n|y|y
css-float y|y|y|a|n|y|y|y|a|a|y|y
css-font-weight y|y|y|y|a|y|y|y|a|a|y|y
css-at-font-face y|y|n|n|a|n|n|n|n|n|y|y
css-line-height y|y|y|y|a|y|y|y|y|y|y|y
css-important y|y|a|a|a|y|y|y|a|a|y|y
css-rgba y|y|a|a|n|y|y|y|a|a|y|y
css-unit-rem y|y|y|y|n|y|y|y|n|n|y|y
css-variables y|y|n|n|n|n|n|n|n|n|y|y
css-at-media y|y|a|a|n|a|a|a|a|a|a|n
css-at-media-prefers-color-scheme y|y|n|n|n|y|y|y|n|n|y|n
css-color-scheme y|y|n|n|n|n|n|n|n|n|y|y
css-pseudo-class-hover y|y|y|a|n|a|a|y|y|y|y|y
image-jpg y|y|y|y|y|y|y|y|y|y|y|y
image-png y|y|y|y|y|y|y|y|y|y|y|y
image-gif y|y|y|y|a|y|y|y|y|y|y|y
image-webp y|y|a|a|n|y|y|y|y|y|y|y
image-avif y|y|a|a|n|y|y|y|y|y|y|y
image-svg y|y|n|a|y|y|y|y|y|y|y|y
image-base64 y|y|n|n|a|y|y|y|y|y|y|y
"""


def row(slug: str) -> str:
    return "|".join(features()[slug].verdict(reader).mark for reader in MAIN)


@pytest.mark.parametrize("line", TABLE.splitlines(), ids=lambda line: line.partition(" ")[0])
def test_each_row_of_the_published_table(line: str) -> None:
    slug, expected = line.split()
    assert row(slug) == expected


def test_the_readers_of_the_table() -> None:
    assert [reader.code for reader in MAIN] == [*TWELVE]


def test_only_what_may_be_passed_on_is_kept() -> None:
    data = json.loads(Path(module.__file__).with_name("support.json").read_text("utf-8"))
    assert data["about"] == {"api_version": "1.0.4", "last_update_date": "2025-09-09 18:08:06 +0000"}
    assert len(data["features"]) == 302
    kept = {"slug", "title", "category", "last_test_date", "stats"}
    assert {frozenset(feature) for feature in data["features"]} == {frozenset(kept)}
    assert "http" not in json.dumps(data)  # no address of anyone's tests
    assert "MIT License" in Path(module.__file__).with_name("NOTICE.txt").read_text("utf-8")


def test_the_newest_is_the_latest_month_or_the_last_one_listed() -> None:
    assert newest(["2019-10", "2023-12"]) == "2023-12"
    assert newest(["2023-12", "2019-10"]) == "2023-12"
    assert newest(["2007", "2016", "2019"]) == "2019"
    assert newest(["2019-10", "16.80"]) == "16.80"  # a year would win a comparison of numbers
    lists = [
        list(versions)
        for feature in features().values()
        for platforms in feature.stats.values()
        for versions in platforms.values()
    ]
    months = [one for one in lists if all(re.fullmatch(r"\d{4}-\d\d", version) for version in one)]
    assert sum(newest(one) != one[-1] for one in months) == 6


def test_notes_are_told_from_the_mark() -> None:
    web = next(reader for reader in MAIN if reader.code == "Gw")
    verdict = features()["amp"].verdict(web)
    assert (verdict.mark, verdict.notes, verdict.version) == ("y", ("1",), "2022-02")


def test_a_reader_that_was_never_tested_is_unknown() -> None:
    thunderbird = next(reader for reader in MAIN if reader.code == "Tb")
    assert features()["css-accent-color"].verdict(thunderbird) == UNTESTED
    assert not UNTESTED.lacks


def test_dates_are_shown_as_they_are_written() -> None:
    odd = [f.slug for f in features().values() if not re.fullmatch(r"\d{4}-\d\d-\d\d", f.tested)]
    assert odd == ["html-comments"]
    assert features()["html-comments"].tested == "2024-05-1"


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (property_name("padding-left"), "css-padding"),
        (property_name("border-top-color"), "css-border"),
        (property_name("border-top-left-radius"), "css-border-radius"),
        (property_name("border-collapse"), "css-border-collapse"),
        (property_name("background-size"), "css-background-size"),
        (property_name("list-style-type"), "css-list-style-type"),
        (property_name("top"), "css-left-right-top-bottom"),
        (property_name("color"), "css:color"),
        (element_name("tbody"), "html-table"),
        (element_name("h3"), "html-h1-h6"),
        (element_name("li"), "html-lists"),
        (element_name("nav"), "html-semantics"),
        (element_name("s"), "html:s"),
        (selector_name("descendant"), "css-selector-descendant"),
        (selector_name("pseudo", "hover"), "css-pseudo-class-hover"),
        (selector_name("pseudo", "root"), "css-pseudo:root"),
        (list(at_rule_names("media", ["min-width"])), ["css-at-media"]),
        (
            list(at_rule_names("media", ["prefers-color-scheme"])),
            ["css-at-media", "css-at-media-prefers-color-scheme"],
        ),
        (list(attribute_names("a", "href", "mailto:a@b.example")), ["attr:href", "html-mailto-links"]),
        (list(attribute_names("img", "src", "a/b.JPG?x=1.y")), ["attr:src", "image-jpg"]),
        (list(attribute_names("td", "background", "cid:x.png")), ["html-background", "image-png"]),
        (list(attribute_names("meta", "name", "color-scheme")), ["html-meta-color-scheme"]),
        (list(value_names("width", ["12px", "40%"])), ["css-unit-px", "css-unit-percent"]),
        (list(value_names("width", ["auto", "!important"])), ["css-important"]),
        (list(value_names("display", ["none"])), ["css-display-none"]),
        (list(value_names("max-height", ["none"])), []),
        (list(value_names("color", ["rgb(", "inherit"])), ["css-rgb", "css-value:inherit"]),
        (list(value_names("all", ["initial"])), ["css-unit-initial"]),
    ],
)  # fmt: skip
def test_what_the_data_call_it(made: object, expected: object) -> None:
    assert made == expected


def test_lacks_on_record_are_those_of_the_records() -> None:
    """What ships is the list of features in tests/outside/readers.toml, whose tests show each of them."""
    file = Path(__file__).parent / "outside" / "readers.toml"
    listed = {name for one in tomllib.loads(file.read_text("utf-8"))["lack"] for name in one["features"]}
    assert recorded() == listed
