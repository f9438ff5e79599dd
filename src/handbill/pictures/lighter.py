"""Which of several files for a picture is taken. Enters: plans and a limit; leaves: one plan.

How light a file comes out is only known when it is made, so it is made here; what was taken is kept by
content, and known from then on.
"""

from __future__ import annotations

from collections.abc import Callable

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.pictures.plan import METHOD, Plan
from handbill.pictures.produce import produced

SHARPNESS = (2.0, 1.5, 1.25, 1.0)  # pixels to the px that are tried until a picture is light enough
MUCH = 0.6  # a JPEG takes the place of a transparent picture when it has at most this share of its weight


def within(at: Callable[[float], Plan], density: float, most: int, cache: Cache) -> Plan:
    """The sharpest of the plans `at` so many pixels to the px whose file has at most `most` bytes.

    `density` is where it starts. Raises `Fault` that says what was tried if none has.
    """
    tried = [density, *(one for one in SHARPNESS if one < density)]
    first = at(tried[0])
    key = f"within {METHOD} {first.key} {most}"
    kept = cache.get(key)
    if kept is not None and kept.isdigit() and int(kept) < len(tried):
        return at(tried[int(kept)])
    weighed: dict[tuple[int, int], float] = {}
    for number, sharp in enumerate(tried):
        made = at(sharp)
        weight = len(produced(made, cache))
        if weight <= most:
            cache.put(key, str(number).encode())
            return made
        weighed[made.pixels] = weight / 1024
    form = first.content_type.removeprefix("image/").upper()
    sizes = ", ".join(f"{kb:.0f} KB at {wide} x {high}" for (wide, high), kb in weighed.items())
    message = (
        f"picture {first.source.path.name} is heavier than {most / 1024:.0f} KB however it is made: "
        f"as a {form} that looks well it has {sizes} px"
    )
    raise Fault(message, expected="a calmer picture, less of it (crop), another format, or a larger max_kb")


def much_lighter(clear: Plan, flat: Plan, cache: Cache) -> Plan:
    """`flat`, a picture without transparency, if its file is much lighter than that of `clear`."""
    key = f"lighter {METHOD} {clear.key} {flat.key}"
    kept = cache.get(key)
    if kept not in (b"flat", b"clear"):
        less = len(produced(flat, cache)) <= MUCH * len(produced(clear, cache))
        kept = b"flat" if less else b"clear"
        cache.put(key, kept)
    return flat if kept == b"flat" else clear
