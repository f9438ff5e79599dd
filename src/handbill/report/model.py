"""What a report tells. Enters: outcomes of preflight runs; leaves: one `Letter` for each campaign.

One finding in several variants is told once, with their names; readings are those of the first, and of others
where they differ.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from handbill.base.frozen import dataclass
from handbill.preflight.contract import ERROR, NOTE, WARNING, Finding, NotRun, Severity
from handbill.preflight.runner import Outcome
from handbill.preflight.settings import Silence

#: Every report ends in it.
ADVICE = "A prompt, not legal advice: local rules and a licensed adviser decide."


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured number: its name, what it says, and the assumption it rests on, if it does."""

    name: str
    value: str
    assumes: str = ""
    detail: bool = False  # one of many of its kind: not compared between variants in what people read


@dataclass(frozen=True, slots=True)
class Varied:
    """A reading that is not the same in every variant: what it says in those named."""

    name: str
    value: str
    variants: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Measured:
    """Numbers for programs, and the variants they hold for."""

    variants: tuple[str, ...]
    numbers: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Letter:
    """One campaign's report. `file` as the user's shell names it; `variants` are all that were looked at,
    `sections` the ids of all their sections in the order of the mail.
    """

    file: str
    campaign: str
    subject: str
    variants: tuple[str, ...]
    sections: tuple[str, ...]
    findings: tuple[Finding, ...]
    silenced: tuple[tuple[Finding, Silence], ...]
    not_run: tuple[NotRun, ...]
    rules: int
    readings: tuple[Reading, ...]
    varied: tuple[Varied, ...] = ()
    measured: tuple[Measured, ...] = ()

    @property
    def counts(self) -> Mapping[Severity, int]:
        """How many findings there are of each weight."""
        return counted(self.findings)


class Gathered:
    """Readings of one variant after the other; only what differs from the first is kept."""

    def __init__(self) -> None:
        self.readings: tuple[Reading, ...] = ()
        self._varied: dict[tuple[str, str], list[str]] = {}
        self._measured: dict[str, tuple[list[str], Mapping[str, Any]]] = {}

    def add(self, variant: str, readings: Sequence[Reading], numbers: Mapping[str, Any]) -> None:
        """One variant's readings, and its numbers for programs."""
        if not self.readings:
            self.readings = tuple(readings)
        known = {(one.name, one.value) for one in self.readings}
        for one in readings:
            if not one.detail and (one.name, one.value) not in known:
                self._varied.setdefault((one.name, one.value), []).append(variant)
        key = json.dumps(numbers, sort_keys=True)
        self._measured.setdefault(key, ([], numbers))[0].append(variant)

    @property
    def varied(self) -> tuple[Varied, ...]:
        """By reading in the order of the first variant's, then as met."""
        order = {one.name: at for at, one in enumerate(self.readings)}
        rows = sorted(self._varied.items(), key=lambda row: order.get(row[0][0], len(order)))
        return tuple(Varied(name, value, tuple(variants)) for (name, value), variants in rows)

    @property
    def measured(self) -> tuple[Measured, ...]:
        return tuple(Measured(tuple(variants), numbers) for variants, numbers in self._measured.values())


def counted(findings: Iterable[Finding]) -> dict[Severity, int]:
    """How many there are of each weight, the heaviest first."""
    made = dict.fromkeys((ERROR, WARNING, NOTE), 0)
    for found in findings:
        made[found.severity] += 1
    return made


def merged(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Each finding once, with all its variants, in the order met."""
    found: dict[tuple[object, ...], Finding] = {}
    for one in findings:
        before = found.get(one.key)
        found[one.key] = (
            one if before is None else replace(before, variants=(*before.variants, *one.variants))
        )
    return tuple(found.values())


def in_order(mails: Iterable[Sequence[str]]) -> tuple[str, ...]:
    """The sections of several mails: one that those before lack follows the one that it follows there."""
    order: list[str] = []
    for sections in mails:
        at = 0
        for section in sections:
            if section not in order:
                order.insert(at, section)
            at = order.index(section) + 1
    return tuple(order)


def letter(
    file: str, campaign: str, subject: str, outcomes: Sequence[Outcome], variants: Sequence[str],
    sections: Sequence[str], gathered: Gathered,
) -> Letter:  # fmt: skip
    """One campaign's outcomes as a report, what is found by section in the order of the mail."""
    silenced: dict[tuple[object, ...], tuple[Finding, Silence]] = {}
    for outcome in outcomes:
        for one, by in outcome.silenced:
            silenced.setdefault(one.key, (one, by))
    found = merged(one for each in outcomes for one in each.findings)
    order = {section: at for at, section in enumerate(("", *sections))}
    not_run = tuple(dict.fromkeys(one for outcome in outcomes for one in outcome.not_run))
    return Letter(
        file=file, campaign=campaign, subject=subject, variants=tuple(variants), sections=tuple(sections),
        findings=tuple(sorted(found, key=lambda one: order.get(one.section, len(order)))),
        silenced=tuple(silenced.values()), not_run=not_run,
        rules=max((one.rules for one in outcomes), default=0), readings=gathered.readings,
        varied=gathered.varied, measured=gathered.measured,
    )  # fmt: skip
