"""What a picture will become. Enters: a `Source` and its slot; leaves: a `Plan`, by arithmetic alone.

Sizes follow CSS: a slot is so many CSS px wide, the file holds `density` pixels for each of them.
"""

from __future__ import annotations

import re
import unicodedata
from hashlib import sha256

from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.pictures.source import Source

RECIPE = 1  # raise when the same plan is to give other pixels: names and cache keys change with it
_TYPES = {"image/jpeg": "jpg", "image/png": "png", "image/gif": "gif"}
_COLOUR = re.compile(r"#(?:[0-9a-f]{3}|[0-9a-f]{6})")
_STEM_LENGTH = 40


@dataclass(frozen=True, slots=True)
class Plan:
    """A picture to be made. `width` and `height` are CSS px, `pixels` the file's width and height.

    `short_of_density`: the source has fewer pixels than the slot asks for. The rest says how it is made:
    `box` is cut from the source (left, top, right, bottom, px) and scaled to `whole`, of which `rows`
    (first, end) are kept, all in the colour `tint` (#rrggbb) if any, over `ground` (#rrggbb) if any;
    `untouched`: the source's own bytes are used.
    `key` is a hash of the source's bytes and all of this.
    """

    source: Source
    name: str
    width: int
    height: int
    pixels: tuple[int, int]
    content_type: str
    short_of_density: bool
    box: tuple[int, int, int, int]
    whole: tuple[int, int]
    rows: tuple[int, int]
    ground: str | None
    untouched: bool
    key: str
    tint: str | None = None


def plan(
    source: Source,
    *,
    width: int,
    density: int = 2,
    ratio: tuple[int, int] | None = None,
    focus: tuple[float, float] = (0.5, 0.5),
    part: tuple[int, int] | None = None,
    ground: str | None = None,
    tint: str | None = None,
) -> Plan:
    """Plan `source` for a slot `width` CSS px wide, `density` pixels to the CSS px (common practice: 2).

    `ratio` (width, height) crops around `focus` (fractions from the left and the top); `part` (top, bottom)
    keeps that slice, in CSS px of the picture as laid out, parts that share an edge join exactly; `ground`
    (#rgb or #rrggbb) fills what is transparent; `tint` takes every colour's place and keeps the transparency.
    A picture is never enlarged. Raises `Fault` for values that make no picture.
    """
    _check(width, density, ratio, focus)
    box = _box(source, ratio, focus)
    across, down = box[2] - box[0], box[3] - box[1]
    height = _tall(width, ratio or (across, down))
    if across <= width * density:
        whole = (across, down)
    else:
        whole = (width * density, min(height * density, down))
    top, bottom = _slice(source, part, height)
    # One rule for every edge, a half going down the picture: parts that share an edge share its row.
    rows = ((2 * top * whole[1] + height) // (2 * height), (2 * bottom * whole[1] + height) // (2 * height))
    if rows[0] == rows[1]:
        raise Fault(f"part {top}-{bottom} of picture {source.path.name} holds no row of pixels")
    flat_ground = _colour(ground) if ground is not None and source.alpha else None
    flat_tint = _colour(tint) if tint is not None else None
    if flat_tint is not None and not source.alpha:
        message = f"picture {source.path.name} has no transparency: tinted, it would be an even field"
        raise Fault(message, expected="a drawing on a transparent ground")
    content_type = _content_type(source, flat_ground)
    untouched = source.animated and (0, 0, *whole) == box and rows == (0, whole[1])
    untouched = untouched and flat_ground is None and flat_tint is None
    recipe = (RECIPE, source.sha256, box, whole, rows, flat_ground, content_type, untouched)
    told = recipe if flat_tint is None else (*recipe, flat_tint)
    key = sha256(repr(told).encode()).hexdigest()
    return Plan(
        source=source,
        name=f"{_stem(source.path.stem)}-{key[:12]}.{_TYPES[content_type]}",
        width=width,
        height=bottom - top,
        pixels=(whole[0], rows[1] - rows[0]),
        content_type=content_type,
        short_of_density=across < width * density,
        box=box,
        whole=whole,
        rows=rows,
        ground=flat_ground,
        untouched=untouched,
        key=key,
        tint=flat_tint,
    )


def _check(width: int, density: int, ratio: tuple[int, int] | None, focus: tuple[float, float]) -> None:
    if width < 1 or density < 1:
        raise Fault(f"a picture cannot be {width} px wide at {density} pixels to the px")
    if ratio is not None and min(ratio) < 1:
        raise Fault(
            f"picture ratio {ratio[0]}:{ratio[1]} is no shape", expected="two numbers above 0, as in 3:2"
        )
    if not all(0 <= share <= 1 for share in focus):
        raise Fault(f"picture focus {focus[0]}, {focus[1]} lies outside", expected="two numbers from 0 to 1")


def _box(
    source: Source, ratio: tuple[int, int] | None, focus: tuple[float, float]
) -> tuple[int, int, int, int]:
    """The largest box of `ratio` in the picture, its middle as near to `focus` as the edges allow."""
    across, down = source.width, source.height
    if ratio is not None:
        if source.width * ratio[1] > source.height * ratio[0]:
            across = max(1, _half_up(source.height * ratio[0], ratio[1]))
        else:
            down = max(1, _half_up(source.width * ratio[1], ratio[0]))
    left = min(max(0, round(focus[0] * source.width - across / 2)), source.width - across)
    top = min(max(0, round(focus[1] * source.height - down / 2)), source.height - down)
    return (left, top, left + across, top + down)


def _tall(width: int, shape: tuple[int, int]) -> int:
    return max(1, _half_up(width * shape[1], shape[0]))


def _half_up(numerator: int, denominator: int) -> int:
    return (2 * numerator + denominator) // (2 * denominator)


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


def _content_type(source: Source, ground: str | None) -> str:
    """GIF moves; JPEG for what is opaque and not drawn flat; PNG for the rest."""
    if source.animated:
        return "image/gif"
    if source.alpha and ground is None:
        return "image/png"
    return "image/png" if source.flat and source.kind != "jpeg" else "image/jpeg"


def _stem(stem: str) -> str:
    """A file name's stem in letters and digits that any server and mail reader takes."""
    plain = unicodedata.normalize("NFKD", stem).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:_STEM_LENGTH].strip("-") or "picture"
