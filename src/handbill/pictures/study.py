"""What pictures are found to be. Enters: a source or a plan; leaves: measures, kept by content.

An edge's calm, a shot's subject, the colours under copy: each is looked at once, and known from then on
without numpy or Pillow.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.pictures.asked import Subject
from handbill.pictures.plan import RECIPE, Plan
from handbill.pictures.source import Source, source_bytes

if TYPE_CHECKING:
    from PIL.Image import Image

_STUDY = 3  # raise when a measure's meaning changes
CELL = 4  # CSS px: colours under copy are told by squares of this side, about a letter's stroke
QUANTILES = 100
LEGIBLE = 4.5  # contrast of body copy (WCAG 2.2, 1.4.3)
MOST_SHADE = 0.9  # more than this is no picture any more
_AHEAD = 0.02  # of strength, on top of what is just enough: JPEG moves levels a little
EDGE_WIDTH = 1200  # px across at which edges are judged, so that the verdict does not hang on the file's size
CALM_MEDIAN = 1.25  # how far an edge may lie from its course, OKLab times 100 (see docs/pictures.md)
CALM_HIGH = 6.0  # 95th percentile of the same


@dataclass(frozen=True, slots=True)
class Edge:
    """How far an edge's pixels lie from the curve that would go on from it: median and 95th percentile, OKLab
    difference times 100."""

    median: float
    high: float


@dataclass(frozen=True, slots=True)
class Under:
    """What lies under copy: quantiles of luminance, darkest first, and the mean colour #rrggbb."""

    luminance: tuple[float, ...]
    colour: str

    def contrast(self, ink: str) -> tuple[float, float]:
        """The least contrast ratio of copy in `ink` (#rrggbb), and the 5th percentile (WCAG 2.2)."""
        return _contrast(self.luminance, ink)


@lru_cache(maxsize=256)  # mail after mail has the same picture under its copy
def _contrast(lights: tuple[float, ...], ink: str) -> tuple[float, float]:
    own = luminance(ink)
    ratios = sorted((max(own, one) + 0.05) / (min(own, one) + 0.05) for one in lights)
    return ratios[0], ratios[len(ratios) * 5 // 100]


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb, 0 to 1 (WCAG 2.2, definitions)."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def edge(source: Source, box: tuple[int, int, int, int], side: str, cache: Cache) -> Edge:
    """The calm of the `top` or `bottom` edge of `box`, scaled to 1200 px at most."""

    def look(picture: Image) -> Any:
        import numpy as np

        from handbill.pictures.extend import calm

        across = min(EDGE_WIDTH, box[2] - box[0])
        down = max(1, round((box[3] - box[1]) * across / (box[2] - box[0])))
        levels = np.asarray(picture.convert("RGB").resize((across, down), box=box, reducing_gap=3))
        return calm(levels if side == "top" else levels[::-1])

    median, high = _known(source, f"edge {side} {box}", look, cache)
    return Edge(median, high)


def subject(source: Source, cache: Cache) -> Subject:
    """The thing in a product shot. Raises Fault for one without a plain backdrop."""

    def look(picture: Image) -> Any:
        from handbill.pictures.shots import NotPlainError
        from handbill.pictures.shots import subject as found

        try:
            one = found(picture)
        except NotPlainError as error:
            return str(error)
        return one.box, one.solid, one.area

    made = _known(source, "subject", look, cache)
    if isinstance(made, str):
        expected = "a cut-out, or a shot on one plain colour"
        raise Fault(f"picture {source.path.name} {made}", expected=expected)
    box, solid, area = made
    return Subject(tuple(box), tuple(solid), area)


def own_colour(source: Source, cache: Cache) -> str:
    """The colour of the thing in a product shot, #rrggbb. Raises Fault for one without a plain backdrop."""

    def look(picture: Image) -> Any:
        from handbill.pictures.sampled import shot_colour
        from handbill.pictures.shots import NotPlainError

        try:
            return shot_colour(picture)
        except NotPlainError as error:
            return str(error)

    made = str(_known(source, "own colour", look, cache))
    if not made.startswith("#"):
        expected = "a cut-out, a shot on one plain colour, or the colour itself as #rrggbb"
        raise Fault(f"picture {source.path.name} {made}", expected=expected)
    return made


def under(plan: Plan, area: tuple[float, float, float, float], cache: Cache) -> Under:
    """The colours of the finished picture in `area` (shares: left, top, right, bottom)."""

    def look(picture: Image) -> Any:
        from handbill.pictures.lay import laid_out

        return _measured(_cells(laid_out(picture, plan), plan, area))

    values, colour = _known(plan.source, f"under {plan.key} {area}", look, cache)
    return Under(tuple(values), colour)


def step(plan: Plan, colour: str, cache: Cache) -> float:
    """How far a finished picture's upper edge lies from `colour` (#rrggbb): OKLab difference times 100, 95th
    percentile."""

    def look(picture: Image) -> Any:
        import numpy as np

        from handbill.pictures.colour import difference, lab_of, levels_of
        from handbill.pictures.lay import laid_out

        row = np.asarray(_cells(laid_out(picture, plan), plan, (0, 0, 1, CELL / plan.height)))
        return float(np.percentile(difference(lab_of(row), lab_of(np.array(levels_of(colour)))), 95))

    return float(_known(plan.source, f"step {plan.key} {colour}", look, cache))


def shade(plan: Plan, area: tuple[float, float, float, float], ink: str, colour: str, cache: Cache) -> float:
    """The least strength of a shade in `colour` under which copy in `ink` has 4.5:1 in all of `area`.

    `plan` is the picture without it. Raises Fault if that takes more than 0.9.
    """

    def look(picture: Image) -> Any:
        import numpy as np

        from handbill.pictures.colour import contrast, levels_of, light_of, linear
        from handbill.pictures.colour import luminance as of
        from handbill.pictures.lay import laid_out

        cells = np.asarray(_cells(laid_out(picture, plan), plan, area)) / 255
        over = np.array(levels_of(colour)) / 255
        goal = of(light_of(np.array(levels_of(ink))))
        for step in range(101):
            mixed = cells * (1 - step / 100) + over * step / 100
            if contrast(of(linear(mixed)), goal).min() >= LEGIBLE:
                return step / 100
        return 2.0

    least = float(_known(plan.source, f"shade {plan.key} {area} {ink} {colour}", look, cache))
    strength = round(least + _AHEAD, 2) if least else 0.0
    if strength > MOST_SHADE:
        message = f"no shade of {colour} makes copy in {ink} legible on picture {plan.source.path.name}"
        raise Fault(message, expected="the other ink, a colour further from the copy's, or a calmer picture")
    return strength


def refuse_busy(found: Edge, side: str, name: str) -> None:
    """Raise Fault unless an edge is calm enough to be gone on with."""
    if found.median <= CALM_MEDIAN and found.high <= CALM_HIGH:
        return
    other = "bottom" if side == "top" else "top"
    message = (
        f"the {side} edge of picture {name} is too busy to extend: its pixels lie "
        f"{found.median:.1f} from an even course, 5 in 100 of them {found.high:.1f} or more "
        f"(at most {CALM_MEDIAN:g} and {CALM_HIGH:g})"
    )
    raise Fault(message, expected=f"another photo, the {other}, or a plain band: join: cut with a colour")


def _cells(laid: Image, plan: Plan, area: tuple[float, float, float, float]) -> Image:
    """The pixels of an area as squares of `CELL` CSS px, RGB; what is transparent counts as white and
    black."""
    from PIL import Image as Pictures

    across, down = laid.size
    left, top, right, bottom = area
    box = (int(left * across), int(top * down), max(1, round(right * across)), max(1, round(bottom * down)))
    part = laid.crop(box)
    side = plan.sharpness * CELL
    size = (max(1, round(part.width / side)), max(1, round(part.height / side)))
    return part.convert("RGB").resize(size, Pictures.Resampling.BOX)


def _measured(cells: Image) -> Any:
    import numpy as np

    from handbill.pictures.colour import hex_of, light_of, luminance, srgb

    light = light_of(np.asarray(cells)).reshape(-1, 3)
    spread = np.percentile(luminance(light), np.linspace(0, 100, QUANTILES + 1))
    return [float(one) for one in spread], hex_of(np.rint(srgb(light.mean(axis=0)) * 255))


def _known(source: Source, what: str, look: Callable[[Image], Any], cache: Cache) -> Any:
    """What `look` finds in the source's upright sRGB pixels, kept."""
    key = f"study {_STUDY} {RECIPE} {source.sha256} {what}"
    kept = cache.get(key)
    if kept is not None:
        try:
            return json.loads(kept)
        except ValueError:  # damaged: looked at again
            pass
    from handbill.pictures import pixels  # brings Pillow

    try:
        with pixels.quiet():
            found = look(pixels.upright(source_bytes(source)))
    except pixels.PictureError as error:
        raise Fault(f"picture {source.path.name} {error}") from None
    cache.put(key, json.dumps(found).encode())
    return json.loads(json.dumps(found))
