"""A report as plain data for other programs. Enters: letters and mistakes; leaves: what JSON can hold."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from handbill import __version__
from handbill.base.errors import Mistake, Place
from handbill.preflight.contract import Finding
from handbill.report.model import ADVICE, Letter

FORMAT = 1  # raise when the shape changes


def report(letters: Sequence[Letter], mistakes: Iterable[Mistake]) -> dict[str, Any]:
    """Everything a report tells; severities by their words, places as file, line and column from 1."""
    return {
        "handbill": __version__,
        "format": FORMAT,
        "advice": ADVICE,
        "campaigns": [_letter(one) for one in letters],
        "mistakes": [
            {
                **_place(one.place), "path": one.path, "message": one.message, "expected": one.expected,
                "nearest": one.nearest,
            }
            for one in mistakes
        ],
    }  # fmt: skip


def _letter(letter: Letter) -> dict[str, Any]:
    return {
        "file": letter.file,
        "campaign": letter.campaign,
        "subject": letter.subject,
        "variants": list(letter.variants),
        "counts": {severity.word: count for severity, count in letter.counts.items()},
        "rules": letter.rules,
        "findings": [_finding(one) for one in letter.findings],
        "silenced": [
            {**_finding(one), "reason": by.reason, "silenced_in": by.owner} for one, by in letter.silenced
        ],
        "not_run": [{"rule": one.rule, "facet": one.facet, "reason": one.reason} for one in letter.not_run],
        "readings": [
            {"name": one.name, "value": one.value, "assumes": one.assumes} for one in letter.readings
        ],
        "readings_elsewhere": [
            {"name": one.name, "value": one.value, "variants": list(one.variants)} for one in letter.varied
        ],
        "measured": [{"variants": list(one.variants), **one.numbers} for one in letter.measured],
    }


def readings(letter: Letter) -> dict[str, Any]:
    """What was measured, alone."""
    whole = _letter(letter)
    return {name: whole[name] for name in ("readings", "readings_elsewhere", "measured")}


def _finding(one: Finding) -> dict[str, Any]:
    return {
        "rule": one.rule,
        "severity": one.severity.word,
        **_place(one.place),
        "section": one.section,
        "message": one.message,
        "remedy": one.remedy,
        "also": [_place(place) for place in one.also],
        "variants": list(one.variants),
    }


def _place(place: Place) -> dict[str, Any]:
    return {"file": place.file, "line": place.line, "column": place.column}
