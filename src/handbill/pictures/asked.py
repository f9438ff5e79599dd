"""What an author asks of a picture, beyond its slot. Enters: checked values; leaves: frozen plain data.

Lengths are CSS px, colours #rrggbb, shapes (width, height), shares fractions from 0 to 1. A plan's name is
hashed from all of it, so a picture asked for otherwise is another file.
"""

from __future__ import annotations

from handbill.base.frozen import dataclass

Shape = tuple[int, int]
Box = tuple[int, int, int, int]  # left, top, right, bottom


@dataclass(frozen=True, slots=True)
class Extend:
    """A canvas grown by px at the top and the bottom, or until the whole has a shape.

    With a `shape`, `top` and `bottom` are the parts of the growth that each side gets, 0 or 1. `colour`:
    where the new colours go to; None: where the picture's own edge goes. `cut`: a plain band that ends in a
    clean line.
    """

    top: int = 0
    bottom: int = 0
    shape: Shape | None = None
    colour: str | None = None
    cut: bool = False


@dataclass(frozen=True, slots=True)
class Fit:
    """How a picture comes into a shape that is not its own: whole on a plain ground (`contain`), or its
    subject alone, at the size all such subjects have (`trim`). `colour` None: what is around it stays
    transparent."""

    how: str
    colour: str | None = None
    shape: Shape | None = None


@dataclass(frozen=True, slots=True)
class Shade:
    """An even veil for copy over a picture: full from `top` to `bottom` (shares of the height), then
    fading."""

    colour: str
    strength: float
    top: float = 0.0
    bottom: float = 1.0


@dataclass(frozen=True, slots=True)
class Blend:
    """The even `colour` that a picture comes out of, over so many px from its top."""

    colour: str
    height: int


@dataclass(frozen=True, slots=True)
class Border:
    """A line drawn inside the picture's edge, in px."""

    width: int
    colour: str


@dataclass(frozen=True, slots=True)
class Corners:
    """Round corners of `radius` px drawn into the picture, over the colour `on`; None: transparent. Not
    `drawn`: the mail rounds them, and only a border follows them."""

    radius: int
    on: str | None = None
    drawn: bool = False


@dataclass(frozen=True, slots=True)
class Shot:
    """One frame of a moving picture: the SHA-256 of its file, what is cut from it, and how long it stands, in
    hundredths of a second (GIF89a's unit)."""

    sha256: str
    box: Box
    time: int


@dataclass(frozen=True, slots=True)
class Moving:
    """Frames in the order they are shown, the first one first. `fade`: hundredths of a second from one to the
    next, in `steps`; `rounds`: how often all of it plays, 0 for ever; `colours`: the most of a frame,
    `dither`: whether they are mixed to look like more."""

    shots: tuple[Shot, ...]
    fade: int
    rounds: int
    steps: int
    colours: int
    dither: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """All of it; None where nothing was asked. `form`: jpeg, png or gif, where that is not what the content
    decides; `mat`: the colour that half-transparent pixels of a GIF are mixed with."""

    extend: Extend | None = None
    fit: Fit | None = None
    shade: Shade | None = None
    border: Border | None = None
    corners: Corners | None = None
    moving: Moving | None = None
    form: str | None = None
    mat: str | None = None
    rim: str | None = None  # the colour of a thin rim around what is tinted
    blend: Blend | None = None

    def __repr__(self) -> str:
        """As names are hashed from it: of what came later only what is said."""
        since = ("moving", "form", "mat", "rim", "blend")
        later = (part for part in since if getattr(self, part) is not None)
        parts = ("extend", "fit", "shade", "border", "corners", *later)
        return f"Asked({', '.join(f'{part}={getattr(self, part)!r}' for part in parts)})"


@dataclass(frozen=True, slots=True)
class Subject:
    """Where the thing in a product shot is: `box` holds all of it, `solid` leaves out its shadow, `area` is
    what it covers; px of the source."""

    box: Box
    solid: Box
    area: float
