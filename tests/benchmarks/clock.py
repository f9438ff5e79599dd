"""Measuring. Enters: pieces of work; leaves: the CPU seconds each takes, measured in turns (A, B, A, B …).

The best of many runs is the least disturbed one; CPU time leaves out what other programs use.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from time import process_time

ROUNDS = 25
BATCH = 4  # mails in a row: a loaded campaign goes on to the next one with warm caches, on either side


@contextmanager
def collector_off() -> Iterator[None]:
    """Garbage is collected between the measured runs, not inside whichever happens to be running."""
    gc.collect()
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def in_turns(
    work: Mapping[str, tuple[Callable[[], object], Callable[[object], object]]], rounds: int = ROUNDS
) -> dict[str, float]:
    """The best CPU seconds of each `(prepare, run)`; `run` takes what `prepare` made outside the clock."""
    best = dict.fromkeys(work, float("inf"))
    gc.collect()
    gc.freeze()  # what lies there already need not be looked through before each run
    for _ in range(rounds):
        for name, (prepare, run) in work.items():
            made = [prepare() for _ in range(BATCH)]
            with collector_off():
                start = process_time()
                for one in made:
                    run(one)
                spent = process_time() - start
            best[name] = min(best[name], spent / BATCH)
    gc.unfreeze()
    return best
