"""A report for people. Enters: letters, the lines of their files; leaves: lines for a terminal.

Grouped by section in the order of the mail, the heaviest first. Severities are words, so nothing rests on
colour (WCAG 2.2 SC 1.4.1 for our own output).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby

from handbill.base.errors import Place
from handbill.preflight.contract import ERROR, NOTE, WARNING, Finding, Severity
from handbill.report.model import ADVICE, Letter, counted

#: The text of a line of a file, None when there is none.
Lines = Callable[[Place], str | None]
#: Puts a text in one of the styles `error`, `warning`, `note`, `strong`, `dim`.
Paint = Callable[[str, str], str]
_SHOWN = 96  # characters of a line of YAML
_MAIL = "the mail as a whole"


def plain(text: str, _style: str) -> str:
    """No colours."""
    return text


def told(letters: Sequence[Letter], lines: Lines, paint: Paint = plain) -> Iterator[str]:
    """The report, line by line."""
    for letter in letters:
        yield from _letter(letter, lines, paint)
        yield ""
    if len(letters) > 1:
        yield f"{len(letters)} campaigns: " + summed(one for letter in letters for one in letter.findings)
    yield paint(ADVICE, "dim")


def _letter(letter: Letter, lines: Lines, paint: Paint) -> Iterator[str]:
    yield paint(f"{letter.file}  {letter.campaign}", "strong")
    several = f", {len(letter.variants)} variants" if len(letter.variants) > 1 else ""
    yield f"“{letter.subject}”{several}"
    order = {section: at for at, section in enumerate(dict.fromkeys(one.section for one in letter.findings))}
    found = sorted(
        letter.findings,
        key=lambda one: (order.get(one.section, len(order)), -one.severity, one.rule, one.place, one.message),
    )
    for section, group in groupby(found, key=lambda one: one.section):
        yield ""
        yield paint(section or _MAIL, "strong")
        for (_severity, remedy), same in groupby(group, key=lambda one: (one.severity, one.remedy)):
            for one in same:
                yield from _finding(one, len(letter.variants), lines, paint)
            if remedy:
                yield f"           → {remedy}"
    if letter.silenced:
        yield ""
        yield paint("silenced", "strong")
        for one, by in letter.silenced:
            yield f"  {one.rule}: {one.message}"
            yield paint(f"    {by.reason} ({by.owner})", "dim")
    if letter.not_run:
        yield ""
        yield paint("not run", "strong")
        for facet, blind in groupby(letter.not_run, key=lambda one: (one.facet, one.reason)):
            names = ", ".join(one.rule for one in blind)
            yield f"  {names}: no {facet[0]} ({facet[1]})"
    yield ""
    yield paint("readings", "strong")
    width = max((len(one.name) for one in letter.readings), default=0)
    for read in letter.readings:
        assumed = paint(f"  ({read.assumes})", "dim") if read.assumes else ""
        yield f"  {read.name.ljust(width)}  {read.value}{assumed}"
    yield ""
    yield f"{summed(letter.findings)} from {letter.rules} rules"


def _finding(one: Finding, variants: int, lines: Lines, paint: Paint) -> Iterator[str]:
    yield f"  {paint(one.severity.word.ljust(7), one.severity.word)}  {one.message}"
    yield f"           {one.place}  {paint(one.rule, 'dim')}"
    yield from (f"         {line}" for line in quoted(one.place, lines))
    for place in one.also:
        yield f"           and {place}"
        yield from (f"         {line}" for line in quoted(place, lines))
    if variants > 1 and len(one.variants) < variants:
        shown = ", ".join(one.variants[:3])
        rest = f" and {len(one.variants) - 3} more" if len(one.variants) > 3 else ""
        yield f"           in {shown}{rest}"


def quoted(place: Place, lines: Lines) -> Iterator[str]:
    """A line of the author's file with a mark under the place."""
    text = lines(place) if place.line else None
    if text is None or not text.strip():
        return
    number, column = str(place.line), place.column - 1
    start = max(0, column - _SHOWN // 2) if len(text) > _SHOWN else 0
    shown = text[start : start + _SHOWN].rstrip()
    before, after = "…" if start else "", "…" if start + _SHOWN < len(text) else ""
    yield f"{number.rjust(5)} | {before}{shown}{after}"
    yield f"{' ' * 5} | {' ' * (column - start + len(before))}^"


def summed(findings: Iterable[Finding]) -> str:
    """`2 errors, no warnings, 1 note`."""
    return ", ".join(_number(severity, count) for severity, count in counted(findings).items())


def _number(severity: Severity, count: int) -> str:
    plural = {ERROR: "errors", WARNING: "warnings", NOTE: "notes"}[severity]
    return f"no {plural}" if not count else f"{count} {severity.word if count == 1 else plural}"
