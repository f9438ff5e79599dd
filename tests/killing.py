"""Kills a compile at moment after moment, and looks at what it leaves. Run by test_killed.py.

Enters: a folder with two workspaces, `old` and `new`, each compiled to its own out/, and the number of kills;
leaves: nothing, or what was wrong. A child is forked from this warm process, compiles one of the two, and
kills itself (SIGKILL cannot be caught, signal(7)) at some file operation, or is killed by the clock.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from collections import Counter
from pathlib import Path

import handbill
from many import tree

OPERATIONS = ("open", "os.rename", "os.mkdir", "os.remove", "os.rmdir", "os.link", "os.scandir", "os.listdir")
MAILS = {"email.html", "email.txt", "email.eml", "manifest.json"}


def compile_into(workspace: Path, out: Path) -> None:
    handbill.compile(workspace / "campaigns" / "spring.yaml", out=out)


def child(workspace: Path, out: Path, stop: int | None) -> int:
    """A compile of its own; with `stop` it ends at that file operation, else it tells how many there were."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        count = 0

        def hook(event: str, _arguments: object) -> None:
            nonlocal count
            if event in OPERATIONS:
                count += 1
                if count == stop:
                    os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(hook)
        compile_into(workspace, out)
        os.write(writing, str(count).encode())
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as told:
        if stop == 0:
            time.sleep(random.random() * 0.05)
            os.kill(pid, signal.SIGKILL)
        number = told.read()
    os.waitpid(pid, 0)
    return int(number or 0)


def check(out: Path, whole: dict[str, dict[str, dict[str, bytes]]]) -> Counter[str]:
    """How many variants are those of the old build and of the new one; fails for any that is neither."""
    found: Counter[str] = Counter()
    folder = out / "spring"
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        if path.name.startswith(".") or path.name in ("pictures", "manifest.json"):
            continue
        lies = tree(path)
        assert lies.keys() == MAILS, (path.name, sorted(lies))
        fits = [name for name, variants in whole.items() if variants.get(path.name) == lies]
        assert fits, path.name
        found["both" if len(fits) > 1 else fits[0]] += 1
        import json

        for one in json.loads(lies["manifest.json"])["pictures"]:
            assert (folder / "pictures" / one["file"]).is_file(), (path.name, one["file"])
    return found


def variants(out: Path) -> dict[str, dict[str, bytes]]:
    made = {path.name: tree(path) for path in (out / "spring").iterdir() if path.is_dir()}
    del made["pictures"]
    return made


def main(base: Path, kills: int) -> None:
    random.seed(4)
    out = base / "out"
    sides = [base / "old", base / "new"]
    whole = {side.name: variants(side / "out") for side in sides}
    compile_into(sides[0], out)
    operations = {side: child(side, out, None) for side in (sides[1], sides[0])}
    seen: Counter[str] = Counter()
    for number in range(kills):
        side = sides[(number + 1) % 2]
        child(side, out, 0 if number % 5 == 0 else random.randint(1, operations[side]))
        lies = check(out, whole)
        seen["mixed" if lies["old"] and lies["new"] else "whole"] += 1
    for side in sides:
        compile_into(side, out)
        assert tree(out) == tree(side / "out"), f"not a clean build of {side.name}"
    print(dict(seen), min(operations.values()))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
