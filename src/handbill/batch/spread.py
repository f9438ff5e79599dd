"""Variants spread over processes. Enters: a job and the numbers of its variants; leaves: a row for each.

Rows come as they are done. At no time are more than a few shares under way, so that memory does not grow with
the number of variants.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from contextlib import contextmanager

from handbill.base.errors import HandbillError, Mistake, MistakesError
from handbill.base.signals import uninterrupted
from handbill.batch.work import Bench, Job, Row, Share, mistakes_of, share
from handbill.pipeline import Desk
from handbill.write.store import Store

Outcome = Row | tuple[Mistake, ...]
LARGEST = 50  # variants of one share that stays on this machine
CARRIED = 8  # variants of one share whose files come back: about a megabyte
UNDER_WAY = 16  # shares given to an executor whose size is not known


def spread(
    job: Job, desk: Desk, store: Store, numbers: Sequence[int], jobs: int, executor: Executor | None
) -> Iterator[Outcome]:
    """A row for every variant, or what is wrong with it.

    Raises Fault where `store` cannot be written to, HandbillError when a worker dies.
    """
    bench = Bench(desk, store, job.out, job.strict)
    alone = 1 if executor is not None or (jobs > 1 and len(numbers) > 2) else len(numbers)
    for number in numbers[:alone]:  # the first one fills the caches for all
        try:
            yield bench.make(number)
        except MistakesError as error:
            yield error.mistakes
    rest = numbers[alone:]
    if not rest:
        return
    try:
        if executor is not None:
            have = tuple(sorted(bench.put_by))
            shares = [rest[at : at + CARRIED] for at in range(0, len(rest), CARRIED)]
            for done in _shares(executor, job, shares, have, UNDER_WAY):
                yield from _put_by(done, store)
        else:
            job = job._replace(staging=str(store.staging))
            size = max(1, min(LARGEST, len(rest) // (4 * jobs)))
            shares = [rest[at : at + size] for at in range(0, len(rest), size)]
            with _pool(jobs) as pool:
                for done in _shares(pool, job, shares, (), 2 * jobs):
                    yield from done.rows
                    if done.mistakes:
                        yield tuple(mistakes_of(done.mistakes))
    except BrokenExecutor as error:
        raise HandbillError(f"a process that shared the work has died: {error}") from None


def _shares(
    executor: Executor, job: Job, shares: Sequence[Sequence[int]], have: tuple[str, ...], most: int
) -> Iterator[Share]:
    """Each share's outcome, whichever is done first."""
    waiting = iter(shares)
    running: set[Future[Share]] = set()
    try:
        while True:
            while len(running) < most and (numbers := next(waiting, None)) is not None:
                running.add(executor.submit(share, job, tuple(numbers), have))
            if not running:
                return
            done, running = wait(running, return_when=FIRST_COMPLETED)
            for one in done:
                yield one.result()
    finally:
        for one in running:
            one.cancel()


def _put_by(done: Share, store: Store) -> Iterator[Outcome]:
    """What came back, into the hidden folder."""
    for name, data in done.pictures.items():
        store.picture(name, data)
    for row in done.rows:
        yield row._replace(written=store.stage(row.id, done.files[row.id]))
    if done.mistakes:
        yield tuple(mistakes_of(done.mistakes))


@contextmanager
def _pool(jobs: int) -> Iterator[Executor]:
    """Processes of this machine. Ctrl-C is for this one alone, which then lets them finish their share."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context
    from threading import active_count

    # a fork has all that is loaded; it may not be made while other threads hold locks
    method = "fork" if sys.platform == "linux" and active_count() == 1 else "spawn"
    pool = ProcessPoolExecutor(jobs, get_context(method), _begin, (os.getpid(),))
    try:
        # all forks start with the first work, and a Ctrl-C inside one would be told of by the interpreter
        with uninterrupted():
            pool.submit(os.getpid)
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _begin(parent: int) -> None:
    """A worker's start: it leaves Ctrl-C to its parent, and ends when that has gone."""
    import signal
    from threading import Thread

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "getppid"):
        Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: int) -> None:
    from time import sleep

    while os.getppid() == parent:
        sleep(0.5)
    os._exit(1)
