"""`handbill compile`: campaigns in, mails out, a short table on the terminal."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from handbill.base.cache import Cache
from handbill.base.errors import Mistake, MistakesError, Place
from handbill.load import Loader, find_root

KB = 1024


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Where to write (default: out/ in the workspace).",
)
@click.option("--brand", help="Compile for this brand instead of the one in the file.")
@click.option(
    "--pictures",
    type=click.Choice(["base", "cid", "relative"]),
    default="base",
    show_default=True,
    help="Where the mail finds its pictures: the brand's address, inside the mail, or beside it.",
)
@click.option("--watch", is_flag=True, help="Compile again whenever a file changes; stop with Ctrl-C.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
def command(
    files: Sequence[Path], out: Path | None, brand: str | None, pictures: str, watch: bool, form: str
) -> None:
    """Compile campaign FILES into HTML, plain text and .eml.

    A campaign with mistakes writes nothing; the others are written. Exit code 2 when any had mistakes.
    """
    if watch:
        from handbill.cli.watch import watch_files

        watch_files(lambda: run(files, out, brand, pictures, form), files)
        return
    sys.exit(run(files, out, brand, pictures, form))


def run(files: Sequence[Path], out: Path | None, brand: str | None, pictures: str, form: str) -> int:
    """Compile every file and report. Returns the exit code."""
    from handbill.cli.progress import Progress

    rows: list[dict[str, Any]] = []
    mistakes: list[Mistake] = []
    loaders: dict[Path, Loader] = {}
    with Progress(len(files), enabled=form == "text") as progress:
        for file in files:
            try:
                rows.append(_one(file, out, brand, pictures, loaders))
            except MistakesError as error:
                mistakes.extend(error.mistakes)
            progress.step()
    if form == "json":
        click.echo(
            json.dumps(
                {"mails": rows, "mistakes": [_plain(one) for one in _sorted(mistakes)]},
                ensure_ascii=False,
                indent=2,
            )
        )
    else:
        if rows:
            click.echo(table(rows))
        for mistake in _sorted(mistakes):
            click.echo(str(mistake), err=True)
    return 2 if mistakes else 0


def _one(
    file: Path, out: Path | None, brand: str | None, pictures: str, loaders: dict[Path, Loader]
) -> dict[str, Any]:
    from handbill.pipeline import compile_campaign

    path = Path(os.path.abspath(file))
    root = find_root(path)
    if root is None:
        raise MistakesError(
            [Mistake(Place(str(file)), "", "not in a workspace", "handbill.yaml in a folder above the file")]
        )
    if not path.exists():
        raise MistakesError([Mistake(Place(str(file)), "", "no such file")])
    if root not in loaders:
        try:
            loaders[root] = Loader(root, Cache())
        except MistakesError as error:
            raise _shown(error, root) from None
    loader = loaders[root]
    try:
        made = compile_campaign(loader, path, out or root / "out", brand=brand, pictures=pictures)
    except MistakesError as error:
        raise _shown(error, root) from None
    sizes = made.built.sizes
    return {
        "campaign": made.mail.campaign.campaign,
        "subject": made.mail.subject.sampled.header,
        "html": sizes.html,
        "html_limit": loader.workspace.budgets.html_kb * KB,
        "text": sizes.text,
        "pictures": sizes.pictures,
        "folder": os.path.relpath(made.folder),
    }


def _shown(error: MistakesError, root: Path) -> MistakesError:
    """Mistakes with files as the user's shell would name them."""
    prefix = os.path.relpath(root)
    if prefix == ".":
        return error
    return MistakesError(
        Mistake(
            one.place if one.place.file.startswith(("-", "<")) else Place(os.path.join(prefix, one.place.file), one.place.line, one.place.column),
            one.path, one.message, one.expected, one.nearest,
        )
        for one in error.mistakes
    )  # fmt: skip


def _sorted(mistakes: Sequence[Mistake]) -> list[Mistake]:
    return sorted(set(mistakes))


def _plain(mistake: Mistake) -> dict[str, Any]:
    data = asdict(mistake)
    return {**data.pop("place"), **data}


def table(rows: Sequence[dict[str, Any]]) -> str:
    """Campaign, subject, sizes in KB of 1024 bytes, and where the files are."""
    lines = [("campaign", "subject", "HTML KB", "text KB", "pictures KB", "written to")]
    for row in rows:
        limit = row["html_limit"]
        over = " !" if row["html"] > limit else ""
        lines.append((
            row["campaign"], row["subject"], f"{row['html'] / KB:.1f} of {limit // KB}{over}", f"{row['text'] / KB:.1f}",
            f"{row['pictures'] / KB:.0f}", row["folder"],
        ))  # fmt: skip
    widths = [max(len(line[column]) for line in lines) for column in range(len(lines[0]))]
    return "\n".join(
        "  ".join(
            cell.rjust(width) if 2 <= column <= 4 else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    )
