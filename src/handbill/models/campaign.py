"""campaigns/*.yaml: one send. The stack's sections are validated by their blocks' own models."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema

from handbill.models.common import Language, Loose, Model, Name, Version
from handbill.models.preflight import CampaignPreflight
from handbill.models.read import MOMENT, moment, one_of_two

Moment = Annotated[
    Any,
    BeforeValidator(moment),
    WithJsonSchema({"type": "string", "pattern": MOMENT, "description": "A local date and time."}),
]


class MarkdownOffer(Model):
    """Prices already reduced in the catalogue: each product shows what it was and what it is now."""

    kind: Literal["markdown"]
    starts: Moment | None = None
    ends: Moment | None = None


class CodeOffer(Model):
    """A code that the reader types in the shop."""

    kind: Literal["code"]
    code: Loose = Field(min_length=2, max_length=40)
    percent: int | None = Field(None, ge=1, le=100)
    amount: Annotated[Loose | None, AfterValidator(one_of_two)] = None
    least: Loose | None = Field(None, description="The smallest order the code works for.")
    terms: str | None = None
    starts: Moment | None = None
    ends: Moment | None = None


class Campaign(Model):
    """One send. `send` is the only clock: the Date header, deadlines and price windows are judged by it."""

    handbill: Version
    campaign: Name
    brand: Name
    send: Moment
    subject: str = Field(min_length=1)
    preheader: str = ""
    language: Language | None = None
    dir: Literal["ltr", "rtl"] | None = None
    offer: MarkdownOffer | CodeOffer | None = Field(None, discriminator="kind")
    preflight: CampaignPreflight = CampaignPreflight()
    stack: tuple[Any, ...] = Field(min_length=1)
