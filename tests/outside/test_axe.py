"""WCAG 2.2 levels A and AA as far as a program can tell, by axe-core (npm) in Chromium.

What axe cannot decide ("incomplete") is listed in axe-incomplete.toml, with what decides it instead.
A clean run is no proof that the mail is accessible; it is a floor.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from .browser import Reader, View
from .mails import BRANDS, CAMPAIGNS, TOOLS, Mail

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]
# axe leaves SC 2.5.8 Target Size (Minimum) off unless it is named.
RUN = """(tags) => axe.run(document, {
    runOnly: {type: "tag", values: tags},
    rules: {"target-size": {enabled: true}},
    resultTypes: ["violations", "incomplete"],
})"""
VIEWS = (
    View(375),
    View(1000, scheme="dark"),
    View(375, scheme="dark", pictures=False),
    View(1000, pictures=False),
)
WAYS = ("ltr", "rtl")
LOOKED_AT = tomllib.loads(Path(__file__).with_name("axe-incomplete.toml").read_text("utf-8"))["looked_at"]


def run_axe(reader: Reader, html: str, pictures: Path, view: View) -> dict[str, list[Any]]:
    with reader.open(html, pictures, view) as opened:
        opened.look()  # makes the window as tall as the mail: axe calls what it must scroll to undecided
        opened.page.evaluate((TOOLS / "axe-core" / "axe.min.js").read_text("utf-8"))
        found = opened.page.evaluate(RUN, TAGS)
    assert isinstance(found, dict)
    return found


def lines(results: list[Any]) -> list[tuple[str, str, str]]:
    """(rule, why, element) for every element of axe's results."""
    found = []
    for result in results:
        for node in result["nodes"]:
            checks = node["any"] + node["all"] + node["none"]
            whys = [
                (check.get("data") or {}).get("messageKey") if isinstance(check.get("data"), dict) else None
                for check in checks
            ]
            why = next((why for why in whys if why), "") or "; ".join(check["message"] for check in checks)
            found.append((result["id"], why, node["html"]))
    return found


def covers(entry: dict[str, Any], line: tuple[str, str, str]) -> bool:
    rule, why, element = line
    return entry["rule"] == rule and entry["why"] == why and bool(re.search(entry["element"], element))


def of(mail: str) -> list[dict[str, Any]]:
    """The exceptions that hold for a mail."""
    return [entry for entry in LOOKED_AT if mail in entry["mails"]]


def test_no_violation_and_nothing_undecided_that_nobody_looked_at(shown: Mail, reader: Reader) -> None:
    """WCAG 2.2, the success criteria of levels A and AA that axe-core's rules carry as tags.

    A right-to-left mail differs from its twin in layout alone, so one view of it will do.
    """
    violations: list[tuple[str, tuple[str, str, str]]] = []
    undecided: list[tuple[str, tuple[str, str, str]]] = []
    for view in VIEWS[:1] if shown.name.endswith("-rtl") else VIEWS:
        found = run_axe(reader, shown.html, shown.pictures, view)
        violations += [(str(view), line) for line in lines(found["violations"])]
        undecided += [(str(view), line) for line in lines(found["incomplete"])]
    assert violations == []
    known = of(shown.name)
    assert [one for one in undecided if not any(covers(entry, one[1]) for entry in known)] == []
    stale = [
        entry
        for entry in known
        if not any(view == entry["view"] and covers(entry, line) for view, line in undecided)
    ]
    assert stale == [], "exceptions that nothing needs any more"


def test_every_exception_has_a_reason() -> None:
    names = {path.stem for path in CAMPAIGNS} | {f"all-{brand}-{way}" for brand in BRANDS for way in WAYS}
    for entry in LOOKED_AT:
        assert len(entry["because"]) >= 20
        assert entry["view"] in {str(view) for view in VIEWS}
        assert names.issuperset(entry["mails"])
        assert entry["mails"]
