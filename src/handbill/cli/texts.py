"""`handbill texts`: a campaign's words out to a translator as a sheet, and in again."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from handbill.base.errors import Fault, Mistake, MistakesError, Place
from handbill.base.files import inside, write_atomic
from handbill.cli.blocks import Group
from handbill.cli.options import OneOf, open_file, shown

F = TypeVar("F", bound=Callable[..., Any])
SHEETS = (".csv", ".tsv", ".txt")
MOST_SHEET = 4 << 20  # bytes; a campaign's texts are a few KB


@click.group(cls=Group)
def command() -> None:
    """A campaign's words in other languages: out to a translator as a sheet, and in again."""


def language_option(*, required: bool = True) -> Callable[[F], F]:
    """`--language LANG`."""
    return click.option("--language", metavar="LANG", required=required, help="Into which language: de-DE.")


def campaign_argument(command: F) -> F:
    """A campaign's file."""
    return click.argument("campaign", type=click.Path(path_type=Path), metavar="CAMPAIGN")(command)


@command.command("export")
@campaign_argument
@language_option()
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE.csv", help="Otherwise to the terminal.")
@click.option(
    "--separator",
    type=OneOf(["comma", "semicolon", "tab"]),
    default="comma",
    show_default=True,
    help="What stands between the columns; spreadsheets of some countries read only the semicolon.",
)
@click.option("--left", is_flag=True, help="Only what lacks a translation or has changed since.")
def export(campaign: Path, language: str, out: Path | None, separator: str, left: bool) -> None:
    """Write a sheet of two columns: each text with its limits, and its translation so far."""
    from handbill.apps.translate import exported, kept_from
    from handbill.texts.sheet import SEPARATORS

    with opened(campaign) as work:
        data, count = exported(work.campaign, language, SEPARATORS[separator], only_left=left)
        if out is None:
            click.echo(data, nl=False)
            return
        there = out.suffix.lower() not in SHEETS or out.is_symlink() or (out.exists() and not out.is_file())
        why, expected = "cannot hold the sheet" if there else "", "a file NAME.csv"
        if not why and out.exists():
            why = kept_from(work.campaign, language, sheet_bytes(out), str(out))
            expected = "another name, or the sheet imported or put away first"
        if why:
            raise MistakesError([Mistake(Place(str(out)), "", why, expected)])
    save(out, data)
    click.echo(f"{out} written, {count} texts to translate into {language}")


@command.command("import")
@campaign_argument
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE.csv")
@language_option()
@click.option("--accept", is_flag=True, help="Translations left as they were hold for texts that changed.")
def import_(campaign: Path, file: Path, language: str, accept: bool) -> None:
    """Take a filled sheet into texts/LANG.yaml. With anything wrong in it nothing is written."""
    from handbill.apps.translate import taken

    raw = sheet_bytes(file)
    with opened(campaign, str(file)) as work:
        made = taken(work.campaign, language, raw, str(file), accept=accept)
        save(work.place(made.path), made.data)
    for note in made.notes:
        click.echo(f"note: {note}", err=True)
    words = f"{os.path.relpath(made.path)} written: {made.new} new, {made.same} as they were"
    click.echo(words + (f", {len(made.left)} still to translate" if made.left else ""))


@command.command("check")
@campaign_argument
@language_option(required=False)
def check(campaign: Path, language: str | None) -> None:
    """Say what is missing, unused and out of date, in one language or in all that have a file."""
    from handbill.apps.translate import checked, languages

    with opened(campaign) as work:
        tags = [language] if language is not None else languages(work.campaign)
        mistakes = [one for tag in tags for one in checked(work.campaign, tag)]
        if mistakes:
            raise MistakesError(mistakes)
    click.echo(f"complete: {', '.join(tags)}" if tags else "no file of texts yet")


@command.command("accept")
@campaign_argument
@click.argument("keys", nargs=-1, metavar="[KEY]...")
@language_option()
def accept(campaign: Path, keys: Sequence[str], language: str) -> None:
    """Mark translations as made from the texts as they are now: all, or those named as 'top: headline'."""
    from handbill.apps.translate import accepted

    with opened(campaign) as work:
        path, data, marked = accepted(work.campaign, language, keys)
        save(work.place(path), data)
    click.echo("\n".join([*map(str, marked), f"{os.path.relpath(path)} written: {len(marked)} marked"]))


class opened:  # noqa: N801 - reads as a statement
    """A campaign open for translating; mistakes leave with files as the user's shell names them, as `label`
    already is."""

    def __init__(self, file: Path, label: str = "") -> None:
        from handbill.apps.translate import open_campaign

        loader, path = open_file(file)
        self.root, self.label = loader.root, label
        try:
            self.campaign = open_campaign(loader, path)
        except MistakesError as error:
            raise shown(error, self.root) from None

    def __enter__(self) -> opened:
        return self

    def __exit__(self, kind: object, error: BaseException | None, _trace: object) -> None:
        if isinstance(error, MistakesError):
            here = [one for one in error.mistakes if one.place.file == self.label]
            rest = MistakesError(one for one in error.mistakes if one.place.file != self.label)
            raise MistakesError([*here, *shown(rest, self.root).mistakes]) from None

    def place(self, path: Path) -> Path:
        """`path`, when no step of it leads out of the workspace. Raises MistakesError."""
        name = path.relative_to(self.root).as_posix()
        try:
            return inside(self.root, self.root, name)
        except Fault as fault:
            raise MistakesError([fault.at(Place(name))]) from None


def sheet_bytes(file: Path) -> bytes:
    """A filled sheet. Raises MistakesError for what is no file and for one that is too large."""
    place = Place(str(file))
    if not file.is_file():
        what = "a folder" if file.is_dir() else "no such file"
        raise MistakesError([Mistake(place, "", what, "a sheet that export wrote, filled: FILE.csv")])
    try:
        size = file.stat().st_size
        if size > MOST_SHEET:
            message = f"the sheet has {size:,} bytes, more than the {MOST_SHEET:,} allowed"
            raise MistakesError([Mistake(place, "", message)])
        return file.read_bytes()
    except OSError as error:
        raise MistakesError([Mistake(place, "", f"cannot be read: {error.strerror}")]) from None


def save(path: Path, data: bytes) -> None:
    """Write whole or not at all. Raises MistakesError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomic(path, data)
    except OSError as error:
        message = f"cannot be written: {error.strerror}"
        raise MistakesError([Mistake(Place(str(path)), "", message)]) from None
