"""`handbill compile --watch`. Enters: folders to look at; leaves: one run after each settled change.

Times and sizes of files are polled, so nothing depends on what an operating system can report. What changes
while a run is under way starts the next one.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import NoReturn

import click

from handbill.base.cache import default_cache_dir
from handbill.base.files import find_root
from handbill.cli.compile import Outcome, Work, compile_all, show_mistakes
from handbill.cli.table import SAME, size
from handbill.library.find import built_in

INTERVAL = 0.4  # seconds between two looks
SETTLED = 0.1  # seconds without a change, for editors write in several steps

#: Of every file its time of change in ns, its size in bytes and its number on the disk.
State = dict[str, tuple[int, int, int]]


def watch_campaigns(work: Work, form: str) -> int:
    """Compile, wait for a change, compile again, until Ctrl-C. Returns the exit code."""
    try:
        roots = {root for file in work.files if (root := find_root(Path(os.path.abspath(file)))) is not None}
        if not roots:
            outcome = compile_all(work)  # says what is wrong with the paths
            show_mistakes(outcome)
            return outcome.exit_code
        skipped = [*(root / "out" for root in roots), default_cache_dir()]
        if work.out is not None:
            skipped.append(work.out)
        _watch(lambda: _run(work, form), lambda: scan([*roots, built_in()], skipped))
    except KeyboardInterrupt:
        return 0


def _run(work: Work, form: str) -> None:
    outcome = compile_all(work)
    if form == "json":
        click.echo(json.dumps(outcome.data(), ensure_ascii=False))
        return
    show_mistakes(outcome)
    click.echo(summary(outcome))


def summary(outcome: Outcome) -> str:
    """One run in one line."""
    mistakes = len(set(outcome.mistakes))
    made = [one for one in outcome.results if one.changed]
    named = ", ".join(f"{one.campaign} ({size(one)})" for one in made)
    parts = [f"compiled {named}" if made else SAME if outcome.results else "compiled nothing"]
    if mistakes:
        parts.append(f"{mistakes} mistake{'s' if mistakes > 1 else ''}")
    return ", ".join(parts) + "; waiting for changes"


def _watch(run: Callable[[], None], look: Callable[[], State]) -> NoReturn:
    while True:
        seen = look()  # before the run: what changes during it counts as a change
        run()
        while (now := look()) == seen:
            time.sleep(INTERVAL)
        while True:
            time.sleep(SETTLED)
            later = look()
            if later == now:
                break
            now = later


def scan(folders: Iterable[Path], skipped: Sequence[Path]) -> State:
    """The files below `folders`, without hidden ones, links and the folders `skipped`.

    Files and folders may come and go meanwhile: one that is gone when it is looked at is left out.
    """
    found: State = {}
    leave = {os.path.abspath(path) for path in skipped}
    work = [os.path.abspath(folder) for folder in folders]
    while work:
        folder = work.pop()
        try:
            with os.scandir(folder) as entries:
                for entry in entries:
                    if entry.name.startswith(".") or entry.path in leave:
                        continue
                    try:
                        if entry.is_dir(follow_symlinks=False):
                            work.append(entry.path)
                        elif entry.is_file(follow_symlinks=False):
                            status = entry.stat(follow_symlinks=False)
                            found[entry.path] = (status.st_mtime_ns, status.st_size, status.st_ino)
                    except OSError:
                        continue
        except OSError:
            continue
    return found
