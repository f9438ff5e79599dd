"""Programs run in turns. Enters: commands as JSON, rounds, a folder to remove each time; leaves: their costs.

A program of its own, and a small one: Linux counts what a parent held when it started a child towards the
child's peak memory (getrusage(2), ru_maxrss), so a large parent would hide what is measured.
"""

from __future__ import annotations

import json
import os
import shutil
import sys


def run(command: list[str]) -> tuple[float, int]:
    """CPU seconds, user and system, and peak resident bytes of one run."""
    silent = os.open(os.devnull, os.O_WRONLY)
    pid = os.posix_spawn(command[0], command, os.environ, file_actions=[(os.POSIX_SPAWN_DUP2, silent, 1)])
    os.close(silent)
    _, status, usage = os.wait4(pid, 0)
    if status:
        sys.exit(f"{' '.join(command)} ended with {os.waitstatus_to_exitcode(status)}")
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024


def main() -> None:
    """The best seconds and the median peak of every command."""
    commands, rounds, out = json.loads(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    costs: dict[str, list[tuple[float, int]]] = {name: [] for name in commands}
    for number in range(rounds + 1):
        for name, command in commands.items():
            shutil.rmtree(out, ignore_errors=True)
            cost = run(command)
            if number:  # the first run fills the caches
                costs[name].append(cost)
    found = {
        name: {
            "seconds": min(seconds for seconds, _ in all_),
            "memory": sorted(memory for _, memory in all_)[len(all_) // 2],
        }
        for name, all_ in costs.items()
    }
    json.dump(found, sys.stdout)


if __name__ == "__main__":
    main()
