"""A report in SARIF. Enters: letters, mistakes, rules; leaves: a log that code hosts and editors read.

OASIS SARIF 2.1.0 (errata 01). Columns count Unicode characters; a file's URI is relative to where the
command ran. A silenced finding is a result with a suppression.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from hashlib import sha256
from typing import Any
from urllib.parse import quote

from handbill import __version__
from handbill.base.errors import Mistake, Place
from handbill.preflight.contract import Finding, Rule
from handbill.preflight.settings import Silence
from handbill.report.data import readings
from handbill.report.model import ADVICE, Letter

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"


def log(letters: Sequence[Letter], mistakes: Sequence[Mistake], rules: Mapping[str, Rule]) -> dict[str, Any]:
    """The SARIF log of one run."""
    index = {slug: at for at, slug in enumerate(rules)}
    results = [
        *(_result(one, index, letter) for letter in letters for one in letter.findings),
        *(_result(one, index, letter, by) for letter in letters for one, by in letter.silenced),
    ]
    invocation: dict[str, Any] = {"executionSuccessful": not mistakes}
    notes = [*(_notification(one) for one in mistakes), *_unrun(letters)]
    if notes:
        invocation["toolExecutionNotifications"] = notes
    driver = {"name": "handbill", "version": __version__, "rules": [_rule(one) for one in rules.values()]}
    run = {
        "tool": {"driver": driver},
        "columnKind": "unicodeCodePoints",
        "invocations": [invocation],
        "results": results,
        "properties": {
            "advice": ADVICE,
            "readings": {letter.campaign: readings(letter) for letter in letters},
        },
    }  # fmt: skip
    return {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}


def _rule(rule: Rule) -> dict[str, Any]:
    return {
        "id": rule.slug,
        "shortDescription": {"text": rule.about},
        "fullDescription": {"text": rule.why},
        "help": {"text": f"{rule.remedy}\nSource: {rule.source}."},
        "defaultConfiguration": {"level": rule.severity.word},
        "properties": {"tags": [rule.group], "source": rule.source},
    }


def _result(
    one: Finding, index: Mapping[str, int], letter: Letter, by: Silence | None = None
) -> dict[str, Any]:
    print_ = sha256("\0".join((one.rule, letter.campaign, one.section, one.message)).encode()).hexdigest()
    result: dict[str, Any] = {
        "ruleId": one.rule,
        "ruleIndex": index[one.rule],
        "level": one.severity.word,
        "message": {"text": f"{one.message}. {one.remedy}" if one.remedy else one.message},
        "locations": [_location(one.place, one.section)],
        "partialFingerprints": {"finding/v1": print_},
        "properties": {"campaign": letter.campaign, "variants": list(one.variants)},
    }
    if one.also:
        result["relatedLocations"] = [{"id": at, **_location(each)} for at, each in enumerate(one.also)]
    if by is not None:
        result["suppressions"] = [{"kind": "inSource", "justification": by.reason}]
    return result


def _location(place: Place, section: str = "") -> dict[str, Any]:
    physical: dict[str, Any] = {"artifactLocation": {"uri": quote(place.file.replace("\\", "/"))}}
    if place.line:
        physical["region"] = {"startLine": place.line, "startColumn": place.column}
    location: dict[str, Any] = {"physicalLocation": physical}
    if section:
        location["logicalLocations"] = [{"name": section, "kind": "section"}]
    return location


def _notification(one: Mistake) -> dict[str, Any]:
    return {"level": "error", "message": {"text": str(one)}, "locations": [_location(one.place)]}


def _unrun(letters: Iterable[Letter]) -> list[dict[str, Any]]:
    return [
        {
            "level": "warning",
            "message": {"text": f"{letter.file}: {one.rule} was not run: no {one.facet} ({one.reason})"},
        }
        for letter in letters
        for one in letter.not_run
    ]
