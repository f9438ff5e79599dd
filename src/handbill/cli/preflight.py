"""`handbill preflight`: what is wrong with a mail before it goes out, with the line that says so."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from handbill.base.errors import Mistake, MistakesError, Place
from handbill.cli.options import OneOf, brand_option, load, root_of, shown, shown_place, terminal_width

if TYPE_CHECKING:
    from handbill.apps.preflight import Examiner
    from handbill.preflight.contract import Finding
    from handbill.report.model import Letter

STYLES = {
    "error": {"fg": "red", "bold": True}, "warning": {"fg": "yellow"}, "note": {"fg": "cyan"},
    "strong": {"bold": True}, "dim": {"dim": True},
}  # fmt: skip
MISTAKES, FINDINGS = 2, 1  # exit codes


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="CAMPAIGN…")
@brand_option("Look at it for this brand instead of the one in the file.")
@click.option("--variant", metavar="ID", help="Look at this variant alone (default: all of them).")
@click.option("--rule", "rules", multiple=True, metavar="NAME", help="Run this rule alone; may be repeated.")
@click.option("--strict", is_flag=True, help="Warnings fail the run as errors do.")
@click.option(
    "--format",
    "form",
    type=OneOf(["text", "json", "sarif"]),
    default="text",
    show_default=True,
    help="For people, as JSON, or as SARIF 2.1.0 for code hosts and editors.",
)
def command(
    files: Sequence[Path], brand: str | None, variant: str | None, rules: Sequence[str], strict: bool,
    form: str,
) -> None:  # fmt: skip
    """Say what would break, mislead or go against the shop's practice, and on which line.

    The exit code is 1 when there are errors (with --strict, warnings too), 2 when a campaign cannot be read.
    A finding is a prompt, not legal advice.
    """
    from handbill.apps.preflight import unknown_rules

    if wrong := unknown_rules(rules):
        raise MistakesError(wrong)
    letters, mistakes = examined(files, brand, variant, rules)
    if form == "text":
        _tell(letters, mistakes)
    else:
        _write(form, letters, mistakes)
    sys.exit(exit_code(letters, mistakes, strict))


def examined(
    files: Sequence[Path], brand: str | None, variant: str | None, rules: Sequence[str]
) -> tuple[list[Letter], list[Mistake]]:
    """Every campaign's report, its files named as the user's shell names them, and what cannot be read."""
    from handbill.apps.preflight import Examiner

    letters: list[Letter] = []
    mistakes: list[Mistake] = []
    examiners: dict[Path, Examiner] = {}
    for file in files:
        try:
            path = Path(os.path.abspath(file))
            root = root_of(file, path)
            if root not in examiners:
                examiners[root] = Examiner(load(root), rules)
            try:
                letters.append(_renamed(examiners[root].examine(path, brand=brand, variant=variant), root))
            except MistakesError as error:
                raise shown(error, root) from None
        except MistakesError as error:
            mistakes.extend(error.mistakes)
    return letters, sorted(set(mistakes))


def exit_code(letters: Sequence[Letter], mistakes: Sequence[Mistake], strict: bool) -> int:
    """2 for what cannot be read, 1 for errors (and warnings, when strict), else 0."""
    from handbill.preflight.contract import ERROR, WARNING

    if mistakes:
        return MISTAKES
    least = WARNING if strict else ERROR
    return FINDINGS if any(one.severity >= least for letter in letters for one in letter.findings) else 0


def _renamed(letter: Letter, root: Path) -> Letter:
    def found(one: Finding) -> Finding:
        also = tuple(shown_place(at, root) for at in one.also)
        return replace(one, place=shown_place(one.place, root), also=also)

    return replace(
        letter,
        file=shown_place(Place(letter.file), root).file,
        findings=tuple(found(one) for one in letter.findings),
        silenced=tuple((found(one), by) for one, by in letter.silenced),
    )


def _tell(letters: Sequence[Letter], mistakes: Sequence[Mistake]) -> None:
    from handbill.report.people import plain, told

    coloured = sys.stdout.isatty() and "NO_COLOR" not in os.environ
    paint = _painted if coloured else plain
    for line in told(letters, _Files(), paint, terminal_width()) if letters else ():
        click.echo(line)
    for one in mistakes:
        click.echo(str(one), err=True)


def _write(form: str, letters: Sequence[Letter], mistakes: Sequence[Mistake]) -> None:
    if form == "json":
        from handbill.report.data import report

        made = report(letters, mistakes)
    else:
        from handbill.preflight.registry import every
        from handbill.report.sarif import log

        made = log(letters, mistakes, every())
    click.echo(json.dumps(made, ensure_ascii=False, indent=2))


def _painted(text: str, style: str) -> str:
    return click.style(text, **STYLES[style])  # type: ignore[arg-type]


class _Files:
    """The lines of files, each read once."""

    def __init__(self) -> None:
        self._lines: dict[str, list[str]] = {}

    def __call__(self, place: Place) -> str | None:
        if place.file not in self._lines:
            try:
                self._lines[place.file] = Path(place.file).read_text("utf-8").splitlines()
            except (OSError, ValueError):
                self._lines[place.file] = []
        lines = self._lines[place.file]
        return lines[place.line - 1] if 0 < place.line <= len(lines) else None
