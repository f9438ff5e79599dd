"""A picture as written in a campaign. Enters: its mapping, or a file's name alone; leaves: `PictureIn`.

Every part that has one common use can be said by that alone: `crop: '4:5'`, `extend: 180`, `shade: auto`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from handbill.models.common import Model, Toggle
from handbill.models.read import Choice, Reference, growth, rounds, shape, share, tinge

MOST_PX = 2000
FITS = ("cover", "contain", "trim")
FORMATS = ("auto", "jpeg", "png", "gif")
_RATIO = r"^[1-9][0-9]{0,3}:[1-9][0-9]{0,3}$"
Shape = Annotated[str, BeforeValidator(shape), WithJsonSchema({"type": "string", "pattern": _RATIO})]
Growth = Annotated[
    str,
    BeforeValidator(growth),
    WithJsonSchema(
        {"anyOf": [{"type": "integer", "minimum": 0}, {"type": "string", "pattern": "^[0-9:]+$"}]}
    ),
]
Share = Annotated[
    str,
    BeforeValidator(share),
    WithJsonSchema({"anyOf": [{"const": "auto"}, {"type": "number", "minimum": 0, "maximum": 1}]}),
]
Tinge = Annotated[str, BeforeValidator(tinge), WithJsonSchema({"type": "string"})]
Rounds = Annotated[
    int,
    BeforeValidator(rounds),
    WithJsonSchema({"anyOf": [{"const": "forever"}, {"type": "integer", "minimum": 1, "maximum": 1000}]}),
]
Px = Annotated[int, Field(ge=0, le=MOST_PX)]


class CropIn(Model):
    """What is kept of a picture."""

    ratio: Shape = Field(description="The shape it is cut to, width to height: '4:5'.")
    focus: str | None = Field(None, description="The point a cut keeps: two fractions, '0.5 0.3'.")


class ExtendIn(Model):
    """New ground above or below, which goes on from the picture's edge."""

    top: Growth | None = Field(None, description="px at 600, or the shape the whole is to have: '4:5'.")
    bottom: Growth | None = Field(None, description="The same, below.")
    both: Growth | None = Field(None, description="px on either side, or a shape, half of it on either.")
    colour: Tinge = Field(
        "auto", description="Where the new ground goes to: auto, a colour or a colour role."
    )
    join: Annotated[Literal["smooth", "cut"], BeforeValidator(Choice(("smooth", "cut")))] = Field(
        "smooth", description="cut: a plain band of the colour, with a clean line."
    )


class FitIn(Model):
    """How it comes into a shape that is not its own."""

    how: Annotated[Literal["cover", "contain", "trim"], BeforeValidator(Choice(FITS))] = Field(
        description="cover cuts, contain shows all of it, trim shows its subject without its backdrop."
    )
    colour: Tinge = Field("tile", description="What is around it: a colour, a colour role, or none.")
    shape: Shape | None = Field(None, description="The shape to fill, where the block says none.")


class ShadeIn(Model):
    """A veil for copy over it."""

    strength: Share = Field("auto", description="auto: as much as copy needs to be legible (4.5:1).")
    colour: Tinge = Field("auto", description="auto: the section's ground, or black or white.")
    over: Annotated[Literal["copy", "all"], BeforeValidator(Choice(("copy", "all")))] = Field(
        "copy", description="Where the copy stands, or all of the picture."
    )


class BorderIn(Model):
    """A line drawn inside its edge."""

    width: Px = Field(description="px.")
    colour: Tinge = "line"


class CornersIn(Model):
    """Round corners."""

    radius: Px = Field(description="px.")
    drawn: Toggle = Field(False, description="In the picture itself, for readers that round nothing.")
    on: Tinge = Field("ground", description="The colour behind drawn corners: a colour, a role, or none.")


Crop = Annotated[CropIn, BeforeValidator(Reference("ratio"), json_schema_input_type=str | CropIn)]
Extend = Annotated[ExtendIn, BeforeValidator(Reference("top"), json_schema_input_type=int | str | ExtendIn)]
Fit = Annotated[FitIn, BeforeValidator(Reference("how"), json_schema_input_type=str | FitIn)]
Shade = Annotated[
    ShadeIn, BeforeValidator(Reference("strength"), json_schema_input_type=float | str | ShadeIn)
]
Border = Annotated[BorderIn, BeforeValidator(Reference("width"), json_schema_input_type=int | BorderIn)]
Corners = Annotated[CornersIn, BeforeValidator(Reference("radius"), json_schema_input_type=int | CornersIn)]


class PhoneIn(Model):
    """The picture that narrow screens show in its place."""

    file: str | None = Field(None, min_length=1)
    crop: Crop | None = None
    focus: str | None = None
    extend: Extend | None = None


Phone = Annotated[PhoneIn, BeforeValidator(Reference("file"), json_schema_input_type=str | PhoneIn)]


class FrameIn(Model):
    """One picture of a moving one."""

    file: str = Field(min_length=1)
    seconds: float = Field(1, ge=0.1, le=60, description="How long it stands.")


Frame = Annotated[FrameIn, BeforeValidator(Reference("file"), json_schema_input_type=str | FrameIn)]
MOST_FRAMES = 50


class PictureIn(Model):
    """A picture file sought in the brand's pictures, then its parents'; without a dot, a built-in icon.

    Of a moving picture `file` is its first frame's.
    """

    file: str = Field(min_length=1)
    alt: str | None = Field(None, description="What the picture shows, for those who do not see it.")
    decorative: Toggle = Field(False, description="It says nothing that the copy does not: no alt text.")
    dark: str | None = Field(None, description="Another file for dark screens.")
    link: str | None = None
    focus: str | None = Field(None, description="The point a crop keeps: two fractions, '0.5 0.3'.")
    tint: Toggle = Field(False, description="Drawn in a colour of the house style, as built-in icons are.")
    crop: Crop | None = None
    extend: Extend | None = None
    fit: Fit | None = None
    border: Border | None = None
    corners: Corners | None = None
    shade: Shade | None = None
    density: Annotated[Literal["1", "2"], BeforeValidator(Choice(("1", "2")))] | None = Field(
        None, description="Pixels of its file to each px it is shown at."
    )
    format: Annotated[Literal["auto", "jpeg", "png", "gif"], BeforeValidator(Choice(FORMATS))] = Field(
        "auto", description="The kind of file it becomes; auto: by its content."
    )
    phone: Phone | None = Field(None, description="Another file or cut for narrow screens.")
    frames: Annotated[tuple[Frame, ...], Field(min_length=2, max_length=MOST_FRAMES)] | None = Field(
        None, description="In place of file: pictures that follow one another."
    )
    first: int | None = Field(
        None, ge=1, description="The frame that begins, counted from 1: some readers show no other."
    )
    fade: float = Field(0, ge=0, le=2, description="Seconds from one frame into the next; 0: at once.")
    rounds: Rounds = Field(1, description="How often all of it plays: a number, or forever.")
    max_kb: int | None = Field(None, ge=1, le=20_000, description="The most its file may weigh, KB of 1024.")
