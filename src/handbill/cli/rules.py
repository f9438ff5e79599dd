"""`handbill rules`: what preflight looks for, written from the rules themselves."""

from __future__ import annotations

from collections.abc import Iterator

import click

from handbill.base.errors import Fault
from handbill.cli.blocks import Group, columns
from handbill.preflight.contract import Rule


@click.group(cls=Group)
def command() -> None:
    """What preflight looks for, and why."""


@command.command("list")
def list_rules() -> None:
    """Every rule: its group, how much it weighs, and what holds when it is content."""
    from handbill.preflight.registry import every

    rows = [(rule.slug, rule.group, rule.severity.word, rule.about) for rule in every().values()]
    click.echo("\n".join(columns(rows)))


@command.command("show")
@click.argument("name")
def show_rule(name: str) -> None:
    """One rule: why it is there, what it rests on, and what to do."""
    from handbill.preflight.registry import pick

    try:
        rule = pick(name)
    except Fault as fault:
        near = f"; nearest: {fault.nearest}" if fault.nearest else f"; expected {fault.expected}"
        raise click.UsageError(f"{fault.message}{near}", click.get_current_context()) from None
    click.echo("\n".join(described(rule)))


def described(rule: Rule) -> Iterator[str]:
    """A rule in lines."""
    yield f"{rule.slug}: {rule.about}"
    yield f"{rule.group}, {rule.severity.word}"
    yield ""
    yield rule.why
    yield ""
    yield f"to do     {rule.remedy}"
    yield f"source    {rule.source}"
    if rule.needs:
        yield f"looks at  {', '.join(sorted(rule.needs))}"
    if rule.arm:
        yield f"test arm  practice: [{rule.arm}], in a variant"
