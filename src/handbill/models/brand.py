"""brand.yaml: one shop's house style, catalogue columns, legal lines and sender."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StringConstraints

from handbill.models.common import Colour, Model, Name, Names, Toggle, Version, Word

Role = str
Reference = Annotated[str, StringConstraints(min_length=1, max_length=200)]


def _pair(value: Any) -> Any:
    """`"#fff"` or a role's name stands for both schemes."""
    return {"light": value, "dark": value} if isinstance(value, str) else value


def _measure(value: Any) -> Any:
    return {"desktop": value, "phone": value} if isinstance(value, str) else value


class ColourPair(Model):
    """A colour in the light and in the dark scheme; a role's name borrows that role's colour."""

    light: Reference
    dark: Reference | None = None


class Measure(Model):
    """CSS px on a desktop and on a phone (screens under 600 px)."""

    desktop: int = Field(ge=0, le=1200)
    phone: int | None = Field(None, ge=0, le=1200)


class Size(Model):
    """What a type role may change on a phone: px."""

    size: float | None = Field(None, ge=8, le=200)
    line: float | None = Field(None, ge=8, le=240)
    tracking: float | None = Field(None, ge=-20, le=40)


class TypeRole(Model):
    """A type role: size, line height and letter-spacing in px."""

    face: str | None = Field(None, description="A CSS font stack that ends in a generic family.")
    size: float | None = Field(None, ge=8, le=200)
    line: float | None = Field(None, ge=8, le=240)
    weight: Literal["400", "700"] | None = None
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


class ButtonStyle(Model):
    """The look of a button in px; the height counts padding and text."""

    height: int = Field(48, ge=32, le=96)
    inset: int = Field(28, ge=8, le=80, description="Space before and after the label.")
    corner: int = Field(0, ge=0, le=60)
    full_width_on_phone: Toggle = False
    arrow: Toggle = False


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

    family: str
    link: str
    weight: Literal["400", "700"] = "400"
    style: Literal["normal", "italic"] = "normal"


class Brand(Model):
    """A shop. Whatever a brand leaves out comes from its parent, then from handbill's plain house style."""

    handbill: Version
    brand: Name
    name: str
    extends: Name | None = None
    site: str
    pictures_at: str
    languages: Names = ("en",)
    timezone: str = "UTC"
    currency: Annotated[str, StringConstraints(pattern=r"^[A-Z]{3}$")] = "EUR"
    whole_amounts: Literal["full", "short"] = "full"
    time_pattern: str | None = Field(
        None, pattern=r"^(?:H{1,2}|h{1,2})[.:h ]?m{2}(?: ?a)?$", description="A CLDR pattern."
    )
    sender: Sender
    postal_address: str = ""
    legal: str = ""
    navigation: tuple[LabelledLink, ...] = ()
    social: tuple[LabelledLink, ...] = ()
    link_tags: dict[str, str] = Field(default_factory=dict)
    products: Columns | None = None
    reviews: Columns | None = None
    logo: Logo | None = None
    colours: dict[Role, Annotated[ColourPair, BeforeValidator(_pair)]] = Field(default_factory=dict)
    tones: dict[Name, dict[Role, Annotated[ColourPair, BeforeValidator(_pair)]]] = Field(default_factory=dict)
    type: dict[Role, TypeRole] = Field(default_factory=dict)
    space: dict[Role, Annotated[Measure, BeforeValidator(_measure)]] = Field(default_factory=dict)
    corners: dict[Role, Annotated[Measure, BeforeValidator(_measure)]] = Field(default_factory=dict)
    button: ButtonStyle = ButtonStyle()
    web_fonts: tuple[WebFont, ...] = ()
    words: dict[str, dict[str, str]] = Field(default_factory=dict)
    blocks: dict[Name, dict[str, Any]] = Field(default_factory=dict)
    standing: dict[str, Any] = Field(default_factory=dict)


__all__ = ["Brand", "Colour", "ColourPair", "Logo", "Measure", "TypeRole"]
