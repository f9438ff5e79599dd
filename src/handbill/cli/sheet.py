"""`handbill blocks sheet`: every block of a workspace on one page, its sample in each of the shops."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import click

from handbill.base.errors import Mistake, MistakesError, Place
from handbill.base.files import write_atomic
from handbill.cli.options import must_open, shown, workspace_option
from handbill.cli.progress import Progress
from handbill.cli.shelf import spec_of, view, where
from handbill.library.find import Found
from handbill.loader import Loader

KB = 1024


@click.command("sheet")
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE.html")
@click.option(
    "--brand", "brands", multiple=True, metavar="NAME", help="Only in this shop; may be given again."
)
@workspace_option
def sheet(file: Path, brands: Sequence[str], workspace: Path | None) -> None:
    """Write the library as one page: each block, its fields, and its sample on desktop and phone."""
    loader = must_open(workspace)
    if file.suffix.lower() not in (".html", ".htm") or file.is_symlink() or file.is_dir():
        raise MistakesError([Mistake(Place(str(file)), "", "cannot hold the page", "a file NAME.html")])
    try:
        text = gallery(loader, tuple(brands) or tuple(loader.brand_names()))
    except MistakesError as error:
        raise shown(error, loader.root) from None
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        write_atomic(file, text.encode())
    except OSError as error:
        wrong = Mistake(Place(str(file)), "", f"cannot be written: {error.strerror}")
        raise MistakesError([wrong]) from None
    click.echo(f"{os.path.relpath(file)} written, {len(text.encode()) // KB} KB")


def gallery(loader: Loader, brands: Sequence[str]) -> str:
    """The page's HTML. Raises MistakesError with everything that keeps a sample from compiling."""
    from handbill.apps.samples import Sample, compile_sample, has_sample, visible
    from handbill.apps.sheet import Entry, page

    seen: dict[tuple[str, str, str], tuple[Found, list[str]]] = {}
    for brand in brands:
        for found in visible(loader, brand).values():
            # a brand may have a block of its own under the name of a built-in one: both are shown
            key = (found.name, "" if found.label == "built in" else found.label, str(found.folder))
            seen.setdefault(key, (found, []))[1].append(brand)
    if not brands:
        seen = {(one.name, one.label, ""): (one, []) for one in view(loader, None).blocks.values()}
    wrong: list[Mistake] = []
    entries = []
    with Progress(len(seen), enabled=True) as progress:
        for _key, (found, shops) in sorted(seen.items()):
            samples: list[Sample] = []
            for brand in shops if has_sample(found) else ():
                try:
                    samples.append(compile_sample(loader, brand, found))
                except MistakesError as error:
                    wrong.extend(error.mistakes)
            own = found.label != "built in"
            place = f"{found.label}, {loader.name(found.folder)}" if own else where(found)
            entries.append(Entry(spec_of(found), place, own, tuple(samples)))
            progress.step()
    if wrong:
        raise MistakesError(sorted(set(wrong)))
    return page("Library", entries, loader.cache)
