"""`handbill`: the group of commands. Each command's module is imported only when it is asked for."""

from __future__ import annotations

import gc
import os
import sys
from importlib import import_module
from typing import Any, NoReturn

import click

from handbill import __version__
from handbill.base.errors import HandbillError

COMMANDS = {
    "compile": "Campaign files into HTML, plain text and .eml.",
    "preflight": "What is wrong with a mail before it goes out, and on which line.",
    "rules": "What preflight looks for, and why.",
    "new": "A campaign from an outline, or the beginning of a house style.",
    "variants": "Which mails a campaign makes, and how two of them differ.",
    "texts": "A campaign's words in other languages.",
    "blocks": "The blocks a campaign can use, and their fields.",
    "schema": "JSON Schema, so that an editor completes and checks.",
}
WRONG_USE = 2  # exit code
COLLECT_AFTER = 200_000  # new objects: a run of a few mails makes no garbage worth looking for
INTERRUPTED = 130  # exit code: 128 and the number of SIGINT, as shells have it


class Commands(click.Group):
    """Finds a command's module by its name; help is written without importing one."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        command: click.Command = import_module(f"handbill.cli.{name}").command
        return command

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            raise no_command(args[0], list(COMMANDS), ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="handbill")
def cli() -> None:
    """Compile declared e-mails into ones that can be sent.

    A workspace is a folder with a handbill.yaml; campaigns lie in campaigns/, shops in brands/.
    """


def no_command(name: str, known: list[str], ctx: click.Context) -> click.UsageError:
    """The error for an unknown command."""
    from handbill.base.errors import nearest

    near = nearest(name, known)
    hint = f"nearest: {near}" if near else "expected one of " + ", ".join(known)
    return click.UsageError(f"no command {name}; {hint}", ctx)


def main() -> NoReturn:
    """The command line as other code may call it: raises SystemExit with the exit code."""
    sys.exit(_run())


def console() -> NoReturn:
    """The program itself: one short run, whose memory the system takes back at once when it ends."""
    gc.set_threshold(COLLECT_AFTER)
    try:
        code = _run()
    except SystemExit as end:
        if not isinstance(end.code, int | None):
            raise
        code = end.code or 0
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except OSError:  # whoever reads has gone
        code = code or 1
    os._exit(code)


def _run() -> int:
    """The exit code; one line for what the user got wrong, never a traceback."""
    try:
        code = cli(standalone_mode=False)
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message(), err=True)
        code = WRONG_USE
    except click.UsageError as error:
        click.echo(f"{error.ctx.command_path if error.ctx else 'handbill'}: {_worded(error)}", err=True)
        code = WRONG_USE
    except click.ClickException as error:
        click.echo(f"handbill: {error.format_message()}", err=True)
        code = error.exit_code
    except HandbillError as error:
        click.echo(str(error), err=True)
        code = error.exit_code
    except (KeyboardInterrupt, click.Abort):
        click.echo("handbill: interrupted; what lies there is whole", err=True)
        code = INTERRUPTED
    except BrokenPipeError:
        # whoever reads has gone; the interpreter must not complain about it when it flushes at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 1
    return code if isinstance(code, int) else 0


def _worded(error: click.UsageError) -> str:
    """What was wrong on the command line, with the nearest spelling."""
    from handbill.base.errors import nearest

    if isinstance(error, click.NoSuchOption):
        known = [one for param in error.ctx.command.params for one in param.opts] if error.ctx else []
        near = nearest(error.option_name, [one for one in known if one.startswith("--")])
        return f"no option {error.option_name}" + (f"; nearest: {near}" if near else "")
    if isinstance(error, click.MissingParameter) and error.param is not None:
        option = isinstance(error.param, click.Option)
        name = error.param.opts[0] if option else error.param.make_metavar(error.ctx or click.Context(cli))
        return f"{name} is missing"
    if isinstance(error, click.BadParameter) and error.param is not None:
        return f"{error.param.opts[0]}: {error.message}"
    return " ".join(error.format_message().split())
