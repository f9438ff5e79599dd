"""`handbill compile`: campaigns in, mails out, a short table on the terminal."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from handbill.base.cache import Cache
from handbill.base.errors import Mistake, MistakesError, Place
from handbill.base.frozen import dataclass, field
from handbill.batch.how import How
from handbill.batch.result import CompiledCampaign
from handbill.batch.seen import Last
from handbill.cli.options import Number, OneOf, brand_option, root_of, shown, shown_place, unusable
from handbill.cli.progress import Progress
from handbill.cli.table import data, open_hosting, table

if TYPE_CHECKING:
    from handbill.loader import Loader

MISTAKES = 2  # exit code


@dataclass(frozen=True, slots=True)
class Work:
    """What the command line asked for."""

    files: Sequence[Path]
    out: Path | None
    brand: str | None
    pictures: str
    variants: Sequence[str] = ()
    jobs: int = 1
    strict: bool = False

    def how(self) -> How:
        """The same for each file."""
        return How(self.brand, self.pictures, tuple(self.variants), self.jobs, strict=self.strict)


@dataclass(slots=True)
class Outcome:
    """Campaigns made, and what was wrong with the others."""

    results: list[CompiledCampaign] = field(default_factory=list)
    mistakes: list[Mistake] = field(default_factory=list)

    @property
    def exit_code(self) -> int:
        return MISTAKES if self.mistakes else 0

    def data(self) -> dict[str, Any]:
        """As `--format json` gives it."""
        return {**data(self.results), "mistakes": plain_mistakes(self.mistakes)}


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
@click.option(
    "--variant",
    "variants",
    multiple=True,
    metavar="ID",
    help="Only this variant, as `handbill variants list` calls it; may be given several times.",
)
@click.option(
    "--jobs",
    type=Number(1, 256),
    default=1,
    show_default=True,
    metavar="N",
    help="How many processes make variants side by side.",
)
@click.option(
    "--strict", is_flag=True, help="What preflight's cheap rules find is a mistake, and stops writing."
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
    files: Sequence[Path], out: Path | None, brand: str | None, pictures: str, variants: Sequence[str],
    jobs: int, strict: bool, watch: bool, explain: bool, form: str,
) -> None:  # fmt: skip
    """Compile campaign files into HTML, plain text and .eml.

    A campaign with mistakes in any variant writes nothing, the others are written; the exit code is then 2.
    Files that would be the same as before are left as they are.
    """
    work = Work(files, out, brand, pictures, variants, jobs, strict)
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
        if outcome.results:
            click.echo(table(outcome.results))
        show_mistakes(outcome)
        show_findings(outcome)
        for result in outcome.results:
            for line in open_hosting(result):
                click.echo(line, err=True)
    sys.exit(outcome.exit_code)


def _explain(work: Work, watch: bool, form: str) -> int:
    """Every file's values and their origins, and what is wrong; returns the exit code."""
    from handbill.apps.explain import explain
    from handbill.cli.where import explained_data, explained_lines
    from handbill.loader import Loader

    if watch:
        raise click.UsageError("--explain and --watch do not go together", click.get_current_context())
    outcome = Outcome()
    mails: list[dict[str, Any]] = []
    texts: list[str] = []
    loaders: dict[Path, Loader] = {}
    for file in work.files:
        try:
            path = Path(os.path.abspath(file))
            root = root_of(file, path)
            try:
                if root not in loaders:
                    loaders[root] = Loader(root, Cache())
                made = [*explain(loaders[root], path, brand=work.brand, variants=work.variants)]
            except MistakesError as error:
                raise shown(error, root) from None
        except MistakesError as error:
            outcome.mistakes.extend(error.mistakes)
            continue
        mails.extend(explained_data(one, root) for one in made)
        texts.extend("\n".join(explained_lines(one, root)) for one in made)
    if form == "json":
        told = {"mails": mails, "mistakes": plain_mistakes(outcome.mistakes)}
        click.echo(json.dumps(told, ensure_ascii=False, indent=2))
    else:
        if texts:
            click.echo("\n\n".join(texts))
        show_mistakes(outcome)
    return outcome.exit_code


def compile_all(work: Work, progress: Progress | None = None) -> Outcome:
    """Compile every file; one that fails does not stop the others."""
    outcome = Outcome()
    compiler = _Compiler(work)
    for file in work.files:
        try:
            outcome.results.append(compiler.one(file, progress))
        except MistakesError as error:
            outcome.mistakes.extend(error.mistakes)
        if progress is not None:
            progress.step()
    return outcome


def show_mistakes(outcome: Outcome) -> None:
    """One line each on stderr, sorted by place."""
    for mistake in sorted(set(outcome.mistakes)):
        click.echo(str(mistake), err=True)


def show_findings(outcome: Outcome) -> None:
    """What the cheap rules of preflight found, one line each on stderr."""
    told = sorted({str(one) for result in outcome.results for one in result.findings if one.stops})
    for line in told:
        click.echo(line, err=True)
    if told:
        click.echo("handbill preflight says why, and looks at more", err=True)


class _Compiler:
    """One file after another; a workspace is opened when a file of it has changed."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self.cache = Cache()
        self.loaders: dict[Path, Loader] = {}
        self.names: dict[tuple[Path, str], Path] = {}

    def one(self, file: Path, progress: Progress | None) -> CompiledCampaign:
        work, how, path = self.work, self.work.how(), Path(os.path.abspath(file))
        root = root_of(file, path)
        out = Path(os.path.abspath(work.out)) if work.out else root / "out"
        if out.exists() and not out.is_dir():
            raise unusable(Place(str(out)), "not a folder", "a folder to write in")
        last = Last(self.cache, root, path, out, how.options())
        result = last.result()
        if result is not None and self.names.setdefault((out, result.campaign), path) == path:
            return _as_shown(result, root)
        from handbill.batch.run import compile_campaign
        from handbill.loader import Loader

        try:
            if root not in self.loaders:
                self.loaders[root] = Loader(root, self.cache)
            loader = self.loaders[root]
            self._check_name(loader, path, out)
            step, drawn = (progress.part, progress.drawn) if progress is not None else (None, None)
            result = compile_campaign(loader, path, out, how, stamp=last.inputs, step=step, drawn=drawn)
        except MistakesError as error:
            raise shown(error, root) from None
        last.keep(result)
        return _as_shown(result, root)

    def _check_name(self, loader: Loader, path: Path, out: Path) -> None:
        from handbill.base.source import child, place, scalar
        from handbill.pipeline import campaign_file

        named = child(campaign_file(loader, path).root, "campaign")
        first = self.names.setdefault((out, scalar(named) or str(path)), path)
        if named is not None and first != path:
            message = f"{loader.name(first)} is called {scalar(named)} too, and both go to one folder"
            raise MistakesError([Mistake(place(named), "campaign", message, "another name")])


def _as_shown(result: CompiledCampaign, root: Path) -> CompiledCampaign:
    """The files of findings and of maps named as the user's shell would name them."""
    if not result.findings and not result.hosting:
        return result

    def named(file: str) -> str:
        return shown_place(Place(file), root).file

    findings = tuple([one._replace(file=named(one.file)) for one in result.findings])
    hosting = tuple([one._replace(file=named(one.file)) for one in result.hosting])
    return replace(result, findings=findings, hosting=hosting)


def plain_mistakes(mistakes: Sequence[Mistake]) -> list[dict[str, Any]]:
    """Mistakes as data, sorted by place, each once."""
    plain = [asdict(one) for one in sorted(set(mistakes))]
    return [{**one.pop("place"), **one} for one in plain]
