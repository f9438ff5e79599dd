"""SARIF logs, against the schema of the standard (OASIS SARIF 2.1.0, as npm's jest-sarif carries it)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft4Validator
from tests.breaking import DEMO, workspace

from handbill.cli.main import cli

from .mails import TOOLS

SCHEMA = TOOLS / "@microsoft" / "jest-sarif" / "lib" / "schemas" / "sarif-2.1.0-rtm.5.json"


@pytest.fixture(scope="module")
def schema() -> Draft4Validator:
    return Draft4Validator(json.loads(SCHEMA.read_text("utf-8")))


def log(*arguments: str) -> dict[str, Any]:
    """What `handbill preflight --format sarif` prints."""
    run = CliRunner().invoke(cli, ["preflight", *arguments, "--format", "sarif"], catch_exceptions=False)
    made: dict[str, Any] = json.loads(run.stdout)
    return made


def test_the_log_of_the_demos_is_valid(schema: Draft4Validator) -> None:
    made = log(*map(str, sorted((DEMO / "campaigns").glob("*.yaml"))))
    assert [error.message for error in schema.iter_errors(made)] == []
    (run,) = made["runs"]
    assert run["results"]
    rules = run["tool"]["driver"]["rules"]
    assert all(rules[one["ruleIndex"]]["id"] == one["ruleId"] for one in run["results"])


def test_the_log_of_a_broken_mail_is_valid(schema: Draft4Validator, tmp_path: Path) -> None:
    """Errors, a silence with its reason, places in two files, and a campaign that cannot be read."""
    root = workspace(tmp_path)
    sale = root / "campaigns" / "winter-last-call.yaml"
    text = sale.read_text("utf-8").replace(
        "Shop the whole sale, link: /sale", "Click here, link: 'mailto:a@b.example?subject=A?body=B'", 1
    )
    text = text.replace(
        "stack:",
        "preflight: {allow: {link-words: We test these words against others}}\nstack:",
        1,
    )
    text = text.replace("headline: Gone by sunrise.", "headline: TBD", 1).replace(
        "subject: Up", "subject: TODO Up", 1
    )
    sale.write_text(text, "utf-8")
    wrong = root / "campaigns" / "the-lamp-is-lit.yaml"
    wrong.write_text("handbill: 1\ncampaign: the-lamp\nbrand: nobody\nsend: 2027-01-01\n", "utf-8")
    made = log(str(sale), str(wrong))
    assert [error.message for error in schema.iter_errors(made)] == []
    (run,) = made["runs"]
    levels = {one["level"] for one in run["results"]}
    assert {"error", "warning", "note"} <= levels
    assert any(one.get("suppressions") for one in run["results"])
    assert run["invocations"][0]["executionSuccessful"] is False
    assert any(
        "nobody" in one["message"]["text"] for one in run["invocations"][0]["toolExecutionNotifications"]
    )


def test_the_schema_would_notice(schema: Draft4Validator) -> None:
    made = log(str(DEMO / "campaigns" / "winter-last-call.yaml"))
    made["runs"][0]["results"][0]["level"] = "dire"
    assert not schema.is_valid(made)
