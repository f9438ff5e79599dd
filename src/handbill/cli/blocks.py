"""`handbill blocks`: what the library offers and how each block is filled, written from its block.yaml."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from handbill.cli.main import no_command
from handbill.cli.options import brand_option, open_workspace, workspace_option
from handbill.cli.shelf import pick, spec_of, view, where
from handbill.library.spec import BlockSpec, Cycle, FieldSpec, Slot

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


def described(spec: BlockSpec, place: str, own: Mapping[str, Any]) -> Iterator[str]:
    """The page of one block; `own` is what a brand sets instead of the block's defaults and measures."""
    yield f"{spec.block} ({place})"
    yield spec.about
    if spec.use:
        yield f"Use: {spec.use}"
    parts: list[tuple[str, list[tuple[str, ...]]]] = [
        ("fields", list(_fields(spec.fields, own, ""))),
        ("measures", [(name, _measure(own.get(name, value))) for name, value in spec.measures.items()]),
        ("slots", [(name, _slot(slot)) for name, slot in spec.slots.items()]),
        (
            "words",
            [
                (language, word, text)
                for language, table in spec.words.items()
                for word, text in table.items()
            ],
        ),
    ]
    for title, rows in parts:
        if rows:
            yield f"\n{title}"
            yield from (f"  {line}" for line in columns(rows))


def _fields(specs: Mapping[str, FieldSpec], own: Mapping[str, Any], before: str) -> Iterator[tuple[str, ...]]:
    for name, spec in specs.items():
        inner = own.get(name)
        default = spec.default if inner is None or isinstance(inner, Mapping) else inner
        yield before + name, _kind(spec, default), spec.about
        yield from _fields(spec.of, inner if isinstance(inner, Mapping) else {}, before + "  ")


def _kind(spec: FieldSpec, default: Any) -> str:
    parts: list[str] = [spec.type]
    if spec.options:
        parts = [f"{spec.type} of " + " | ".join(spec.options)]
    if spec.required:
        parts.append("required")
    if spec.least:
        parts.append(f"at least {spec.least}")
    if spec.most:
        parts.append(f"at most {spec.most}" + (" characters" if spec.type in ("text", "copy") else ""))
    if isinstance(default, Cycle):
        among = "".join(f" among {name} {value}" for name, value in default.among.items())
        parts.append("default " + ", ".join(default.cycle) + f" in turn{among}")
    elif default is not None:
        parts.append(f"default {default}")
    if spec.inherits:
        parts.append(f"default the brand's {spec.inherits}")
    return ", ".join(parts)


def _measure(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{screen} {size}" for screen, size in value.items())
    return str(value)


def _slot(slot: Slot) -> str:
    made = ", ".join(f"{name} {width}" for name, width in slot.columns.items())
    return f"of {slot.of}: {made}" + (f", gap {slot.gap}" if slot.gap != "0" else "")


def columns(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    """Rows as lines, all but the last column padded to one width."""
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]) - 1)] if rows else []
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        yield "  ".join([*cells, row[-1]]).rstrip()
