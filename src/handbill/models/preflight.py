"""`preflight:` in campaigns and brands: findings that are accepted, how much rules weigh, the screen."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, field_validator

from handbill.models.common import Filled, Language, Model, Name
from handbill.models.read import day, lines, reason, wrong

Reason = Annotated[Filled, BeforeValidator(reason)]
CalendarDay = Annotated[
    Any,
    BeforeValidator(day),
    WithJsonSchema({"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$", "description": "A date."}),
]
Meaning = Literal[
    "percent", "off", "save", "up_to", "from", "half", "free", "ends", "starts", "today", "tomorrow", "hours",
    "days", "left", "code", "least", "offer", "elsewhere", "rated",
]  # fmt: skip
Phrases = Annotated[tuple[Filled, ...], BeforeValidator(lines)]


class CampaignPreflight(Model):
    """What preflight lets pass in this campaign."""

    allow: dict[Name, Reason] = Field(default_factory=dict, description="Rules to silence, with the reason.")


class FirstScreen(Model):
    """The phone that a mail is judged on. How much of a mail shows at first differs from reader to reader, so
    whatever stands here is an assumption."""

    width: int = Field(390, ge=320, le=600, description="CSS px.")
    height: int = Field(844, ge=400, le=2000, description="CSS px.")
    first: int | None = Field(
        None, ge=100, le=2000,
        description="CSS px of a mail that show before anyone scrolls; 0.7 of the height unless given.",
    )  # fmt: skip

    @field_validator("first")
    @classmethod
    def _within(cls, first: int | None, info: ValidationInfo) -> int | None:
        height = info.data.get("height")
        if first is not None and height is not None and first > height:
            raise wrong(f"{first} px are more than the screen's height", f"at most {height}")
        return first


class BrandPreflight(Model):
    """What preflight lets pass in every campaign of this brand, and how it looks at them."""

    allow: dict[Name, Reason] = Field(default_factory=dict, description="Rules to silence, with the reason.")
    severity: dict[Name, Literal["error", "warning", "note"]] = Field(
        default_factory=dict, description="How much a rule's findings weigh in this shop."
    )
    screen: FirstScreen = FirstScreen()


class Truth(Model):
    """What claims are held against beside the catalogue, and the shop's own words for them."""

    prices: str | None = Field(None, description="A .csv file of what products cost: sku, from, price.")
    feed: CalendarDay | None = Field(None, description="The day the catalogue was taken from the shop.")
    feed_days: int = Field(7, ge=0, le=366, description="Days after which the catalogue is old.")
    phrases: dict[Language, dict[Meaning, Phrases]] = Field(
        default_factory=dict, description="Words that make a claim of a number, by language and meaning."
    )
