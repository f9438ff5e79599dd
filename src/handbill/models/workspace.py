"""handbill.yaml: the workspace's mark, its dialect, example recipients and budgets."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from handbill.models.common import Model, Toggle, Version, Word


class FieldRule(Model):
    """What the sending program knows of a recipient field."""

    encoded: Toggle = Field(
        False, description="The value is already percent-encoded, so it may stand in links."
    )


class Sample(Model):
    """An example recipient for proofs and .eml files."""

    address: str = Field("reader@example.com", description="The To address of a test mail.")
    fields: dict[Word, str] = Field(default_factory=dict, description="Values of recipient fields.")
    links: dict[Word, str] = Field(default_factory=dict, description="Values of system links.")


class Budgets(Model):
    """Weights in KB of 1024 bytes: of a mail, that a finding is made of when it passes them; of a picture,
    that it is made to keep."""

    html_kb: int = Field(102, ge=1, description="One large webmail shows no more HTML than this.")
    pictures_kb: int = Field(2048, ge=1, description="All pictures of a mail together.")
    picture_kb: int | None = Field(
        None, ge=1, description="Any one picture that stands still and has no max_kb of its own."
    )


class Workspace(Model):
    """The file at the root of a workspace."""

    handbill: Version
    library: str = Field("library", description="The folder of blocks and standing sections for every shop.")
    dialect: str | dict[str, Any] = Field("jinja", description="How send-time fields are written.")
    fields: dict[Word, FieldRule] = Field(default_factory=dict)
    samples: tuple[Sample, ...] = ()
    budgets: Budgets = Budgets()
