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

from handbill.base.errors import Mistake, MistakesError, Place
from handbill.base.frozen import dataclass, field
from handbill.base.source import child, place, scalar
from handbill.cli.options import OneOf, brand_option, load, shown
from handbill.cli.progress import Progress
from handbill.load import MARK, Loader, find_root

KB = 1024
MISTAKES = 2  # exit code
HEADS = ("campaign", "subject", "HTML KB", "text KB", "pictures KB", "written to")
FIGURES = range(2, 5)  # columns that are set to the right


@dataclass(frozen=True, slots=True)
class Work:
    """What the command line asked for."""

    files: Sequence[Path]
    out: Path | None
    brand: str | None
    pictures: str


@dataclass(slots=True)
class Outcome:
    """Mails made, one mapping each with sizes in bytes, and what was wrong with the others."""

    mails: list[dict[str, Any]] = field(default_factory=list)
    mistakes: list[Mistake] = field(default_factory=list)

    @property
    def exit_code(self) -> int:
        return MISTAKES if self.mistakes else 0

    def data(self) -> dict[str, Any]:
        """As `--format json` gives it."""
        return {"mails": self.mails, "mistakes": [_plain(one) for one in sorted(set(self.mistakes))]}


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Where to write (default: out/ in the workspace).",
)
@brand_option("Compile for this brand instead of the one in the file.")
@click.option(
    "--pictures",
    type=OneOf(["base", "cid", "relative"]),
    default="base",
    show_default=True,
    help="Where the mail finds its pictures: at the brand's address, inside the mail, or beside it.",
)
@click.option("--watch", is_flag=True, help="Compile again whenever a file changes; Ctrl-C ends it.")
@click.option("--explain", is_flag=True, help="Write nothing; show where every value came from.")
@click.option(
    "--format",
    "form",
    type=OneOf(["text", "json"]),
    default="text",
    show_default=True,
    help="How mails and mistakes are listed.",
)
def command(
    files: Sequence[Path], out: Path | None, brand: str | None, pictures: str, watch: bool, explain: bool,
    form: str,
) -> None:  # fmt: skip
    """Compile campaign files into HTML, plain text and .eml.

    A campaign with mistakes writes nothing, the others are written; the exit code is then 2.
    """
    work = Work(files, out, brand, pictures)
    if explain:
        sys.exit(_explain(work, watch, form))
    if watch:
        from handbill.cli.watch import watch_campaigns

        sys.exit(watch_campaigns(work, form))
    with Progress(len(files), enabled=form == "text") as progress:
        outcome = compile_all(work, progress)
    if form == "json":
        click.echo(json.dumps(outcome.data(), ensure_ascii=False, indent=2))
    else:
        if outcome.mails:
            click.echo(table(outcome.mails))
        show_mistakes(outcome)
    sys.exit(outcome.exit_code)


def _explain(work: Work, watch: bool, form: str) -> int:
    """Every file's values and their origins, and what is wrong; returns the exit code."""
    from handbill.apps.explain import explain
    from handbill.cli.where import explained_data, explained_lines

    if watch:
        raise click.UsageError("--explain and --watch do not go together", click.get_current_context())
    outcome = Outcome()
    texts: list[str] = []
    loaders: dict[Path, Loader] = {}
    for file in work.files:
        try:
            path = Path(os.path.abspath(file))
            root = _root(file, path)
            if root not in loaders:
                loaders[root] = load(root)
            try:
                made = explain(loaders[root], path, brand=work.brand)
            except MistakesError as error:
                raise shown(error, root) from None
        except MistakesError as error:
            outcome.mistakes.extend(error.mistakes)
            continue
        outcome.mails.append(explained_data(made, root))
        texts.append("\n".join(explained_lines(made, root)))
    if form == "json":
        click.echo(json.dumps(outcome.data(), ensure_ascii=False, indent=2))
    else:
        if texts:
            click.echo("\n\n".join(texts))
        show_mistakes(outcome)
    return outcome.exit_code


def compile_all(work: Work, progress: Progress | None = None) -> Outcome:
    """Compile every file; one that fails does not stop the others."""
    outcome = Outcome()
    loaders: dict[Path, Loader] = {}
    names: dict[tuple[Path, str], Path] = {}
    for file in work.files:
        try:
            outcome.mails.append(_one(file, work, loaders, names))
        except MistakesError as error:
            outcome.mistakes.extend(error.mistakes)
        if progress is not None:
            progress.step()
    return outcome


def show_mistakes(outcome: Outcome) -> None:
    """One line each on stderr, sorted by place."""
    for mistake in sorted(set(outcome.mistakes)):
        click.echo(str(mistake), err=True)


def _one(
    file: Path, work: Work, loaders: dict[Path, Loader], names: dict[tuple[Path, str], Path]
) -> dict[str, Any]:
    from handbill.pipeline import campaign_file, compile_campaign

    path = Path(os.path.abspath(file))
    root = _root(file, path)
    if root not in loaders:
        loaders[root] = load(root)
    loader = loaders[root]
    out = work.out or root / "out"
    if out.exists() and not out.is_dir():
        raise _unusable(Place(str(out)), "not a folder", "a folder to write in")
    try:
        named = child(campaign_file(loader, path).root, "campaign")
        first = names.setdefault((out, scalar(named) or str(path)), path)
        if named is not None and first != path:
            message = f"{loader.name(first)} is called {scalar(named)} too, and both go to one folder"
            raise MistakesError([Mistake(place(named), "campaign", message, "another name")])
        made = compile_campaign(loader, path, out, brand=work.brand, pictures=work.pictures)
    except MistakesError as error:
        raise shown(error, root) from None
    sizes = made.built.sizes
    return {
        "campaign": made.mail.campaign.campaign,
        "subject": made.mail.subject.sampled.header,
        "html": sizes.html,
        "html_limit": loader.workspace.budgets.html_kb * KB,
        "text": sizes.text,
        "eml": sizes.eml,
        "pictures": sizes.pictures,
        "folder": os.path.relpath(made.folder),
    }


def _root(file: Path, path: Path) -> Path:
    place = Place(str(file))
    if path.is_dir():
        raise _unusable(place, "a folder, not a campaign", "a file such as campaigns/NAME.yaml")
    if not path.exists():
        raise _unusable(place, "no such file")
    root = find_root(path)
    if root is None:
        raise _unusable(place, "not in a workspace", f"{MARK} in a folder above the file")
    return root


def _unusable(place: Place, message: str, expected: str = "") -> MistakesError:
    return MistakesError([Mistake(place, "", message, expected)])


def _plain(mistake: Mistake) -> dict[str, Any]:
    data = asdict(mistake)
    return {**data.pop("place"), **data}


def table(mails: Sequence[dict[str, Any]]) -> str:
    """Campaign, subject, sizes in KB of 1024 bytes, and where the files are; `!` marks too much HTML."""
    lines = [HEADS]
    for mail in mails:
        over = " !" if mail["html"] > mail["html_limit"] else ""
        lines.append((
            mail["campaign"], mail["subject"], f"{mail['html'] / KB:.1f} of {mail['html_limit'] // KB}{over}",
            f"{mail['text'] / KB:.1f}", f"{mail['pictures'] / KB:.0f}", mail["folder"],
        ))  # fmt: skip
    widths = [max(len(line[column]) for line in lines) for column in range(len(HEADS))]
    return "\n".join(
        "  ".join(
            cell.rjust(width) if column in FIGURES else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    )
