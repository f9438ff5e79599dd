"""What compile says by the way: the cheap rules, once for each section, kept by content.

Against: preflight itself, whose findings of the same rules are the same.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from tests.breaking import DEMO, campaign, edited, outcome, sound, specimen, workspace

from handbill.base.cache import Cache
from handbill.cli.main import cli
from handbill.preflight.cheap import Glance
from handbill.preflight.contract import Hit, Severity
from handbill.preflight.registry import cheap, every

SALE = campaign("orrowby")
CLICK = ("{label: Shop the whole sale, link: /sale}", "{label: Click here, link: /sale}")
HTTP = ("{label: See what is left, link: /sale}", "{label: See it, link: 'http://sale.orrowby.example/'}")


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return workspace(tmp_path)


def broken(root: Path, *edits: tuple[str, str]) -> Path:
    path = root / SALE
    text = path.read_text("utf-8")
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    path.write_text(text, "utf-8")
    return path


def compiled(path: Path, *options: str) -> Result:
    return CliRunner().invoke(cli, ["compile", str(path), *options], catch_exceptions=False)


def test_the_cheap_rules_are_those_of_one_sections_source_and_html(tmp_path: Path) -> None:
    names = {slug for slug, rule in every().items() if rule.cheap}
    assert {"link-words", "alt-missing", "placeholder-left", "mailto-syntax", "unsupported"} <= names
    assert names.isdisjoint({"contrast-text", "target-size", "clip", "subject-length"})
    for _time in range(2):  # found, and then by the names that were kept
        assert {rule.slug for rule in cheap(Cache(tmp_path), "stamp")} == names


def test_it_says_what_preflight_says(shop: Path) -> None:
    mail = edited(shop, "orrowby", [(SALE, *CLICK), (SALE, *HTTP)])
    names = {slug for slug, rule in every().items() if rule.cheap}
    theirs = {(one.rule, one.section, one.message, one.place) for one in outcome(mail, names).findings}
    pieces = [part.piece for part in mail.parts]
    briefs = [*Glance(Cache()).findings(mail.mail, pieces)]
    ours = {(one.rule, one.section, one.message) for one in briefs}
    assert ours == {one[:3] for one in theirs}
    places = {(one.file, one.line, one.column) for one in briefs}
    assert places == {(place.file, place.line, place.column) for *_rest, place in theirs}
    assert len(briefs) >= 2


def test_a_section_is_looked_at_once_and_then_known_by_its_content(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    rule = every()["link-words"]

    def look(part: Any) -> list[Hit]:
        asked.append(part.id)
        return []

    counted = type(rule)(**{**{name: getattr(rule, name) for name in rule.__slots__}, "each": look})
    monkeypatch.setattr("handbill.preflight.registry.cheap", lambda _cache, _stamp: [counted])
    mail, cache = sound("orrowby"), Cache(tmp_path)
    pieces = [part.piece for part in mail.parts]
    glance = Glance(cache)
    assert [*glance.findings(mail.mail, pieces)] == [*glance.findings(mail.mail, pieces)]
    assert asked == [part.id for part in mail.parts]
    again = specimen(DEMO, "orrowby")  # the same mail, made anew
    assert [*Glance(cache).findings(again.mail, [part.piece for part in again.parts])] == []
    assert len(asked) == len(mail.parts)


def test_compile_tells_and_writes_all_the_same(shop: Path) -> None:
    path = broken(shop, CLICK)
    for _time in range(2):  # also when nothing has changed since
        run = compiled(path)
        assert run.exit_code == 0
        assert "closing: warning: “Click here” does not say where it leads (link-words)" in run.stderr
    assert (shop / "out" / "winter-last-call" / "main" / "email.html").is_file()
    data = json.loads(compiled(path, "--format", "json").stdout)
    (one,) = data["campaigns"][0]["findings"]
    assert (one["rule"], one["section"], one["weight"]) == ("link-words", "closing", "warning")
    assert "Click here" in path.read_text("utf-8").splitlines()[one["line"] - 1]


def test_a_strict_compile_writes_nothing(shop: Path) -> None:
    path = broken(shop, CLICK)
    run = compiled(path, "--strict")
    assert run.exit_code == 2
    assert "closing, link-words: “Click here” does not say where it leads" in run.stderr
    assert not (shop / "out" / "winter-last-call" / "main").exists()
    broken(shop, CLICK[::-1])
    assert compiled(path, "--strict").exit_code == 0


def test_silences_and_weights_hold(shop: Path) -> None:
    path = broken(shop, CLICK, ("stack:\n", "preflight: {allow: {link-words: A test}}\nstack:\n"))
    assert compiled(path, "--strict").exit_code == 0
    broken(shop, ("preflight: {allow: {link-words: A test}}\n", ""))
    brand = shop / "brands/orrowby/brand.yaml"
    weight = f"preflight: {{severity: {{link-words: {Severity.of('note').word}}}}}\nbrand: orrowby\n"
    brand.write_text(brand.read_text("utf-8").replace("brand: orrowby\n", weight, 1), "utf-8")
    assert compiled(path, "--strict").exit_code == 0
    assert "Click here" not in compiled(path).stderr


def test_a_rule_that_fails_here_stops_nothing(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rule = every()["link-words"]

    def crash(_part: Any) -> list[Hit]:
        raise ZeroDivisionError

    bad = type(rule)(**{**{name: getattr(rule, name) for name in rule.__slots__}, "each": crash})
    monkeypatch.setattr("handbill.preflight.registry.cheap", lambda _cache, _stamp: [bad])
    assert compiled(broken(shop, CLICK, HTTP)).exit_code == 0


def test_a_warm_run_brings_in_no_rule(tmp_path: Path) -> None:
    script = (
        "import sys; from handbill.cli.main import main\n"
        "sys.argv = ['handbill', 'compile', *sys.argv[1:]]\n"
        "try: main()\n"
        "except SystemExit as end: assert not end.code\n"
        "print(*[name for name in sys.modules if name.startswith(('handbill.preflight.rules',"
        " 'handbill.dom', 'handbill.measure'))])"
    )
    found = []
    for number in range(2):
        command = [sys.executable, "-c", script, str(DEMO / SALE), "--out", str(tmp_path / str(number))]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        found.append(done.stdout.splitlines()[-1].split())
    assert found[1] == []
