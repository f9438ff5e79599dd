"""A picture laid out as planned. Enters: upright sRGB pixels and a plan; leaves: the pixels to be encoded.

In this order: cut and scaled, its backdrop taken off, put on its canvas, extended, tinted, rimmed, put on
its ground, shaded, blended, bordered, its corners rounded; then the rows that are kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from math import ceil
from threading import local
from typing import TYPE_CHECKING, Any

from PIL import Image, ImageChops, ImageColor, ImageDraw, ImageFilter

if TYPE_CHECKING:
    from handbill.pictures.asked import Asked, Blend, Border, Corners, Fit, Shade
    from handbill.pictures.plan import Plan

_SMOOTH = 4  # a round corner is drawn so many times larger, then reduced
_RIM = 0.8  # CSS px: the blur of a rim's edge; the rim is about twice as wide
_FADE = 0.25  # of the height, over which a shade fades out


class _Shared(local):
    """What the plans of one source have in common, while a thread makes them."""

    made: dict[Any, Image.Image] | None = None


_shared = _Shared()


@contextmanager
def together() -> Iterator[None]:
    """Inside, parts of one picture and its twins for dark screens are laid out once, as far as they agree."""
    _shared.made = {}
    try:
        yield
    finally:
        _shared.made = None


def once(key: object, work: Callable[[], Image.Image]) -> Image.Image:
    """What `work` makes, or a copy of what it made before for this key `together`."""
    made = _shared.made
    if made is None:
        return work()
    if key not in made:
        made[key] = work()
    return made[key].copy()


def laid_out(picture: Image.Image, plan: Plan) -> Image.Image:
    """`picture` as `plan` has it; RGBA only where something may be transparent."""
    if plan.rows == (0, plan.whole[1]):
        return _whole(picture, plan)
    key = plan.source.sha256, plan.box, plan.whole, plan.inner, plan.ground, plan.tint, plan.asked, plan.width
    laid = once(key, lambda: _whole(picture, plan))
    return laid.crop((0, plan.rows[0], laid.width, plan.rows[1]))


def _whole(picture: Image.Image, plan: Plan) -> Image.Image:
    asked = plan.asked
    laid = _placed(picture, plan, asked)
    if asked is not None and asked.extend is not None:
        laid = _extended(laid, plan)
    if plan.tint is not None and laid.mode == "RGBA":
        tinted = Image.new("RGB", laid.size, ImageColor.getrgb(plan.tint))
        tinted.putalpha(laid.getchannel("A"))
        laid = tinted if asked is None or asked.rim is None else _rimmed(tinted, asked.rim, plan.sharpness)
    if plan.ground is not None and laid.mode == "RGBA":
        laid = on_ground(laid, plan.ground)
    elif laid.mode == "RGBA" and not plan.source.alpha and (asked is None or asked.fit is None):
        laid = laid.convert("RGB")
    if asked is not None:
        laid = _finished(laid, asked, plan.sharpness)
    return laid


def _rimmed(mark: Image.Image, colour: str, sharpness: float) -> Image.Image:
    """A mark with a soft rim under it, which is opaque where it meets the mark."""
    spread = mark.getchannel("A").filter(ImageFilter.GaussianBlur(_RIM * sharpness))
    under = Image.new("RGB", mark.size, ImageColor.getrgb(colour)).convert("RGBA")
    under.putalpha(spread.point([min(255, 5 * value) for value in range(256)]))
    under.alpha_composite(mark.convert("RGBA"))
    return under


def on_ground(picture: Image.Image, colour: str) -> Image.Image:
    """RGBA over an even colour, RGB."""
    ground = Image.new("RGBA", picture.size, ImageColor.getrgb(colour))
    ground.alpha_composite(picture)
    return ground.convert("RGB")


def _placed(picture: Image.Image, plan: Plan, asked: Asked | None) -> Image.Image:
    """Cut and scaled, on its canvas when that is not the picture's own."""
    fit = asked.fit if asked is not None else None
    if fit is None or plan.inner is None:
        return _scaled(picture, plan, fit)
    inner = plan.inner

    def put() -> Image.Image:
        canvas = Image.new("RGBA", plan.whole)
        canvas.paste(_scaled(picture, plan, fit), inner[:2])
        return canvas

    canvas = once((plan.source.sha256, plan.box, plan.whole, inner, fit.how), put)
    return canvas if fit.colour is None else on_ground(canvas, fit.colour)


def _scaled(picture: Image.Image, plan: Plan, fit: Fit | None) -> Image.Image:
    """Cut and scaled, a subject without its backdrop."""
    left, top, right, bottom = plan.box
    size = plan.whole if plan.inner is None else plan.inner[2:]
    if fit is not None and fit.how == "trim":
        from handbill.pictures.shots import alone

        box: tuple[float, float, float, float]
        twice = (min(1.0, 2 * size[0] / (right - left)), min(1.0, 2 * size[1] / (bottom - top)))
        if max(twice) < 1:  # no more pixels than the outcome can use
            scale = max(twice)
            less = (max(1, round(picture.width * scale)), max(1, round(picture.height * scale)))
            box = (left * scale, top * scale, right * scale, bottom * scale)
            picture = alone(picture.resize(less, Image.Resampling.LANCZOS, reducing_gap=3))
        else:
            box, picture = (left, top, right, bottom), alone(picture)
        return picture.resize(size, Image.Resampling.LANCZOS, box=box)
    if size == (right - left, bottom - top):
        return picture.crop(plan.box)
    return picture.resize(size, Image.Resampling.LANCZOS, box=plan.box)


def _extended(laid: Image.Image, plan: Plan) -> Image.Image:
    """The canvas grown up and down. A transparent picture's new ground is transparent, but for a band."""
    assert plan.asked is not None
    assert plan.inner is not None
    extend = plan.asked.extend
    assert extend is not None
    above = plan.inner[1]
    below = plan.whole[1] - above - laid.height
    if laid.mode == "RGBA" or extend.cut:
        colour = (0, 0, 0, 0) if extend.colour is None else (*ImageColor.getrgb(extend.colour)[:3], 255)
        canvas = Image.new(laid.mode, plan.whole, colour if laid.mode == "RGBA" else colour[:3])
        canvas.paste(laid, (0, above))
        return canvas
    import numpy as np

    from handbill.pictures.extend import grown

    levels = np.asarray(laid)
    seed = f"{plan.source.sha256} {plan.box} {plan.whole}"  # of the whole, so that its parts join
    if above:
        levels = grown(levels, above, f"{seed} top", extend.colour)
    if below:
        levels = grown(levels[::-1], below, f"{seed} bottom", extend.colour)[::-1]
    return Image.fromarray(np.ascontiguousarray(levels), "RGB")


def _finished(laid: Image.Image, asked: Asked, sharpness: float) -> Image.Image:
    if asked.shade is not None:
        laid = shaded(laid, asked.shade)
    if asked.blend is not None:
        laid = _blended(laid, asked.blend, sharpness)
    if asked.border is not None:
        laid = _bordered(laid, asked.border, asked.corners, sharpness)
    if asked.corners is not None and asked.corners.drawn:
        mask = _rounded(laid.size, asked.corners.radius * sharpness)
        if laid.mode == "RGBA":
            mask = ImageChops.multiply(mask, laid.getchannel("A"))
        laid = laid.convert("RGB")
        laid.putalpha(mask)
        if asked.corners.on is not None:
            laid = on_ground(laid, asked.corners.on)
    return laid


def shaded(laid: Image.Image, shade: Shade) -> Image.Image:
    """The veil over it, mixed in sRGB as browsers mix."""
    down = laid.height
    column = bytes(round(255 * shade.strength * veil(shade, (row + 0.5) / down)) for row in range(down))
    mask = Image.frombytes("L", (1, down), column).resize(laid.size, Image.Resampling.NEAREST)
    veiled = Image.composite(
        Image.new("RGB", laid.size, ImageColor.getrgb(shade.colour)), laid.convert("RGB"), mask
    )
    if laid.mode == "RGBA":
        veiled.putalpha(laid.getchannel("A"))
    return veiled


def _blended(laid: Image.Image, blend: Blend, sharpness: float) -> Image.Image:
    """Out of the colour at its top; mixed in sRGB as browsers mix."""
    rows = min(laid.height, round(blend.height * sharpness))
    shares = ((row + 0.5) / rows for row in range(rows))
    column = bytes(round(255 * (1 - one * one * (3 - 2 * one))) for one in shares) + bytes(laid.height - rows)
    mask = Image.frombytes("L", (1, laid.height), column).resize(laid.size, Image.Resampling.NEAREST)
    return Image.composite(Image.new("RGB", laid.size, ImageColor.getrgb(blend.colour)), laid, mask)


def veil(shade: Shade, at: float) -> float:
    """The share of a shade's strength at a share of the height."""
    outside = max(shade.top - at, at - shade.bottom, 0.0) / _FADE
    return 0.0 if outside >= 1 else 1 - outside * outside * (3 - 2 * outside)


def _rounded(size: tuple[int, int], radius: float, inset: float = 0) -> Image.Image:
    """A mask with round corners; `inset` px smaller on every side."""
    width, height = size
    reach = min(ceil(radius + inset) + 1, (width + 1) // 2, (height + 1) // 2)
    mask = Image.new("L", size, 255)
    if inset:
        mask.paste(0, (0, 0, width, height))
        mask.paste(255, (round(inset), round(inset), width - round(inset), height - round(inset)))
    large = Image.new("L", (reach * _SMOOTH, reach * _SMOOTH), 0)
    start, round_by = inset * _SMOOTH, max(0.0, radius - inset) * _SMOOTH
    ImageDraw.Draw(large).rounded_rectangle(
        (start, start, reach * _SMOOTH * 4, reach * _SMOOTH * 4), round_by, fill=255
    )
    corner = large.resize((reach, reach), Image.Resampling.BOX)
    for turned, at in (
        (corner, (0, 0)),
        (corner.transpose(Image.Transpose.FLIP_LEFT_RIGHT), (width - reach, 0)),
        (corner.transpose(Image.Transpose.FLIP_TOP_BOTTOM), (0, height - reach)),
        (corner.transpose(Image.Transpose.ROTATE_180), (width - reach, height - reach)),
    ):
        mask.paste(turned, at)
    return mask


def _bordered(laid: Image.Image, border: Border, corners: Corners | None, sharpness: float) -> Image.Image:
    """A line inside the edge; it follows round corners, whoever rounds them."""
    radius = corners.radius * sharpness if corners is not None else 0.0
    inside = _rounded(laid.size, radius, border.width * sharpness)
    line = Image.new("RGBA" if laid.mode == "RGBA" else "RGB", laid.size, ImageColor.getrgb(border.colour))
    return Image.composite(laid, line, inside)
