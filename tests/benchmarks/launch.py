"""Programs run in turns. Enters: commands as JSON, rounds, their output folder; leaves: their costs.

A program of its own, and a small one: Linux counts what a parent held when it started a child towards the
child's peak memory (getrusage(2), ru_maxrss), so a large parent would hide what is measured.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
from time import perf_counter


def run(command: list[str]) -> tuple[float, int, float]:
    """CPU seconds, user and system, peak resident bytes and seconds by the clock of one run."""
    start = perf_counter()
    silent = os.open(os.devnull, os.O_WRONLY)
    pid = os.posix_spawn(command[0], command, os.environ, file_actions=[(os.POSIX_SPAWN_DUP2, silent, 1)])
    os.close(silent)
    _, status, usage = os.wait4(pid, 0)
    if status:
        sys.exit(f"{' '.join(command)} ended with {os.waitstatus_to_exitcode(status)}")
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024, perf_counter() - start


def main() -> None:
    """The best seconds and the median peak of every command.

    The output folder goes before each run, but for commands that are named as going on from the one before.
    `discarded` runs of each come first, to fill the caches.
    """
    asked = json.loads(sys.argv[1])
    commands, out, going_on = asked["commands"], asked["out"], asked.get("going_on", ())
    discarded = asked.get("discarded", 1)
    costs: dict[str, list[tuple[float, int, float]]] = {name: [] for name in commands}
    for number in range(asked["rounds"] + discarded):
        for name, command in commands.items():
            if name not in going_on:
                shutil.rmtree(out, ignore_errors=True)
            cost = run(command)
            if number >= discarded:
                costs[name].append(cost)
    shutil.rmtree(out, ignore_errors=True)
    found = {
        name: {
            "seconds": min(seconds for seconds, _, _ in all_),
            "memory": sorted(memory for _, memory, _ in all_)[len(all_) // 2],
            "clock": min(clock for _, _, clock in all_),
        }
        for name, all_ in costs.items()
    }
    json.dump(found, sys.stdout)


if __name__ == "__main__":
    main()
