"""The HTML as the sample recipient gets it, read by two HTML parsers that are not ours.

Sources: the Nu HTML checker (npm vnu-jar; WHATWG HTML, CSS) with the exceptions of nu-allowed.toml, and
html5lib's parse errors (WHATWG HTML section 13.2.2, "Parse errors").
"""

from __future__ import annotations

import json
import re
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import html5lib
from html5lib.constants import E

from .mails import CAMPAIGNS, COMPOSED, TOOLS, Mail, compile_campaign, compose

ALLOWED = tomllib.loads(Path(__file__).with_name("nu-allowed.toml").read_text("utf-8"))["allowed"]


def nu_errors(files: list[Path]) -> list[str]:
    """'file:line: message' of every error the checker reports; one start of Java for all files."""
    jar = TOOLS / "vnu-jar" / "build" / "dist" / "vnu.jar"
    done = subprocess.run(
        ["java", "-jar", str(jar), "--format", "json", "--stdout", "--exit-zero-always", *map(str, files)],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    messages: list[dict[str, Any]] = json.loads(done.stdout)["messages"]
    return [
        f"{Path(message.get('url', '')).name}:{message.get('lastLine', 0)}: {message['message']}"
        for message in messages
        if message["type"] in ("error", "non-document-error")
    ]


def is_allowed(error: str) -> bool:
    return any(re.search(entry["message"], error) for entry in ALLOWED)


def test_nu_checker_finds_no_error_outside_the_allow_list(tmp_path: Path) -> None:
    mails = [compile_campaign(campaign, tmp_path / "out") for campaign in CAMPAIGNS]
    mails += [compose(brand, rtl, tmp_path / "out") for brand, rtl in COMPOSED]
    files = []
    for mail in mails:
        file = tmp_path / f"{mail.name}.html"
        file.write_text(mail.html, "utf-8", newline="\n")
        files.append(file)
    assert len(files) == len(CAMPAIGNS) + len(COMPOSED) > 2
    errors = nu_errors(files)
    assert sorted({error for error in errors if not is_allowed(error)}) == []
    unused = [e["message"] for e in ALLOWED if not any(re.search(e["message"], error) for error in errors)]
    assert unused == [], "exceptions that nothing needs any more"


def test_nu_checker_does_find_errors(tmp_path: Path) -> None:
    bad = tmp_path / "bad.html"
    bad.write_text('<!DOCTYPE html><html lang="en"><title>x</title><p><img src="a.png"><b></p></b>', "utf-8")
    assert [error for error in nu_errors([bad]) if not is_allowed(error)]


def parse_errors(html: str) -> list[str]:
    parser = html5lib.HTMLParser()
    parser.parse(html)
    return [f"{position}: {E[code] % values}" for position, code, values in parser.errors]


def test_html5lib_parses_it_without_an_error(shown: Mail) -> None:
    assert parse_errors(shown.html) == []


def test_html5lib_does_find_errors() -> None:
    assert parse_errors("<!DOCTYPE html><title>x</title><table><p>out of place</p></table>")
