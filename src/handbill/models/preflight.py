"""`preflight:` in campaigns and brands: findings that are accepted, and how much rules weigh."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from handbill.models.common import Filled, Model, Name, wrong


def _reason(value: object) -> object:
    if value is None or (isinstance(value, str) and not value.strip()):
        raise wrong("a rule is silenced without a reason", "why it does not apply here")
    return value


Reason = Annotated[Filled, BeforeValidator(_reason)]


class CampaignPreflight(Model):
    """What preflight lets pass in this campaign."""

    allow: dict[Name, Reason] = Field(
        default_factory=dict, description="Rules to silence, with the reason."
    )


class BrandPreflight(Model):
    """What preflight lets pass in every campaign of this brand, and how it looks at them."""

    allow: dict[Name, Reason] = Field(
        default_factory=dict, description="Rules to silence, with the reason."
    )
    severity: dict[Name, Literal["error", "warning", "note"]] = Field(
        default_factory=dict, description="How much a rule's findings weigh in this shop."
    )
