"""Measuring. Enters: pieces of work; leaves: their cost in CPU seconds and bytes, taken in turns (A, B, A, B …).

The best of many runs is the least disturbed one; CPU time leaves out what other programs use.
"""

from __future__ import annotations

import gc
import os
import subprocess
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from time import process_time
from typing import NamedTuple

ROUNDS = 25


class Cost(NamedTuple):
    """CPU seconds (user and system, children's own) and peak resident bytes."""

    seconds: float
    memory: int


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
    """The best CPU seconds of each `(prepare, run)`; `run` takes what `prepare` made, outside the clock."""
    best = dict.fromkeys(work, float("inf"))
    for _ in range(rounds):
        for name, (prepare, run) in work.items():
            made = prepare()
            with collector_off():
                start = process_time()
                run(made)
                spent = process_time() - start
            best[name] = min(best[name], spent)
    return best


def child(command: Sequence[str], cwd: Path, environment: Mapping[str, str]) -> Cost:
    """One run of a program; raises RuntimeError when it fails."""
    process = subprocess.Popen(command, cwd=cwd, env=environment, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}")
    return Cost(usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024)
