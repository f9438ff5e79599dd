"""Product shots. Enters: a cut-out, or a shot on one plain colour; leaves: its subject, and that subject
alone.

A shot's backdrop is what can be reached from its edge through colours like the edge's, and further through
soft shadows. Behind the subject's own colours nothing is reached, so a white mug on white keeps its
highlights.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from PIL import Image, ImageFilter

from handbill.pictures.asked import Subject
from handbill.pictures.colour import (
    difference,
    hex_of,
    lab_of,
)  # fmt: skip

SIDE = 400  # px of the longer side at which a shot is studied
SOLID = 128  # alpha from which a cut-out's pixel is the thing and not its shadow
SEEN = 8  # alpha from which a pixel shows at all
PLAIN = 0.8  # share of the edge that must be near one colour
NEAR = 4.0  # OKLab difference times 100: the backdrop's own unevenness
LIKE = 6.0  # further off than this is the subject
SHADOW_TINT = 1.0  # a shadow keeps the backdrop's hue this closely, OKLab times 100
SHADOW_DEPTH = 0.75  # is darker by at most this, OKLab L
SHADOW_TOP = 0.55  # begins so far down the subject: higher up, a grey thing's own shades look alike
GENTLE = 2.5  # a soft shadow's L times 100 changes by less than this from one studied px to the next
STEEP = 6.0  # where the thing stands it may change by this much,
CONTACT = 8  # studied px far, and lower than this: further in it would be the thing itself
CONTACT_TOP = 0.8
SOFT_DEPTH = 0.5  # and a soft one is darker by at most this
SAME = 1.5  # OKLab times 100: an enclosed place this like the backdrop is a hole, such as a handle's
HOLE = 0.0005  # of the picture: a smaller one is a highlight
SHARP = 8.0  # a hole ends at once on every side, OKLab times 100; a highlight fades
MARGIN = 0.04  # of the thing's longer side, around it when it is looked at from near
SPREAD = 4  # px that the subject's colours reach into its rim
BITE = 3  # studied px of the whole picture: half as wide as the bites that are filled
CRUMB = 1  # the same of the crumbs that go
APART = 0.02  # 1 - cos^2 of the angle between two colours of which shares can be told
FAINT = 1.0  # OKLab times 100: less of a shadow than this is not seen to end
SPECK = 0.0005  # of the picture: less than that is dust
Mask = np.ndarray


class NotPlainError(Exception):
    """The shot has no plain backdrop."""


def subject(picture: Image.Image) -> Subject:
    """Where the subject is. Raises NotPlainError for a shot without a plain backdrop, or an empty one."""
    small, scale = studied(picture)
    if _cut_out(picture):
        alpha = np.asarray(small.getchannel("A"))
        seen, solid = alpha >= SEEN, _clean(alpha >= SOLID)
    else:
        backdrop, shadow, ground = _backdrop(small)
        solid = _clean(~(backdrop | shadow))
        off = difference(lab_of(np.asarray(small.convert("RGB"))), lab_of(np.array(ground)))
        seen = _clean(off > FAINT)
    if not solid.any():
        raise NotPlainError("holds nothing that stands out from its backdrop")
    around = _swollen(_swollen(seen | solid))  # room for the soft rim
    box, tight = _bounds(around, scale, picture.size), _bounds(solid, scale, picture.size)
    return Subject(box, tight, float(solid.sum()) * scale * scale)


def alone(picture: Image.Image) -> Image.Image:
    """The subject without its backdrop, RGBA; its shadow is half-transparent black."""
    if _cut_out(picture):
        return picture
    small, scale = studied(picture)
    _backdrop_of_all, _shadow, ground = _backdrop(small)
    seen = _clean(difference(lab_of(np.asarray(small.convert("RGB"))), lab_of(np.array(ground))) > FAINT)
    if not seen.any():
        return Image.new("RGBA", picture.size)
    left, top, right, bottom = _bounds(seen, scale, picture.size)
    room = MARGIN * max(right - left, bottom - top)
    box = (max(0, int(left - room)), max(0, int(top - room)),
           min(picture.width, int(right + room)), min(picture.height, int(bottom + room)))  # fmt: skip
    near = picture.crop(box)  # looked at again from near: a thing that is small in its picture has a rim too
    small, finer = studied(near)
    backdrop, shadow, _ground = _backdrop(small, ground, scale / finer)
    kept = _without_crumbs(_clean(~(backdrop | shadow)), round(CRUMB * scale / finer))
    whole = Image.new("RGBA", picture.size)
    whole.paste(_taken_out(near, kept, np.array(ground, dtype=np.uint8)), box[:2])
    return whole


def _without_crumbs(kept: Mask, across: int) -> Mask:
    """Without what a shadow leaves of itself where the thing stands: an even line is likelier."""
    rows = np.flatnonzero(kept.any(axis=1))
    foot = int(rows[0] + (rows[-1] - rows[0]) * CONTACT_TOP) if rows.size else 0
    smooth, kept = kept, kept.copy()
    for _ in range(across):
        smooth = _shrunk(smooth)
    for _ in range(across):
        smooth = _swollen(smooth)
    kept[foot:] = smooth[foot:]
    return kept


def _closed(mask: Mask, across: int) -> Mask:
    """`mask` with what lies between parts of it that are up to twice so many px apart."""
    grown = np.pad(mask, across)
    for _ in range(across):
        grown = _swollen(grown)
    for _ in range(across):
        grown = _shrunk(grown)
    return grown[across:-across, across:-across]


def _taken_out(picture: Image.Image, kept: Mask, ground: Any) -> Image.Image:
    """What is `kept` at the studied size, its rim told pixel by pixel, and the shadow around it."""
    levels = np.asarray(picture.convert("RGB"))
    thing = _grown(kept, picture.size, 2)  # a little more than the subject
    core = _grown(_shrunk(kept), picture.size, 0)
    out = np.empty((*levels.shape[:2], 4), dtype=np.uint8)
    out[..., :3], out[..., 3] = levels, 255  # the core is as it was
    outside = core < 128
    own = _spread(levels, core >= 128)
    out[outside] = _outside(levels[outside], thing[outside] > 0, ground, own[outside])
    return Image.fromarray(out, "RGBA")


def _spread(levels: Any, core: Any) -> Any:
    """The colours of the core, spread a little beyond it: what the rim is made of."""
    weight = Image.fromarray(core.astype(np.uint8) * 255)
    masked = Image.fromarray(np.where(core[..., None], levels, 0).astype(np.uint8))
    blur = ImageFilter.BoxBlur(SPREAD)
    sums, count = np.asarray(masked.filter(blur), np.float32), np.asarray(weight.filter(blur), np.float32)
    return np.clip(sums * (255 / np.maximum(count, 1))[..., None], 0, 255).astype(np.uint8)


def _outside(levels: Any, near: Any, ground: Any, own: Any) -> Any:
    """What is not surely the subject, (pixels, 4): shadow, and, where it is `near`, some of the subject.

    There a pixel is a F + t B in shares of the subject's colour F (`own`) and of the backdrop B, by least
    squares; where t is less than 1 - a, the rest is shadow. All in sRGB, in which the parts are put together
    again: on its own backdrop the picture is as it was.
    """
    under = np.asarray(ground, np.float32)
    bb = float(under @ under)
    dark = np.clip(1 - levels @ (under / max(bb, 1.0)), 0, 1)
    dark[dark < 0.006] = 0
    out = np.zeros((len(levels), 4), dtype=np.uint8)
    out[:, 3] = np.rint(dark * 255)
    at = np.flatnonzero(near)
    pixel, colour = levels[at].astype(np.float32), own[at].astype(np.float32)
    ff, fb = (colour * colour).sum(axis=1), colour @ under
    fp, bp = (colour * pixel).sum(axis=1), pixel @ under
    free = ff * bb - fb * fb  # how far the two colours point apart
    alpha = (fp * bb - bp * fb) / np.maximum(free, 1e-3)
    # Colours that differ in lightness alone say nothing of shadow: all that is darker is the subject.
    towards = colour - under
    alike = ((pixel - under) * towards).sum(axis=1) / np.maximum((towards * towards).sum(axis=1), 1e-3)
    alpha = np.clip(np.where(free > APART * ff * bb, alpha, alike), 0, 1)
    back = np.clip((bp - alpha * fb) / max(bb, 1.0), 0, 1 - alpha)
    whole = 1 - back  # the subject over its shadow: what is left of the backdrop shows
    out[at, :3] = np.rint(np.clip(colour * (alpha / np.maximum(whole, 1e-6))[:, None], 0, 255))
    out[at, 3] = np.rint(whole * 255)
    return out


def solid_of(picture: Image.Image) -> tuple[Image.Image, Mask]:
    """The shot as it is studied, and where its subject is, a pixel in from the rim. Raises NotPlainError."""
    small, _scale = studied(picture)
    if _cut_out(picture):
        solid = _clean(np.asarray(small.getchannel("A")) >= SOLID)
    else:
        backdrop, shadow, _ground = _backdrop(small)
        solid = _clean(~(backdrop | shadow))
    if not solid.any():
        raise NotPlainError("holds nothing that stands out from its backdrop")
    inner = _shrunk(solid)
    return small, inner if inner.any() else solid


def ring_ground(levels: Any) -> tuple[int, ...] | None:
    """The levels of a picture's backdrop, where its edge is of one colour."""
    ground, plain = _ring(levels)
    return tuple(int(one) for one in ground) if plain >= PLAIN else None


def _ring(levels: Any) -> tuple[Any, float]:
    """The middle colour of a picture's edge, and the share of the edge that is near it."""
    ring = np.concatenate([levels[0], levels[-1], levels[:, 0], levels[:, -1]])
    ground = np.rint(np.median(ring, axis=0)).astype(np.uint8)
    return ground, float((difference(lab_of(ring), lab_of(ground)) <= NEAR).mean())


def _cut_out(picture: Image.Image) -> bool:
    return picture.mode == "RGBA" and np.asarray(picture.getchannel("A")).min() < SOLID


def studied(picture: Image.Image) -> tuple[Image.Image, float]:
    """A picture at the size at which it is studied, and how many of its px go into one of that."""
    scale = max(1.0, max(picture.size) / SIDE)
    size = (max(1, round(picture.width / scale)), max(1, round(picture.height / scale)))
    return picture.resize(size, Image.Resampling.BOX), picture.width / size[0]


def _backdrop(
    small: Image.Image, known: tuple[int, ...] | None = None, nearer: float = 1.0
) -> tuple[Mask, Mask, tuple[int, ...]]:
    """What is backdrop, what is backdrop or shadow on it, and the backdrop's levels, unless they are `known`.

    `nearer`: how many times larger things are than in the whole picture at its studied size.
    """
    levels = np.asarray(small.convert("RGB"))
    lab = lab_of(levels)
    ground, plain = _ring(levels) if known is None else (np.array(known, dtype=np.uint8), 1.0)
    base = lab_of(ground)
    if plain < PLAIN:
        raise NotPlainError(f"has no plain backdrop: its edge is not one colour (mostly {hex_of(ground)})")
    like = difference(lab, base) <= LIKE
    seed = np.zeros(like.shape, dtype=bool)
    seed[0], seed[-1], seed[:, 0], seed[:, -1] = like[0], like[-1], like[:, 0], like[:, -1]
    backdrop = _reached(seed, like)
    backdrop = _with_holes(backdrop, like, difference(lab, base))
    down, across = np.gradient(lab[..., 0] * 100)
    shade, steep = _shadowy(lab, base), np.hypot(down, across)
    rows = np.flatnonzero((~backdrop).any(axis=1))
    top, tall = (int(rows[0]), int(rows[-1] - rows[0])) if rows.size else (0, 0)
    shade[: top + int(tall * SHADOW_TOP)] = False
    soft = shade & (steep < GENTLE / nearer) & (base[0] - lab[..., 0] < SOFT_DEPTH)
    faint = shadow = _reached(backdrop, soft | backdrop)
    shade[: top + int(tall * CONTACT_TOP)] = False
    for _ in range(round(CONTACT * nearer)):
        shadow = shadow | (_swollen(shadow) & shade & (steep < STEEP))
    # What it took of a grey thing in bites is given back: where a thing stands its line is even.
    shadow = shadow & (faint | ~_closed(~(backdrop | shadow), round(BITE * nearer)))
    return backdrop, shadow, tuple(int(one) for one in ground)


def _with_holes(backdrop: Mask, like: Mask, off: Any) -> Mask:
    """The backdrop, and what shows of it through handles."""
    same = (off <= SAME) & ~backdrop
    left = _shrunk(same)
    while left.any():
        seed = np.zeros(left.shape, dtype=bool)
        seed.flat[int(np.argmax(left))] = True
        hole = _reached(seed, same)
        left &= ~hole
        near = _swollen(_swollen(hole))
        around = _swollen(near) & ~near
        if hole.sum() > HOLE * hole.size and np.percentile(off[around], 10) > SHARP:
            backdrop = _reached(backdrop | hole, like)
    return backdrop


def _shadowy(lab: Any, base: Any) -> Mask:
    """What may be a shadow on the backdrop: its hue, darker."""
    scale = lab[..., 0] / max(float(base[0]), 1e-3)
    tint = np.hypot(lab[..., 1] - base[1] * scale, lab[..., 2] - base[2] * scale) * 100
    depth = base[0] - lab[..., 0]
    return np.asarray((tint < SHADOW_TINT) & (depth > 0) & (depth < SHADOW_DEPTH))


def _reached(seed: Mask, allowed: Mask) -> Mask:
    """All of `allowed` that hangs together with `seed`, side by side."""
    found: Mask = np.asarray(seed & allowed)
    open_ = _rows(allowed), _rows(allowed.T)
    before = -1
    while (count := int(np.count_nonzero(found))) != before:
        before = count
        found = _filled_down(found, open_[0])
        found = _filled_down(found.T, open_[1]).T
    return found


def _rows(mask: Mask) -> list[int]:
    """A row as one number, a bit for each place: a whole row is worked on at a time."""
    packed = np.packbits(mask, axis=1)
    size, data = packed.shape[1], packed.tobytes()
    return [int.from_bytes(data[at : at + size], "big") for at in range(0, len(data), size)]


def _filled_down(found: Mask, open_: list[int]) -> Mask:
    """What is found and all that is open straight below and above it."""
    rows = _rows(found)
    for way in (range(len(rows)), range(len(rows) - 1, -1, -1)):
        last = 0
        for at in way:
            last = rows[at] = rows[at] | (last & open_[at])
    size = (found.shape[1] + 7) // 8
    data = np.frombuffer(b"".join([one.to_bytes(size, "big") for one in rows]), dtype=np.uint8)
    bits = np.unpackbits(data.reshape(len(rows), size), axis=1, count=found.shape[1])
    return np.asarray(bits.astype(bool))


def _around(mask: Mask) -> list[Mask]:
    wide = np.pad(mask, 1, mode="edge")
    down, across = mask.shape
    return [wide[y : y + down, x : x + across] for y in range(3) for x in range(3)]


def _shrunk(mask: Mask) -> Mask:
    return np.asarray(np.logical_and.reduce(_around(mask)))


def _swollen(mask: Mask) -> Mask:
    return np.asarray(np.logical_or.reduce(_around(mask)))


def _clean(mask: Mask) -> Mask:
    """Without specks: what an opening removes, unless it hangs on what stays (thin handles do)."""
    kept = _reached(_shrunk(mask), mask)
    return kept if int(np.count_nonzero(kept)) > SPECK * mask.size else mask


def _grown(mask: Mask, size: tuple[int, int], by: int) -> Any:
    """`mask`, `by` studied px larger, at the picture's size: 0 to 255."""
    for _ in range(by):
        mask = _swollen(mask)
    image = Image.fromarray(mask.astype(np.uint8) * 255).resize(size, Image.Resampling.BILINEAR)
    return np.asarray(image)


def _bounds(mask: Mask, scale: float, size: tuple[int, int]) -> tuple[int, int, int, int]:
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    left, right = int(columns[0] * scale), int(np.ceil((columns[-1] + 1) * scale))
    top, bottom = int(rows[0] * scale), int(np.ceil((rows[-1] + 1) * scale))
    return (left, top, min(right, size[0]), min(bottom, size[1]))
