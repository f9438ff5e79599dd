"""`handbill blocks`: what the library offers and how each block is filled, written from its block.yaml."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from handbill.apps.describe import field_rows, measure_rows, slot_rows, word_rows
from handbill.cli.main import no_command
from handbill.cli.options import brand_option, open_workspace, workspace_option
from handbill.cli.sheet import sheet
from handbill.cli.shelf import pick, spec_of, view, where
from handbill.library.spec import BlockSpec

_BRAND = "As this brand sees the library."


class Group(click.Group):
    """Says which command comes nearest to an unknown one."""

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        if args and args[0] not in self.commands and not args[0].startswith("-"):
            raise no_command(args[0], list(self.commands), ctx)
        return super().resolve_command(ctx, args)


@click.group(cls=Group)
def command() -> None:
    """The blocks a campaign can use, and their fields."""


@command.command("list")
@brand_option(_BRAND)
@workspace_option
def list_blocks(brand: str | None, workspace: Path | None) -> None:
    """Every visible block, where it lives, and what it is."""
    seen = view(open_workspace(workspace), brand)
    rows = [(found.name, where(found), spec_of(found).about) for found in seen.blocks.values()]
    click.echo("\n".join(columns(rows)))


@command.command("show")
@click.argument("name")
@brand_option(_BRAND)
@workspace_option
def show_block(name: str, brand: str | None, workspace: Path | None) -> None:
    """One block: what it is for, its fields, measures, slots and words."""
    seen = view(open_workspace(workspace), brand)
    found = pick(seen.blocks, name)
    own = seen.parts.brand.blocks.get(name, {}) if seen.parts else {}
    click.echo("\n".join(described(spec_of(found), where(found), own)))


@command.command("where")
@click.argument("name")
@brand_option("As this brand sees it; otherwise one paragraph for each brand.")
@workspace_option
def where_block(name: str, brand: str | None, workspace: Path | None) -> None:
    """Where a block lives, which others it hides, and which lines of brand.yaml change it."""
    from handbill.apps.places import whereabouts
    from handbill.cli.where import where_lines

    loader = open_workspace(workspace)
    pick(view(loader, brand).blocks, name)
    root = loader.root if loader is not None else None
    brands: list[str | None] = [brand]
    if brand is None and loader is not None:
        brands = [*loader.brand_names()] or brands
    seen = [whereabouts(loader, one, name) for one in brands]
    click.echo("\n".join(line for one in seen for line in where_lines(one, name, root)))


def described(spec: BlockSpec, place: str, own: Mapping[str, Any]) -> Iterator[str]:
    """The page of one block; `own` is what a brand sets instead of the block's defaults and measures."""
    yield f"{spec.block} ({place})"
    yield spec.about
    if spec.use:
        yield f"Use: {spec.use}"
    parts: list[tuple[str, list[tuple[str, ...]]]] = [
        ("fields", [*field_rows(spec.fields, own)]),
        ("measures", [*measure_rows(spec, own)]),
        ("slots", [*slot_rows(spec)]),
        ("words", [*word_rows(spec)]),
    ]
    for title, rows in parts:
        if rows:
            yield f"\n{title}"
            yield from (f"  {line}" for line in columns(rows))


@command.command("new")
@click.argument("name")
@brand_option("For this shop alone (default: the workspace's library, for every shop).")
@workspace_option
def new_block(name: str, brand: str | None, workspace: Path | None) -> None:
    """Write the folder of a small block, explained, that compiles at once."""
    from handbill.cli.new import write_block

    write_block(name, brand, workspace)


command.add_command(sheet)


def columns(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    """Rows as lines, all but the last column padded to one width."""
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]) - 1)] if rows else []
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        yield "  ".join([*cells, row[-1]]).rstrip()
