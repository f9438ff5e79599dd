"""campaigns/*.yaml: one send. The stack's sections are validated by their blocks' own models."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from handbill.models.common import Model, Name, Toggle, Version


def _moment(value: Any) -> Any:
    """ISO 8601 local date and time, to the minute or the second."""
    from datetime import datetime

    if isinstance(value, str):
        try:
            moment = datetime.fromisoformat(value)
        except ValueError:
            moment = None
        if moment is not None and len(value) >= 16 and moment.tzinfo is None:
            return moment
        raise PydanticCustomError(
            "handbill",
            "{message}",
            {"message": f"{value!r} is not a date and time", "expected": "such as 2027-01-15T08:00"},
        )
    return value


Moment = Annotated[Any, BeforeValidator(_moment)]


class MarkdownOffer(Model):
    """Prices already reduced in the catalogue: each product shows what it was and what it is now."""

    kind: Literal["markdown"]
    starts: Moment | None = None
    ends: Moment | None = None


class CodeOffer(Model):
    """A code that the reader types in the shop."""

    kind: Literal["code"]
    code: str = Field(min_length=2, max_length=40)
    percent: int | None = Field(None, ge=1, le=100)
    amount: str | None = None
    least: str | None = Field(None, description="The smallest order the code works for.")
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
    language: str | None = None
    dir: Literal["ltr", "rtl"] | None = None
    offer: MarkdownOffer | CodeOffer | None = Field(None, discriminator="kind")
    to_all: Toggle = True
    stack: tuple[Any, ...] = Field(min_length=1)
