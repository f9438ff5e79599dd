"""Making planned pictures. Enters: a `Plan`; leaves: the bytes of its file, from the cache if it has them.

The same plan gives the same bytes for one version of Pillow, which is part of the cache key.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.pictures.plan import Plan
from handbill.pictures.source import source_bytes


def produced(plan: Plan, cache: Cache) -> bytes:
    """The finished file: upright, sRGB, no metadata, the planned pixels.

    Raises `Fault` when the source changed or vanished since it was inspected.
    """
    known = cache.get(_key(plan))
    if known is not None:
        return known
    from handbill.pictures import pixels  # brings Pillow

    with pixels.quiet():
        return _made(plan, cache)


def produce_all(
    plans: Iterable[Plan], cache: Cache, jobs: int, step: Callable[[int, int], None] | None = None
) -> None:
    """Make what the cache lacks, `jobs` at a time in threads (Pillow works outside the interpreter's lock).

    `step` is told from those threads how many pictures of how many are done. Raises the first `Fault` in the
    order of `plans`, after the others are done.
    """
    wanted = {plan.key: plan for plan in plans if cache.path(_key(plan)) is None}
    if not wanted:
        return
    from concurrent.futures import ThreadPoolExecutor

    from handbill.pictures import pixels  # brings Pillow

    of_one: dict[str, list[Plan]] = {}
    for plan in wanted.values():
        of_one.setdefault(plan.source.sha256, []).append(plan)
    count, total = itertools.count(1), len(wanted)

    def done() -> None:
        if step is not None:
            step(next(count), total)

    with pixels.quiet(), ThreadPoolExecutor(max_workers=max(1, jobs)) as pool:
        running = [pool.submit(_made_together, plans, cache, done) for plans in of_one.values()]
    faults = {key: fault for future in running for key, fault in future.result().items()}
    for key in wanted:
        if key in faults:
            raise faults[key]


def _made_together(plans: Iterable[Plan], cache: Cache, done: Callable[[], None]) -> dict[str, Fault]:
    """The plans of one source, and what is wrong with those that cannot be made; `done` follows each."""
    from handbill.pictures.lay import together

    faults = {}
    with together():
        for plan in plans:
            try:
                _made(plan, cache)
            except Fault as fault:
                faults[plan.key] = fault
            done()
    return faults


def _made(plan: Plan, cache: Cache) -> bytes:
    from handbill.pictures import pixels

    data = source_bytes(plan.source)
    if not plan.untouched:
        try:
            data = pixels.make(plan, data, [source_bytes(one) for one in plan.frames])
        except pixels.PictureError as error:
            raise Fault(f"picture {plan.source.path.name} {error}") from None
    cache.put(_key(plan), data)
    return data


def _key(plan: Plan) -> str:
    return f"picture {_pillow_version()} {plan.key}"


@lru_cache(maxsize=1)
def _pillow_version() -> str:
    """Pillow's version file as it lies there: importing Pillow would cost a warm run more."""
    spec = find_spec("PIL")
    folders = spec.submodule_search_locations if spec else None
    if not folders:
        return ""
    try:
        return Path(folders[0], "_version.py").read_text(encoding="utf-8")
    except OSError:
        return ""
