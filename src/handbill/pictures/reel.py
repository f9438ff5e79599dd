"""GIFs. Enters: a plan and its frames' upright sRGB pixels, or a still that is laid out; leaves: a GIF.

Follows GIF89a (sections 20 to 23) and the NETSCAPE2.0 extension for rounds. Every frame has a palette of its
own by a fast octree; one colour is left for what does not change. Times are hundredths of a second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from io import BytesIO
from typing import TYPE_CHECKING

from PIL import Image, ImageColor

from handbill.pictures.lay import laid_out, on_ground

if TYPE_CHECKING:
    from handbill.pictures.asked import Border, Moving
    from handbill.pictures.plan import Plan


def reel(plan: Plan, pictures: Sequence[Image.Image]) -> bytes:
    """The finished file of a plan that moves, from its pictures in their order."""
    assert plan.asked is not None
    moving = plan.asked.moving
    assert moving is not None
    laid = [
        laid_out(picture, replace(plan, box=shot.box)).convert("RGB")
        for picture, shot in zip(pictures, moving.shots, strict=True)
    ]
    shown = timed(laid, moving)
    rounds = plan.asked.corners is not None
    border = None if rounds else plan.asked.border
    frames = [_indexed(picture, moving, border, plan.sharpness) for picture, _ in shown]
    out = BytesIO()
    # Absent: once. With a count, browsers play it so many times more; 0: for ever.
    how = {} if moving.rounds == 1 else {"loop": max(0, moving.rounds - 1)}
    frames[0].save(
        out, "GIF", save_all=True, append_images=frames[1:], duration=[10 * time for _, time in shown],
        disposal=1, optimize=False, **how,
    )  # fmt: skip
    return out.getvalue()


def still(picture: Image.Image, mat: str | None) -> bytes:
    """A picture that stands still, RGB or RGBA. What is transparent through and through stays so; the
    rest is mixed with the colour `mat`, since a GIF's pixel is there or not. Up to 256 colours are exact."""
    from handbill.pictures import palette, weight

    clear = picture.mode == "RGBA"
    opaque = on_ground(picture, mat or "#ffffff").convert("RGBA") if clear else picture.convert("RGBA")
    most = 255 if clear else 256
    exact = palette.reduce(opaque) if opaque.getcolors(most) else None
    if exact is not None:
        frame = Image.frombytes("P", opaque.size, exact[1])
        frame.putpalette([level for colour in exact[0] for level in colour[:3]])
    else:
        fitting = weight.in_colours(opaque, most) or opaque.quantize(most, Image.Quantize.FASTOCTREE)
        frame = opaque.convert("RGB").quantize(palette=_in_rgb(fitting), dither=Image.Dither.FLOYDSTEINBERG)
    how = {}
    if clear:
        how = {"transparency": 255}
        frame.putpalette([*(frame.getpalette() or []), *[0] * 768][:768])
        frame.paste(255, mask=picture.getchannel("A").point([255] + [0] * 255))
    out = BytesIO()
    frame.save(out, "GIF", optimize=not clear, interlace=0, **how)
    return b"GIF89a" + out.getvalue()[6:]  # what Pillow calls 87a is no less an 89a (section 17)


def _in_rgb(frame: Image.Image) -> Image.Image:
    """An indexed picture whose palette has no alpha."""
    made = Image.new("P", (1, 1))
    made.putpalette(frame.getpalette("RGB") or [])
    return made


def timed(laid: Sequence[Image.Image], moving: Moving) -> list[tuple[Image.Image, int]]:
    """What is shown and how long, with the steps from one frame to the next; the last fades into the first
    only where it goes on for ever."""
    shown: list[tuple[Image.Image, int]] = []
    for number, (picture, shot) in enumerate(zip(laid, moving.shots, strict=True)):
        shown.append((picture, shot.time))
        if not moving.steps or (number == len(laid) - 1 and moving.rounds):
            continue
        following = laid[(number + 1) % len(laid)]
        for step in range(moving.steps):
            share = (step + 1) / (moving.steps + 1)
            time = moving.fade * (step + 1) // moving.steps - moving.fade * step // moving.steps
            shown.append((Image.blend(picture, following, share), time))
    return shown


def _indexed(picture: Image.Image, moving: Moving, border: Border | None, sharpness: float) -> Image.Image:
    """A frame in its own colours; a border keeps its colour exactly, and an index of its own."""
    most = moving.colours - (border is not None)
    frame = picture.quantize(most, method=Image.Quantize.FASTOCTREE)
    if moving.dither:  # by spreading each pixel's error: soft shades do not break into bands
        frame = picture.quantize(palette=frame, dither=Image.Dither.FLOYDSTEINBERG)
    if border is None:
        return frame
    levels = (frame.getpalette("RGB") or [])[: 3 * most]
    index = len(levels) // 3
    width = round(border.width * sharpness)
    inside = frame.crop((width, width, frame.width - width, frame.height - width))
    frame.paste(index, (0, 0, *frame.size))
    frame.paste(inside, (width, width))
    frame.putpalette([*levels, *ImageColor.getrgb(border.colour)[:3]])
    return frame
