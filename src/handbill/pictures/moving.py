"""Planning moving pictures. Enters: sources and seconds; leaves: a `Plan` whose file is light enough.

How light a file comes out is only known when it is made, so it is made here, kept, and known from then on.
"""

from __future__ import annotations

from collections.abc import Iterator

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.pictures.asked import Asked, Border, Corners, Moving, Shape, Shot
from handbill.pictures.frame import Frame, largest, tall
from handbill.pictures.plan import METHOD, Plan, framed
from handbill.pictures.produce import produced
from handbill.pictures.source import Source

MAX_KB = 1024  # where the author says nothing (common practice)
FADE_STEP = 10  # hundredths of a second that a step of a fade takes, the shortest that all readers keep
MOST_PIXELS = 200_000_000  # of all frames together, as they are made
#: Pixels to the px, the most colours of a frame, whether they are mixed to look like more, and the share of a
#: fade's steps: taken in this order until the file fits.
LADDER = (
    (2.0, 255, True, 1.0), (2.0, 255, True, 0.5), (1.5, 255, True, 0.5), (1.25, 255, True, 0.5),
    (1.0, 255, True, 0.5), (1.0, 255, False, 0.5), (1.0, 128, False, 0.5), (1.0, 128, False, 0.0),
    (1.0, 64, False, 0.0),
)  # fmt: skip
Rung = tuple[float, int, bool, int]


@dataclass(frozen=True, slots=True)
class Reel:
    """What is asked: frames with their hundredths of a second, in order; `fade` in the same; rounds, 0 for
    ever; the most bytes."""

    frames: tuple[tuple[Source, int], ...]
    fade: int = 0
    rounds: int = 1
    most: int = MAX_KB * 1024


def moving(
    reel: Reel, *, width: int, density: int, ratio: Shape | None, focus: tuple[float, float],
    crop: Shape | None, border: Border | None, corners: Corners | None, cache: Cache,
) -> Plan:  # fmt: skip
    """The plan for a slot `width` CSS px wide, at the first rung of the ladder that is light enough.

    All frames are cut to one shape: the slot's, the author's, or the first frame's. Raises `Fault` for frames
    that move or are not opaque, and where no rung is light enough.
    """
    for source, _ in reel.frames:
        if source.animated:
            raise Fault(f"{source.path.name} moves by itself", expected="still pictures as frames")
        if source.alpha:
            message = f"{source.path.name} has transparent parts, and a frame lies over the one before"
            raise Fault(message, expected="opaque frames")
    first = reel.frames[0][0]
    shape = ratio or crop or (first.width, first.height)
    boxes = []
    for source, _ in reel.frames:
        size = (source.width, source.height)
        region = largest((0, 0, *size), crop, focus, size)
        boxes.append(largest(region, shape, focus, size))
    height = tall(width, shape)
    finest = min((box[2] - box[0]) / width for box in boxes)
    rungs = list(_rungs(density, finest, reel.fade))
    sources = tuple(source for source, _ in reel.frames)
    shots = tuple(
        Shot(source.sha256, box, time) for (source, time), box in zip(reel.frames, boxes, strict=True)
    )

    def at(rung: Rung) -> Plan:
        sharp, colours, dither, steps = rung
        whole = (max(1, round(width * sharp)), max(1, round(height * sharp)))
        frame = Frame(boxes[0], whole, None, height, finest < density)
        motion = Moving(shots, reel.fade if steps else 0, reel.rounds, steps, colours, dither)
        asked = Asked(border=border, corners=corners, moving=motion)
        return framed(first, width, frame, None, None, None, asked, sources)

    made = at(rungs[0])
    if made.pixels[0] * made.pixels[1] * len(shots) * (1 + rungs[0][3]) > MOST_PIXELS:
        limit = MOST_PIXELS // 1_000_000
        message = (
            f"a moving picture of {len(shots)} frames has too many pixels; the limit is {limit} megapixels"
        )
        raise Fault(message, expected="fewer frames, or no fade")
    key = f"moving {METHOD} {made.key} {reel.most}"
    kept = cache.get(key)
    if kept is not None and kept.isdigit() and int(kept) < len(rungs):
        return at(rungs[int(kept)])
    weight = 0
    for number, rung in enumerate(rungs):
        made = at(rung)
        weight = len(produced(made, cache))
        if weight <= reel.most:
            cache.put(key, str(number).encode())
            return made
    message = (
        f"the moving picture has {weight / 1024:.0f} KB at its lightest, more than {reel.most / 1024:.0f}"
    )
    raise Fault(message, expected="fewer frames, calmer pictures, or a larger max_kb")


def _rungs(density: int, finest: float, fade: int) -> Iterator[Rung]:
    """Pixels to the px, colours, dither and steps of every fade; never more pixels than the frames have."""
    steps = max(1, round(fade / FADE_STEP)) if fade else 0
    seen = set()
    for sharp, colours, dither, share in LADDER:
        rung = (
            min(sharp, float(density), finest), colours, dither, -int(-steps * share // 1) if share else 0,
        )  # fmt: skip
        if rung not in seen:
            seen.add(rung)
            yield rung
