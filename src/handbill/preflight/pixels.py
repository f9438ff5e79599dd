"""What pictures hold, for rules. Enters: a picture's bytes; leaves: its colours, by region, and its timing.

Colours are those of a smaller copy, so a ratio is that of what a reader sees at arm's length; single stray
pixels (a star in a sky) do not count.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import lru_cache

from handbill.base.frozen import dataclass
from handbill.colour.srgb import Rgb

#: Fractions of a picture's width and height from its left and top: left, top, right, bottom.
Region = tuple[float, float, float, float]
WHOLE: Region = (0.0, 0.0, 1.0, 1.0)
STRAY = 0.02  # of the pixels: the share that may be anything (common practice)
_EDGE = 160  # px of the copy that is looked at
_OPAQUE = 128  # alpha from which a pixel counts
_STEP = 8  # levels: nearer colours count as one


@lru_cache(maxsize=64)
def _small(data: bytes) -> tuple[int, int, bytes]:
    from PIL import Image

    with Image.open(io.BytesIO(data)) as opened:
        copy = opened.convert("RGBA")
    copy.thumbnail((_EDGE, _EDGE), Image.Resampling.BOX)
    return copy.width, copy.height, copy.tobytes()


def colours(data: bytes, region: Region = WHOLE) -> Sequence[tuple[Rgb, float]]:
    """The colours of a region of opaque pixels with their shares, the most frequent first. Raises OSError."""
    width, height, pixels = _small(data)
    left, right = int(region[0] * width), max(int(region[0] * width) + 1, round(region[2] * width))
    top, bottom = int(region[1] * height), max(int(region[1] * height) + 1, round(region[3] * height))
    counts: dict[Rgb, int] = {}
    sums: dict[Rgb, list[int]] = {}
    for row in range(max(0, top), min(height, bottom)):
        for at in range((row * width + max(0, left)) * 4, (row * width + min(width, right)) * 4, 4):
            red, green, blue, alpha = pixels[at : at + 4]
            if alpha < _OPAQUE:
                continue
            key = (red // _STEP, green // _STEP, blue // _STEP)
            counts[key] = counts.get(key, 0) + 1
            total = sums.setdefault(key, [0, 0, 0])
            total[0] += red
            total[1] += green
            total[2] += blue
    whole = sum(counts.values())
    found = [
        ((sums[key][0] // count, sums[key][1] // count, sums[key][2] // count), count / whole)
        for key, count in counts.items()
    ]
    return sorted(found, key=lambda one: (-one[1], one[0]))


@dataclass(frozen=True, slots=True)
class Motion:
    """How a moving picture moves: frames, seconds of one round, rounds (0: for ever)."""

    frames: int
    seconds: float
    rounds: int

    @property
    def lasts(self) -> float:
        """Seconds until it stands still, infinite when it never does."""
        return self.seconds * self.rounds if self.rounds else float("inf")


CLAMPED = 0.1  # seconds that browsers show a frame of 10 ms or less (Blink's FrameDurationAtIndex)


def motion(data: bytes) -> Motion | None:
    """The timing of a GIF with several frames, as browsers play it (GIF89a section 23); None for a still."""
    from PIL import Image

    with Image.open(io.BytesIO(data)) as opened:
        frames = getattr(opened, "n_frames", 1)
        if frames < 2:
            return None
        seconds = 0.0
        for number in range(frames):
            opened.seek(number)
            shown = opened.info.get("duration", 0) / 1000
            seconds += shown if shown > 0.01 else CLAMPED
        opened.seek(0)
        # without the loop extension a picture plays once; with it, `count` more times, 0 for ever
        count = opened.info.get("loop")
    return Motion(frames, seconds, 1 if count is None else 0 if count == 0 else count + 1)


def flashes(data: bytes) -> int:
    """The most flashes in any second of a GIF, in the part that flashes most (WCAG 2.2, general flash).

    A flash is a pair of opposing changes of relative luminance by a tenth or more, the darker below 0.8. The
    picture is looked at in squares of an eighth; a small picture, which the limit spares, is not told apart.
    """
    from PIL import Image, ImageSequence

    from handbill.colour.srgb import luminance

    levels: list[list[float]] = []
    times: list[float] = []
    at = 0.0
    with Image.open(io.BytesIO(data)) as opened:
        for frame in ImageSequence.Iterator(opened):
            shown = frame.info.get("duration", 0) / 1000
            at += shown if shown > 0.01 else CLAMPED
            tiny = frame.convert("RGB").resize((8, 8), Image.Resampling.BOX).tobytes()
            levels.append([luminance((tiny[n], tiny[n + 1], tiny[n + 2])) for n in range(0, len(tiny), 3)])
            times.append(at)
    return max((_flashes([one[cell] for one in levels], times) for cell in range(64)), default=0)


def _flashes(levels: Sequence[float], times: Sequence[float]) -> int:
    turns: list[tuple[float, int]] = []  # when, and whether it grew lighter
    extreme = levels[0]
    for level, time in zip(levels[1:], times, strict=False):
        change = level - extreme
        if abs(change) >= 0.1 and min(level, extreme) < 0.8:
            way = 1 if change > 0 else -1
            if not turns or turns[-1][1] != way:
                turns.append((time, way))
            extreme = level
        elif turns and (level - extreme) * turns[-1][1] > 0:
            extreme = level
    most = 0
    for first in range(len(turns)):
        inside = [when for when, _way in turns[first:] if when < turns[first][0] + 1]
        most = max(most, len(inside) // 2)
    return most
