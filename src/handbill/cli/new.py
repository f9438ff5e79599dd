"""`handbill new`: a campaign from an outline, or the beginning of a house style. Nothing is overwritten."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from handbill.base.errors import Fault, Mistake, MistakesError, Place
from handbill.base.files import inside, write_atomic
from handbill.base.source import parse_yaml
from handbill.brand.parts import load_brand
from handbill.cli.blocks import columns
from handbill.cli.options import brand_option, load, must_open, shown, workspace_option
from handbill.loader import MARK, Loader, find_root
from handbill.models.common import NAME, PATTERNS

if TYPE_CHECKING:
    from handbill.apps.taken import Taken


@click.command()
@click.argument("outline", required=False)
@brand_option("The shop that sends it.")
@click.option("--name", metavar="CAMPAIGN", help="What the campaign is called (default: the outline's name).")
@click.option("--house-style", "style", metavar="NAME", help="Start a shop of this name instead.")
@click.option(
    "--colour",
    "colours",
    multiple=True,
    metavar="'#RRGGBB'",
    help="With --house-style: the shop's colour; twice for two.",
)
@click.option(
    "--from",
    "source",
    type=click.Path(path_type=Path),
    metavar="PICTURE",
    help="With --house-style: take the colours from a logo or photo.",
)
@workspace_option
def command(
    outline: str | None,
    brand: str | None,
    name: str | None,
    style: str | None,
    colours: Sequence[str],
    source: Path | None,
    workspace: Path | None,
) -> None:
    """Write a campaign from OUTLINE, ready to fill; alone, list the outlines.

    With --house-style NAME write brands/NAME instead: colours that can be read, in light and dark.
    """
    if style is not None:
        if outline or brand or name:
            raise click.UsageError("--house-style goes with --colour, --from and --workspace alone")
        if colours and source:
            raise click.UsageError("the colours come from --colour or --from, not from both")
        new_style(style, colours, workspace, source)
        return
    if colours or source:
        raise click.UsageError(f"{'--colour' if colours else '--from'} goes with --house-style")
    loader = must_open(workspace)
    try:
        if outline is None:
            list_outlines(loader)
        elif brand is None:
            raise click.UsageError("--brand is missing: whose campaign is it?")
        else:
            new_campaign(loader, outline, brand, name or outline)
    except MistakesError as error:
        raise shown(error, loader.root) from None


def list_outlines(loader: Loader) -> None:
    """Every outline and what it is for."""
    from handbill.apps.outline import about, outlines

    click.echo("\n".join(columns([(name, about(path)) for name, path in outlines(loader).items()])))


def new_campaign(loader: Loader, outline: str, brand: str, name: str) -> None:
    """Write campaigns/NAME.yaml and say what is left to do. Raises MistakesError."""
    from handbill.apps.outline import draft, fit, outlines, pick, stock

    path = pick(outlines(loader), outline)
    target = _free(loader.root, f"campaigns/{_name(name, '--name')}.yaml", "another --name")
    parts = load_brand(loader, brand, Place("--brand"))
    text = path.read_text("utf-8")
    schema = loader.root / "schema" / f"campaign-{brand}.json"
    if schema.is_file():
        text = f"# yaml-language-server: $schema=../schema/{schema.name}\n{text}"
    made = draft(text, loader.name(path), name, brand, stock(loader, parts))
    label = loader.name(target)
    try:
        fit(loader, parse_yaml(made.text.encode(), label))
        wrong: list[Mistake] = []
    except MistakesError as error:
        wrong = sorted(set(error.mistakes))
    _write(target, made.text)
    click.echo(f"{os.path.relpath(target)} written")
    for line in made.missing:
        click.echo(f"  {line}")
    if wrong:
        click.echo("Before it compiles, put right:")
        for one in shown(MistakesError(wrong), loader.root).mistakes:
            click.echo(f"  {one}")
    click.echo(f"Fill it in, then: handbill compile {os.path.relpath(target)}")


def new_style(name: str, colours: Sequence[str], workspace: Path | None, source: Path | None = None) -> None:
    """Write brands/NAME/ with a sample catalogue, outside a workspace its mark too. Raises MistakesError.

    With the picture `source` the colours are taken from it.
    """
    from handbill.apps.samples import folder
    from handbill.apps.style import palette, starter_files

    root = _root(workspace)
    _name(name, "--house-style")
    target = _free(root, f"brands/{name}", "another name")
    wrong = []
    for colour in colours:
        if not re.fullmatch(r"#(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})", colour):
            expected = "six hexadecimal digits such as '#1a2335', in quotes"
            wrong.append(Mistake(Place("--colour"), "", f"{colour!r} is not a colour", expected))
    if len(colours) > 2:
        wrong.append(Mistake(Place("--colour"), "", f"{len(colours)} colours", "one or two"))
    if wrong:
        raise MistakesError(wrong)
    found = _taken(source) if source is not None else None
    made = palette(found.colours, found.ground) if found is not None else palette(colours)
    if not (root / MARK).exists():
        _write(root / MARK, "# Marks a workspace: brands/, campaigns/ and out/ lie beside it.\nhandbill: 1\n")
    for file, data in starter_files(name, made, folder(), source).items():
        path = target / file
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomic(path, data)
    load_brand(load(root), name, Place("--house-style"))
    click.echo(
        f"{os.path.relpath(target)} written: brand.yaml, and a sample catalogue to replace by your own"
    )
    if found is not None:
        for part in found.parts:
            role = {"lead": "leads: buttons", "mark": "marks: links, lines above headings"}.get(part.role)
            share = f"{part.share:.1%} of the picture" if part.share else "since the picture has no colour"
            click.echo(f"  {part.colour} {role or 'lies under the words'} ({share})")
        click.echo("  each mixed with black or white where words need it: 4.5:1, light and dark")
    click.echo(f"A first mail: handbill new launch --brand {name}")


def _taken(source: Path) -> Taken:
    """The colours of a picture. Raises MistakesError."""
    from handbill.apps.taken import taken
    from handbill.base.cache import Cache

    try:
        return taken(source, Cache())
    except Fault as fault:
        raise MistakesError([fault.at(Place("--from"))]) from None


def write_block(name: str, brand: str | None, workspace: Path | None) -> None:
    """Write the folder of a new block for one brand or for all. Raises MistakesError."""
    from handbill.apps.newblock import block_files
    from handbill.library.find import SHARED, blocks

    loader = must_open(workspace)
    try:
        if _name(name, "NAME") == SHARED:
            raise MistakesError([Mistake(Place("NAME"), "", f"{SHARED} is a reserved name", "another name")])
        home = loader.workspace.library
        if brand is not None:
            home = f"brands/{load_brand(loader, brand, Place('--brand')).files.name}"
        target = _free(loader.root, f"{home}/blocks/{name}", "another name")
    except MistakesError as error:
        raise shown(error, loader.root) from None
    for file, text in block_files(name).items():
        _write(target / file, text)
    click.echo(f"{os.path.relpath(target)} written")
    if name in blocks(()):
        click.echo(f"It takes the place of the built-in {name} here.")
    click.echo(f"Use it as `- block: {name}`; its fields: handbill blocks show {name}")


def _root(workspace: Path | None) -> Path:
    if workspace is not None:
        return Path(os.path.abspath(workspace))
    return find_root(Path.cwd()) or Path.cwd()


def _name(name: str, option: str) -> str:
    if not re.match(NAME, name) or len(name) > 80:
        what, expected = PATTERNS[NAME]
        raise MistakesError([Mistake(Place(option), "", f"{name!r} is not {what}", expected)])
    return name


def _free(root: Path, name: str, expected: str) -> Path:
    """Where to write. Raises MistakesError for what is there already and for ways that are links."""
    try:
        path = inside(root, root, name)
    except Fault as fault:
        raise MistakesError([fault.at(Place(name))]) from None
    if path.exists():
        raise MistakesError([Mistake(Place(name), "", "is there already, and stays as it is", expected)])
    return path


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    write_atomic(path, text.encode())
