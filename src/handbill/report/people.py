"""A report for people. Enters: letters, the lines of their files; leaves: lines for a terminal.

Grouped by section in the order of the mail, the heaviest first. Severities are words, so nothing rests on
colour (WCAG 2.2 SC 1.4.1 for our own output).
"""

from __future__ import annotations

import textwrap
import unicodedata
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
_INDENT = " " * 11  # before what belongs to a finding
_QUOTE = 18  # columns beside a line of YAML: the indent, its number, marks of what is left out
NARROWEST = 40  # columns: on less a report is written as on this
_ROWS = 24  # readings of other variants
_MAIL = "the mail as a whole"


def plain(text: str, _style: str) -> str:
    """No colours."""
    return text


def folded(text: str, first: str = "", rest: str = "", width: int = 0) -> list[str]:
    """`text` after `first`, in lines of at most `width` columns, each further one after `rest`.

    0 is any width. What has no space in it, such as a path, is never broken.
    """
    if not width or len(first) + len(text) <= width:
        return [first + text]
    return textwrap.wrap(
        text, max(width, NARROWEST), initial_indent=first, subsequent_indent=rest,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def told(letters: Sequence[Letter], lines: Lines, paint: Paint = plain, width: int = 0) -> Iterator[str]:
    """The report, line by line, no wider than `width` columns where words allow; 0 is any width."""
    for letter in letters:
        yield from _letter(letter, lines, paint, width)
        yield ""
    if len(letters) > 1:
        yield f"{len(letters)} campaigns: " + summed(one for letter in letters for one in letter.findings)
    yield from (paint(line, "dim") for line in folded(ADVICE, width=width))


def _letter(letter: Letter, lines: Lines, paint: Paint, width: int) -> Iterator[str]:
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
                yield from _finding(one, len(letter.variants), lines, paint, width)
            if remedy:
                yield from folded(remedy, f"{_INDENT}→ ", f"{_INDENT}  ", width)
    if letter.silenced:
        yield ""
        yield paint("silenced", "strong")
        for one, by in letter.silenced:
            yield from folded(f"{one.rule}: {one.message}", "  ", "    ", width)
            reason = folded(f"{by.reason} ({by.owner})", "    ", "    ", width)
            yield from (paint(line, "dim") for line in reason)
    if letter.not_run:
        yield ""
        yield paint("not run", "strong")
        for facet, blind in groupby(letter.not_run, key=lambda one: (one.facet, one.reason)):
            names = ", ".join(one.rule for one in blind)
            yield from folded(f"{names}: no {facet[0]} ({facet[1]})", "  ", "    ", width)
    yield ""
    yield paint("readings", "strong")
    name = max((len(one.name) for one in letter.readings), default=0)
    for read in letter.readings:
        first, rest = f"  {read.name.ljust(name)}  ", " " * (name + 4)
        assumed = f"({read.assumes})" if read.assumes else ""
        if assumed and not (width and len(f"{first}{read.value}  {assumed}") > width):
            yield f"{first}{read.value}  {paint(assumed, 'dim')}"
        else:
            yield from folded(read.value, first, rest, width)
            yield from (paint(line, "dim") for line in folded(assumed, rest, rest, width) if assumed)
    yield from _elsewhere(letter, name, width, paint)
    yield ""
    rules = "1 rule" if letter.rules == 1 else f"{letter.rules} rules"
    yield f"{summed(letter.findings)} from {rules}"


def _elsewhere(letter: Letter, name: int, width: int, paint: Paint) -> Iterator[str]:
    """Readings of variants that differ from the first."""
    if letter.varied:
        yield ""
        yield paint(f"readings elsewhere than in {letter.variants[0]}", "strong")
    for one in letter.varied[:_ROWS]:
        first, rest = f"  {one.name.ljust(name)}  ", " " * (name + 4)
        yield from folded(f"{one.value}  in {_some(one.variants)}", first, rest, width)
    if len(letter.varied) > _ROWS:
        yield f"  and {len(letter.varied) - _ROWS} more, all in --format json"


def _some(variants: Sequence[str]) -> str:
    rest = f" and {len(variants) - 3} more" if len(variants) > 3 else ""
    return "; ".join(variants[:3]) + rest


def _finding(one: Finding, variants: int, lines: Lines, paint: Paint, width: int) -> Iterator[str]:
    shown = min(max(NARROWEST, width) - _QUOTE, _SHOWN) if width else _SHOWN
    head, *more = folded(one.message, _INDENT, _INDENT, width)
    yield f"  {paint(one.severity.word.ljust(7), one.severity.word)}  {head.removeprefix(_INDENT)}"
    yield from more
    if width and len(f"{_INDENT}{one.place}  {one.rule}") > width:
        yield from (f"{_INDENT}{one.place}", f"{_INDENT}{paint(one.rule, 'dim')}")
    else:
        yield f"{_INDENT}{one.place}  {paint(one.rule, 'dim')}"
    yield from (f"         {line}" for line in quoted(one.place, lines, shown))
    for place in one.also:
        yield f"{_INDENT}and {place}"
        yield from (f"         {line}" for line in quoted(place, lines, shown))
    if variants > 1 and len(one.variants) < variants:
        named = ", ".join(one.variants[:3])
        rest = f" and {len(one.variants) - 3} more" if len(one.variants) > 3 else ""
        yield from folded(f"in {named}{rest}", _INDENT, f"{_INDENT}   ", width)


def quoted(place: Place, lines: Lines, most: int = _SHOWN) -> Iterator[str]:
    """At most `most` characters of a line of the author's file, with a mark under the place."""
    text = lines(place) if place.line else None
    if text is None or not text.strip():
        return
    number, column = str(place.line), place.column - 1
    start = max(0, column - most // 2) if len(text) > most else 0
    shown = text[start : start + most].rstrip()
    before, after = "…" if start else "", "…" if start + most < len(text) else ""
    yield f"{number.rjust(5)} | {before}{shown}{after}"
    yield f"{' ' * 5} | {' ' * (columns_of(text[start:column]) + len(before))}^"


def columns_of(text: str) -> int:
    """Columns of a terminal that a text takes: wide letters take two, marks on letters none (UAX 11)."""
    return sum(
        0 if unicodedata.combining(one) else 2 if unicodedata.east_asian_width(one) in "WF" else 1
        for one in text
    )


def summed(findings: Iterable[Finding]) -> str:
    """`2 errors, no warnings, 1 note`."""
    return ", ".join(_number(severity, count) for severity, count in counted(findings).items())


def _number(severity: Severity, count: int) -> str:
    plural = {ERROR: "errors", WARNING: "warnings", NOTE: "notes"}[severity]
    return f"no {plural}" if not count else f"{count} {severity.word if count == 1 else plural}"
