"""`handbill variants`: which mails a campaign makes, and how two of them differ, in words."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from handbill.base.errors import Mistake, MistakesError
from handbill.cli.blocks import Group
from handbill.cli.options import OneOf, open_file, shown

if TYPE_CHECKING:
    from handbill.apps.differ import Part
    from handbill.apps.variants import Listed

F = TypeVar("F", bound=Callable[..., Any])
KB = 1024
HEADS = ("variant", "HTML KB", "text KB", "pictures KB", "what differs")
MISTAKES = 2  # exit code
LEAST_ROOM = 40  # columns beside the figures for what differs
MAIL = "the mail"  # what belongs to no section


def _shared(command: F) -> F:
    """The campaign's file, and `--format`."""
    form = click.option(
        "--format", "form", type=OneOf(["text", "json"]), default="text", show_default=True,
        help="Lines, or data.",
    )  # fmt: skip
    return click.argument("campaign", type=click.Path(path_type=Path), metavar="CAMPAIGN")(form(command))


@click.group(cls=Group)
def command() -> None:
    """Which mails a campaign makes, and how two of them differ, in words."""


@command.command("list")
@_shared
def list_variants(campaign: Path, form: str) -> None:
    """Every variant: its id, its HTML, text and pictures in KB, and what a reader sees differ."""
    from handbill.apps.variants import listed
    from handbill.pipeline import Desk, campaign_file

    loader, path = open_file(campaign)
    wrong: list[Mistake] = []
    try:
        desk = Desk(loader, campaign_file(loader, path))
        found = listed(desk)
        if form == "json":
            rows = list(found)
            wrong = [mistake for row in rows for mistake in row.mistakes]
            click.echo(_dumped({"variants": [_row(row) for row in rows if not row.mistakes]}))
        else:
            width = max([len(HEADS[0]), *(len(desk.id(number)) for number in range(len(desk)))])
            columns = _columns()
            click.echo("\n".join(table_lines(HEADS[0], list(HEADS[1:-1]), HEADS[-1], width, columns)))
            for row in found:
                wrong.extend(row.mistakes)
                if not row.mistakes:
                    click.echo("\n".join(table_lines(row.id, _figures(row), row.differs, width, columns)))
    except MistakesError as error:
        raise shown(error, loader.root) from None
    if wrong:
        click.echo(str(shown(MistakesError(wrong), loader.root)), err=True)
        sys.exit(MISTAKES)


@command.command("diff")
@_shared
@click.argument("first", metavar="A")
@click.argument("second", metavar="B")
def diff(campaign: Path, first: str, second: str, form: str) -> None:
    """What a reader would see differ between the variants A and B, section by section."""
    from handbill.apps.variants import compared, number_of
    from handbill.pipeline import Desk, campaign_file

    loader, path = open_file(campaign)
    try:
        desk = Desk(loader, campaign_file(loader, path))
        parts = compared(desk, number_of(desk, first), number_of(desk, second))
    except MistakesError as error:
        raise shown(error, loader.root) from None
    if form == "json":
        click.echo(_dumped(_differences(first, second, parts)))
    else:
        click.echo("\n".join(difference_lines(first, second, parts, _columns())))


def _columns() -> int | None:
    """How wide the terminal is; None where lines go to a file or a program, which get them whole."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


def difference_lines(
    first: str, second: str, parts: Sequence[Part], columns: int | None = None
) -> Iterator[str]:
    """Section by section, each difference on a line that goes on below itself where it is too long."""
    from handbill.apps.told import sentences, wrapped

    if not parts:
        yield f"{second} reads the same as {first}"
    for part in parts:
        yield part.id or MAIL
        for sentence in sentences(part):
            yield from wrapped(sentence, columns, 2, 4)


def _differences(first: str, second: str, parts: Sequence[Part]) -> dict[str, Any]:
    rows = [
        {"section": part.id or None, "changes": [asdict(change) for change in part.changes]} for part in parts
    ]
    return {"first": first, "second": second, "differences": rows}


def table_lines(
    name: str, figures: Sequence[str], differs: str, width: int, columns: int | None = None
) -> Iterator[str]:
    """A row of the list. What differs stands beside the figures, in a narrow terminal below them."""
    from handbill.apps.told import wrapped

    sizes = [figure.rjust(len(head)) for figure, head in zip(figures, HEADS[1:], strict=False)]
    row = "  ".join([name.ljust(width), *sizes])
    room = None if columns is None else columns - len(row) - 2
    if room is not None and room < LEAST_ROOM:
        yield row.rstrip()
        yield from wrapped(differs, columns, 4, 4)
    else:
        first, *rest = wrapped(differs, room, 0, 0)
        yield f"{row}  {first}"
        yield from (f"{' ' * len(row)}  {line}" for line in rest)


def _figures(row: Listed) -> list[str]:
    return [f"{row.html / KB:.1f}", f"{row.text / KB:.1f}", f"{row.pictures / KB:.0f}"]


def _row(row: Listed) -> dict[str, Any]:
    return {name: value for name, value in asdict(row).items() if name != "mistakes"}


def _dumped(data: dict[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, indent=2)
