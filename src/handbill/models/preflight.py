"""`preflight:` in campaigns and brands: findings that are accepted, and how much rules weigh."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from handbill.models.common import Filled, Model, Name
from handbill.models.read import reason

Reason = Annotated[Filled, BeforeValidator(reason)]


class CampaignPreflight(Model):
    """What preflight lets pass in this campaign."""

    allow: dict[Name, Reason] = Field(default_factory=dict, description="Rules to silence, with the reason.")


class BrandPreflight(Model):
    """What preflight lets pass in every campaign of this brand, and how it looks at them."""

    allow: dict[Name, Reason] = Field(default_factory=dict, description="Rules to silence, with the reason.")
    severity: dict[Name, Literal["error", "warning", "note"]] = Field(
        default_factory=dict, description="How much a rule's findings weigh in this shop."
    )
