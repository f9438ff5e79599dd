"""brand.yaml: one shop's house style, catalogue columns, legal lines and sender."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StringConstraints, WithJsonSchema

from handbill.models.common import (
    CURRENCY,
    TIME,
    Colour,
    Language,
    Model,
    Name,
    Toggle,
    Version,
    Word,
    Words,
    wrong,
)
from handbill.models.preflight import BrandPreflight, Truth
from handbill.models.read import lines

Role = str
GENERIC = ("serif", "sans-serif", "monospace", "cursive", "fantasy", "system-ui")
_FAMILY = r"(?:'[\w .-]+'|\"[\w .-]+\"|[^\W\d][\w-]*(?: [\w-]+)*)"
Reference = Annotated[str, StringConstraints(min_length=1, max_length=200)]


def _pair(value: Any) -> Any:
    """`"#fff"` or a role's name stands for both schemes."""
    return {"light": value, "dark": value} if isinstance(value, str) else value


def _measure(value: Any) -> Any:
    return {"desktop": value, "phone": value} if isinstance(value, str) else value


def _stack(value: Any) -> Any:
    """A CSS font stack; it stands in attributes and in the head, so nothing else may hide in it."""
    if isinstance(value, str):
        if not re.fullmatch(rf"{_FAMILY}(?:\s*,\s*{_FAMILY})*", value.strip()):
            raise wrong(
                f"{value!r} is not a font stack", "families such as Georgia, 'Times New Roman', serif"
            )
        if value.rpartition(",")[2].strip() not in GENERIC:
            raise wrong(f"{value!r} names no generic family", "at its end one of " + ", ".join(GENERIC))
    return value


def _family(value: Any) -> Any:
    if isinstance(value, str) and not re.fullmatch(r"[\w .-]+", value):
        raise wrong(f"{value!r} is not the name of a font", "letters, digits, spaces and hyphens")
    return value


def _web_address(value: Any) -> Any:
    """https alone: the address stands in the head's style sheet."""
    if isinstance(value, str) and not re.fullmatch(r"https://[\w./~%:@?=&+-]+", value, re.ASCII):
        raise wrong(f"{value!r} is not an address for a font", "such as https://shop.example/font.woff2")
    return value


Stack = Annotated[str, BeforeValidator(_stack)]
Weight = Annotated[Literal["400", "700"], WithJsonSchema({"enum": [400, 700, "400", "700"]})]


class ColourPair(Model):
    """A colour in the light and in the dark scheme; a role's name borrows that role's colour."""

    light: Reference
    dark: Reference | None = None


class Measure(Model):
    """CSS px on a desktop and on a phone (screens under 600 px)."""

    desktop: int = Field(ge=0, le=1200)
    phone: int | None = Field(None, ge=0, le=1200)


Pair = Annotated[ColourPair, BeforeValidator(_pair, json_schema_input_type=str | ColourPair)]
Length = Annotated[Measure, BeforeValidator(_measure, json_schema_input_type=int | Measure)]


class Size(Model):
    """What a type role may change on a phone: px."""

    size: float | None = Field(None, ge=8, le=200)
    line: float | None = Field(None, ge=8, le=240)
    tracking: float | None = Field(None, ge=-20, le=40)


class TypeRole(Model):
    """A type role: size, line height and letter-spacing in px."""

    face: Stack | None = Field(None, description="A CSS font stack that ends in a generic family.")
    size: float | None = Field(None, ge=8, le=200)
    line: float | None = Field(None, ge=8, le=240)
    weight: Weight | None = None
    style: Literal["normal", "italic"] | None = None
    tracking: float | None = Field(None, ge=-20, le=40)
    underline: Toggle | None = None
    capitals: Toggle | None = None
    phone: Size = Size()


class Logo(Model):
    """`for_light` is drawn for light grounds, `for_dark` for dark ones; width in CSS px."""

    for_light: str
    for_dark: str | None = None
    alt: str
    width: int = Field(ge=16, le=600)
    width_phone: int | None = Field(None, ge=16, le=320)
    width_small: int | None = Field(None, ge=16, le=600, description="The width at the foot.")
    link: str | None = "/"


class Mark(Model):
    """A small drawing in place of a character: `for_light` on light grounds, `for_dark` on dark ones."""

    for_light: str
    for_dark: str | None = None


class Marks(Model):
    """Drawings of the shop's own for ratings and for reviews that were verified."""

    star: Mark | None = Field(None, description="A star given; needs star_empty too.")
    star_empty: Mark | None = Field(None, description="A star not given.")
    verified: Mark | None = None


class ButtonStyle(Model):
    """The look of a button in px; the height counts padding and text."""

    height: int = Field(48, ge=32, le=96)
    inset: int = Field(28, ge=8, le=80, description="Space before and after the label.")
    corner: int = Field(0, ge=0, le=60)
    small_height: int = Field(44, ge=32, le=96, description="Of a small button, on a picture.")
    small_inset: int = Field(20, ge=8, le=80)
    bar_height: int | None = Field(
        None, ge=32, le=120, description="Of a button as wide as what it closes; else the height of all."
    )
    bar_inset: int | None = Field(None, ge=8, le=80)
    full_width_on_phone: Toggle = False
    arrow: Toggle = Field(False, description="An arrow after each label.")


class Columns(Model):
    """A catalogue file and the header each field stands under."""

    file: str
    columns: dict[Word, str] = Field(default_factory=dict)


class LabelledLink(Model):
    """A link of the navigation, with a picture for social links."""

    label: str
    link: str
    icon: str | None = None


class Sender(Model):
    """Who the mail is from."""

    name: str
    address: str
    reply_to: str | None = None


class WebFont(Model):
    """A font to load where readers allow it; the stack's other faces carry the mail elsewhere."""

    family: Annotated[str, BeforeValidator(_family)]
    link: Annotated[str, BeforeValidator(_web_address)]
    weight: Weight = "400"
    style: Literal["normal", "italic"] = "normal"


class Brand(Model):
    """A shop. Whatever a brand leaves out comes from its parent, then from handbill's plain house style."""

    handbill: Version
    brand: Name
    name: str
    extends: Name | None = None
    site: str
    pictures_at: str
    hosted: str | None = Field(
        None, description="A file that says where uploaded pictures are: the columns file and address."
    )
    languages: Annotated[tuple[Language, ...], BeforeValidator(lines), Field(min_length=1)] = ("en",)
    timezone: str = "UTC"
    currency: Annotated[str, StringConstraints(pattern=CURRENCY)] = "EUR"
    whole_amounts: Literal["full", "short"] = "full"
    time_pattern: str | None = Field(None, pattern=TIME, description="A CLDR pattern.")
    sender: Sender
    postal_address: str = ""
    legal: str = ""
    navigation: tuple[LabelledLink, ...] = ()
    social: tuple[LabelledLink, ...] = ()
    link_tags: dict[str, str] = Field(default_factory=dict)
    products: Columns | None = None
    reviews: Columns | None = None
    swatches: dict[str, Colour] = Field(
        default_factory=dict, description="The shop's names of product colours: night blue: '#283b5d'."
    )
    logo: Logo | None = None
    marks: Marks = Marks()
    colours: dict[Role, Pair] = Field(default_factory=dict)
    tones: dict[Name, dict[Role, Pair]] = Field(default_factory=dict)
    type: dict[Role, TypeRole] = Field(default_factory=dict)
    space: dict[Role, Length] = Field(default_factory=dict)
    corners: dict[Role, Length] = Field(default_factory=dict)
    button: ButtonStyle = ButtonStyle()
    web_fonts: tuple[WebFont, ...] = ()
    words: dict[Language, Words] = Field(default_factory=dict)
    blocks: dict[Name, dict[str, Any]] = Field(default_factory=dict)
    preflight: BrandPreflight = BrandPreflight()
    truth: Truth = Truth()


__all__ = ["Brand", "Colour", "ColourPair", "Logo", "Measure", "TypeRole"]
