"""What a picture will become. Enters: a `Source` and its slot; leaves: a `Plan`, by arithmetic alone.

Sizes follow CSS: a slot is so many CSS px wide, the file holds `density` pixels for each of them.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import replace
from hashlib import sha256

from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.pictures.asked import Asked, Box, Shape, Subject
from handbill.pictures.frame import Frame, contained, covering, trimmed
from handbill.pictures.source import Source

RECIPE = 3  # raise when the same plan is to give other pixels: names and cache keys change with it
METHOD = 3  # the same for pictures of which something more is asked
_TYPES = {"image/jpeg": "jpg", "image/png": "png", "image/gif": "gif"}
_FORMS = {"jpeg": "image/jpeg", "png": "image/png", "gif": "image/gif"}
_COLOUR = re.compile(r"#(?:[0-9a-f]{3}|[0-9a-f]{6})")
_STEM_LENGTH = 40


@dataclass(frozen=True, slots=True)
class Plan:
    """A picture to be made. `width` and `height` are CSS px, `pixels` the file's width and height.

    `short_of_density`: the source has fewer pixels than the slot asks for. The rest says how it is made:
    `box` is cut from the source (left, top, right, bottom, px) and scaled to `whole`, or to `inner` (left,
    top, width, height) of it, of which `rows` (first, end) are kept, all in the colour `tint` (#rrggbb) if
    any, over `ground` (#rrggbb) if any, with what else is `asked`; `untouched`: the source's own bytes are
    used; `frames`: the sources of a moving picture in their order, `source` is the first. `key` is a hash of
    the sources' bytes and all of this.
    """

    source: Source
    name: str
    width: int
    height: int
    pixels: tuple[int, int]
    content_type: str
    short_of_density: bool
    box: Box
    whole: tuple[int, int]
    rows: tuple[int, int]
    ground: str | None
    untouched: bool
    key: str
    tint: str | None = None
    inner: Box | None = None
    asked: Asked | None = None
    frames: tuple[Source, ...] = ()

    @property
    def sharpness(self) -> float:
        """Pixels to the CSS px."""
        return self.whole[0] / self.width


def plan(
    source: Source,
    *,
    width: int,
    density: float = 2,
    ratio: Shape | None = None,
    focus: tuple[float, float] = (0.5, 0.5),
    part: tuple[int, int] | None = None,
    ground: str | None = None,
    tint: str | None = None,
    crop: Shape | None = None,
    asked: Asked | None = None,
    subject: Subject | None = None,
) -> Plan:
    """Plan `source` for a slot `width` CSS px wide, `density` pixels to the CSS px (common practice: 2).

    `ratio` (width, height) crops around `focus` (fractions from the left and the top), after the author's own
    `crop`; `part` (top, bottom) keeps that slice, in CSS px of the picture as laid out, parts that share an
    edge join exactly; `ground` (#rgb or #rrggbb) fills what is transparent; `tint` takes every colour's place
    and keeps the transparency. `asked`: what else is done; a picture that is trimmed to its subject needs the
    `subject` (see `study`). A picture is never enlarged. Raises `Fault` for values that make no picture.
    """
    _check(width, density, ratio or crop, focus)
    asked = None if asked == Asked() else asked
    if asked is not None and source.animated:
        message = f"{source.path.name} moves: it can be cut, and nothing else"
        raise Fault(message, expected="a still picture")
    flat_ground = _colour(ground) if ground is not None and source.alpha else None
    if asked is not None and asked.form is not None:
        asked = _formed(source, flat_ground, asked)
    flat_tint = _colour(tint) if tint is not None else None
    if flat_tint is not None and not source.alpha:
        message = f"picture {source.path.name} has no transparency: tinted, it would be an even field"
        raise Fault(message, expected="a drawing on a transparent ground")
    frame = _frame(source, width, density, ratio, focus, crop, asked, subject)
    return framed(source, width, frame, part, flat_ground, flat_tint, asked)


def cut(whole: Plan, at: int) -> tuple[Plan, Plan]:
    """A picture in two that join exactly, `at` CSS px from its top. Raises `Fault` where that leaves
    nothing."""
    frame = Frame(whole.box, whole.whole, whole.inner, whole.height, whole.short_of_density)
    rest = whole.asked
    if rest is not None and rest.blend is not None and rest.blend.height <= at:  # it ends in the upper one
        rest = replace(rest, blend=None)
        rest = None if rest == Asked() else rest
    upper, lower = (
        framed(whole.source, whole.width, frame, part, whole.ground, whole.tint, asked)
        for part, asked in (((0, at), whole.asked), ((at, whole.height), rest))
    )
    return upper, lower


def framed(
    source: Source, width: int, frame: Frame, part: tuple[int, int] | None, ground: str | None,
    tint: str | None, asked: Asked | None, frames: tuple[Source, ...] = (),
) -> Plan:  # fmt: skip
    """The rows of `part` (CSS px) of a frame, named by all that makes them."""
    box, whole, height = frame.box, frame.whole, frame.height
    top, bottom = _slice(source, part, height)
    # One rule for every edge, a half going down the picture: parts that share an edge share its row.
    rows = ((2 * top * whole[1] + height) // (2 * height), (2 * bottom * whole[1] + height) // (2 * height))
    if rows[0] == rows[1]:
        raise Fault(f"part {top}-{bottom} of picture {source.path.name} holds no row of pixels")
    content_type = _content_type(source, ground, asked)
    untouched = source.animated and (0, 0, *whole) == box and rows == (0, whole[1])
    untouched = untouched and ground is None and tint is None
    told: tuple[object, ...] = (
        RECIPE, source.sha256, box, whole, rows, ground, content_type, untouched,
    )  # fmt: skip
    if tint is not None:
        told = (*told, tint)
    if asked is not None:
        told = (*told, METHOD, frame.inner, asked, width)
    key = sha256(repr(told).encode()).hexdigest()
    return Plan(
        source=source,
        name=f"{_stem(source.path.stem)}-{key[:12]}.{_TYPES[content_type]}",
        width=width,
        height=bottom - top,
        pixels=(whole[0], rows[1] - rows[0]),
        content_type=content_type,
        short_of_density=frame.short,
        box=box,
        whole=whole,
        rows=rows,
        ground=ground,
        untouched=untouched,
        key=key,
        tint=tint,
        inner=frame.inner,
        asked=asked,
        frames=frames,
    )


def _frame(
    source: Source, width: int, density: float, ratio: Shape | None, focus: tuple[float, float],
    crop: Shape | None, asked: Asked | None, subject: Subject | None,
) -> Frame:  # fmt: skip
    size = (source.width, source.height)
    fit = asked.fit if asked is not None else None
    extend = asked.extend if asked is not None else None
    if fit is not None and extend is not None:
        raise Fault("a picture is either fitted or extended", expected="fit, or extend")
    if fit is not None and fit.how == "trim":
        if subject is None:
            raise Fault(f"picture {source.path.name} has no subject to trim it to")
        return trimmed(size, width, density, ratio, fit, subject)
    if fit is not None:
        return contained(size, width, density, ratio, crop, focus, fit)
    return covering(size, width, density, ratio, focus, crop, extend)


def _check(width: int, density: float, ratio: Shape | None, focus: tuple[float, float]) -> None:
    if width < 1 or density < 1:
        raise Fault(f"a picture cannot be {width} px wide at {density} pixels to the px")
    if ratio is not None and min(ratio) < 1:
        raise Fault(
            f"picture ratio {ratio[0]}:{ratio[1]} is no shape", expected="two numbers above 0, as in 3:2"
        )
    if not all(0 <= share <= 1 for share in focus):
        raise Fault(f"picture focus {focus[0]}, {focus[1]} lies outside", expected="two numbers from 0 to 1")


def _slice(source: Source, part: tuple[int, int] | None, height: int) -> tuple[int, int]:
    if part is None:
        return (0, height)
    if not 0 <= part[0] < part[1] <= height:
        raise Fault(
            f"part {part[0]}-{part[1]} does not lie in picture {source.path.name}",
            expected=f"two rising numbers from 0 to {height}, its height in px",
        )
    return part


def _colour(ground: str) -> str:
    low = ground.lower()
    if not _COLOUR.fullmatch(low):
        raise Fault(f"{ground} is no colour to put a picture on", expected="#rgb or #rrggbb")
    return low if len(low) == 7 else "#" + "".join(digit * 2 for digit in low[1:])


def _formed(source: Source, ground: str | None, asked: Asked) -> Asked | None:
    """What is asked, without a form that the content has by itself. Raises Fault for a JPEG with holes."""
    free = replace(asked, form=None)
    if _FORMS[asked.form or ""] == _content_type(source, ground, free):
        return None if free == Asked() else free
    if asked.form == "jpeg" and see_through(source, ground, asked):
        message = f"{source.path.name} has transparent parts, which no JPEG has"
        raise Fault(message, expected="format: png, or a ground to put it on")
    return asked


def _content_type(source: Source, ground: str | None, asked: Asked | None) -> str:
    """GIF moves; JPEG for what is opaque and not drawn flat; PNG for the rest."""
    if source.animated or (asked is not None and asked.moving is not None):
        return "image/gif"
    if asked is not None and asked.form is not None:
        return _FORMS[asked.form]
    if see_through(source, ground, asked):
        return "image/png"
    # New ground is shaded and dithered, as no drawing is.
    flat = source.flat and not (asked is not None and asked.extend is not None and not asked.extend.cut)
    return "image/png" if flat and source.kind != "jpeg" else "image/jpeg"


def see_through(source: Source, ground: str | None, asked: Asked | None) -> bool:
    """Whether the finished picture has pixels that are not opaque."""
    if asked is not None and asked.corners is not None and asked.corners.drawn and asked.corners.on is None:
        return True
    if asked is not None and asked.fit is not None:
        return asked.fit.colour is None
    return source.alpha and ground is None


def _stem(stem: str) -> str:
    """A file name's stem in letters and digits that any server and mail reader takes."""
    plain = unicodedata.normalize("NFKD", stem).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:_STEM_LENGTH].strip("-") or "picture"
