"""`handbill`: the group of commands. Each command's module is imported only when it is asked for."""

from __future__ import annotations

import sys
from importlib import import_module
from typing import Any

import click

from handbill import __version__
from handbill.base.errors import HandbillError

COMMANDS = {"compile": "compile", "blocks": "blocks", "schema": "schema"}


class Commands(click.Group):
    """Finds a command's module by its name."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        module = COMMANDS.get(name)
        if module is None:
            return None
        command: click.Command = import_module(f"handbill.cli.{module}").command
        return command

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        from handbill.base.errors import nearest

        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            near = nearest(args[0], COMMANDS)
            ctx.fail(f"no command {args[0]}" + (f"; nearest: {near}" if near else ""))
        return super().resolve_command(ctx, args)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="handbill")
def cli() -> None:
    """Compile declared e-mails into ones that can be sent."""


def main() -> None:
    """The entry point: no traceback ever reaches a user for what they wrote."""
    try:
        cli(standalone_mode=True)
    except HandbillError as error:
        click.echo(str(error), err=True)
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.exit(1)
