"""A moving picture's file. Enters: a plan and its frames' upright sRGB pixels; leaves: a GIF.

Follows GIF89a (sections 20 to 23) and the NETSCAPE2.0 extension for rounds. Every frame has a palette of its
own by a fast octree; one colour is left for what does not change. Times are hundredths of a second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from io import BytesIO
from typing import TYPE_CHECKING

from PIL import Image, ImageColor

from handbill.pictures.lay import laid_out

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
