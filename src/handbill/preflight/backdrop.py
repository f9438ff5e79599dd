"""Which part of a background picture lies under a text. Enters: a layout and a text; leaves: fractions of it.

CSS Backgrounds 3: `background-size` (cover, contain, lengths, auto) and `background-position` as mails have
them.
"""

from __future__ import annotations

from handbill.dom.css import declarations
from handbill.dom.tree import Element
from handbill.pictures.plan import Plan
from handbill.preflight.inks import Ink
from handbill.preflight.laid import Laid
from handbill.preflight.pixels import Region

_SIDES = {"left": 0.0, "top": 0.0, "center": 0.5, "right": 1.0, "bottom": 1.0}


def region(laid: Laid, ink: Ink, holder: Element, plan: Plan) -> Region | None:
    """The part of the picture that is the background of `holder` and lies under `ink`; None for none."""
    box, text = laid.places.get(holder), laid.text_of(ink.element)
    if box is None or text is None or not box.width or not box.height:
        return None
    given = dict(declarations(holder.get("style")).normal)
    size = ink.ground.size or given.get("background-size", "auto")
    width, height = _size(size, box.width, box.height, plan)
    across, down = _position(given.get("background-position", "0% 0%"))
    left, top = box.x + (box.width - width) * across, box.y + (box.height - height) * down
    found = (
        max(0.0, (text.x - left) / width), max(0.0, (text.y - top) / height),
        min(1.0, (text.right - left) / width), min(1.0, (text.bottom - top) / height),
    )  # fmt: skip
    return found if found[0] < found[2] and found[1] < found[3] else None


def _size(written: str, width: float, height: float, plan: Plan) -> tuple[float, float]:
    across, down = plan.pixels
    if written in ("cover", "contain"):
        choose = max if written == "cover" else min
        scale = choose(width / across, height / down)
        return across * scale, down * scale
    parts = written.split()
    wide = _length(parts[0], width) if parts else None
    high = _length(parts[1], height) if len(parts) > 1 else None
    if wide is None and high is None:
        return float(plan.width), float(plan.height)
    if wide is None:
        assert high is not None
        return high * across / down, high
    return wide, high if high is not None else wide * down / across


def _length(written: str, whole: float) -> float | None:
    if written.endswith("%"):
        return float(written[:-1]) / 100 * whole
    return float(written[:-2]) if written.endswith("px") else None


def _position(written: str) -> tuple[float, float]:
    """Fractions of the room left over, across and down; lengths are rare in mails and count as none."""
    parts = written.split()
    if len(parts) == 1:
        parts = [parts[0], "center"] if parts[0] not in ("top", "bottom") else ["center", parts[0]]
    if parts[0] in ("top", "bottom") or parts[1] in ("left", "right"):
        parts = [parts[1], parts[0]]
    across, down = (
        _SIDES[part] if part in _SIDES else float(part[:-1]) / 100 if part.endswith("%") else 0.0
        for part in parts[:2]
    )
    return across, down
