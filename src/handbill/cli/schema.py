"""`handbill schema`: JSON Schema on stdout, so that an editor completes and checks campaigns and brands.

A file's first line tells an editor where its schema is: `# yaml-language-server: $schema=PATH`.
"""

from __future__ import annotations

import json
from pathlib import Path

import click

from handbill.base.errors import MistakesError
from handbill.cli.blocks import Group
from handbill.cli.options import brand_option, must_open, shown, workspace_option
from handbill.cli.shelf import spec_of, view


@click.group(cls=Group)
def command() -> None:
    """JSON Schema (2020-12) of campaigns and of brand.yaml.

    Keep it in a file and point an editor to it by a campaign's first line:

    # yaml-language-server: $schema=../schema/campaign-NAME.json
    """


@command.command("campaign")
@brand_option("The brand whose blocks and tones a campaign may use.", required=True)
@workspace_option
def campaign(brand: str, workspace: Path | None) -> None:
    """The schema of a campaign of one brand."""
    from handbill.cli.schemas import campaign_schema

    loader = must_open(workspace)
    seen = view(loader, brand)
    assert seen.parts is not None  # a brand was asked for
    tones = seen.parts.house.tones
    specs = [spec_of(found) for found in seen.blocks.values()]
    _write(campaign_schema(brand, specs, list(seen.standing), tones))


@command.command("brand")
@workspace_option
def brand(workspace: Path | None) -> None:
    """The schema of a brand.yaml."""
    from handbill.cli.schemas import brand_schema

    loader = must_open(workspace)
    try:
        seen = view(loader, None)
    except MistakesError as error:
        raise shown(error, loader.root) from None
    _write(brand_schema([spec_of(found) for found in seen.blocks.values()]))


def _write(schema: object) -> None:
    click.echo(json.dumps(schema, ensure_ascii=False, indent=2))
