"""`handbill rules`: what preflight looks for, written from the rules themselves."""

from __future__ import annotations

from collections.abc import Iterator

import click

from handbill.base.errors import Fault
from handbill.cli.blocks import Group, columns
from handbill.cli.options import terminal_width
from handbill.preflight.contract import Rule
from handbill.report.people import folded

MOST_NARROW = 30  # columns that a sentence must have beside a rule's name, else it stands under it


@click.group(cls=Group)
def command() -> None:
    """What preflight looks for, and why."""


@command.command("list")
def list_rules() -> None:
    """Every rule: its group, how much it weighs, and what holds when it is content."""
    from handbill.preflight.registry import every

    rows = [(rule.slug, rule.group, rule.severity.word, rule.about) for rule in every().values()]
    width = terminal_width()
    if not width:
        click.echo("\n".join(columns(rows)))
        return
    names, groups = (max(len(row[at]) for row in rows) for at in (0, 1))
    for slug, group, weight, about in rows:
        head = f"{slug.ljust(names)}  {group.ljust(groups)}  {weight.ljust(7)}"
        if width < len(head) + MOST_NARROW:
            click.echo(head.rstrip())
            head = " "
        click.echo("\n".join(folded(about, f"{head}  ", " " * (len(head) + 2), width)))


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
    click.echo("\n".join(described(rule, terminal_width())))


def described(rule: Rule, width: int = 0) -> Iterator[str]:
    """A rule in lines of at most `width` columns; 0 is any width."""
    yield from folded(f"{rule.slug}: {rule.about}", width=width)
    yield f"{rule.group}, {rule.severity.word}"
    yield ""
    yield from folded(rule.why, width=width)
    yield ""
    yield from folded(rule.remedy, "to do     ", " " * 10, width)
    yield from folded(rule.source, "source    ", " " * 10, width)
    if rule.needs:
        yield f"looks at  {', '.join(sorted(rule.needs))}"
    if rule.arm:
        yield f"test arm  practice: [{rule.arm}], in a variant"
