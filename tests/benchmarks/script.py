"""The baseline over many mails: `python -m tests.benchmarks.script MAILS OUT`; leaves: seconds by the clock.

Two processes share the mails, both with everything loaded before the clock starts; each mail is one whose
largest other sections are filled already, and all its files but a manifest are written.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from time import perf_counter

from .baseline import Baseline
from .demo import load_mail

WORKERS = 2


def main() -> None:
    """Fork, wait, print."""
    mails, out = int(sys.argv[1]), Path(sys.argv[2])
    mail = load_mail()
    baseline = Baseline(mail)
    values = baseline.contexts(mail)
    filled = [baseline.fill(one, section) for one, section in zip(values, mail.sections, strict=True)]
    changed = next(number for number, section in enumerate(mail.sections) if section.id == "top")
    others = {number: pair for number, pair in enumerate(filled) if number != changed}
    baseline.make(values, "premailer", others)  # its caches are warm
    out.mkdir(parents=True, exist_ok=True)
    start = perf_counter()
    workers = []
    for worker in range(WORKERS):
        pid = os.fork()
        if not pid:
            for number in range(worker, mails, WORKERS):
                made = baseline.make(values, "premailer", others)
                folder = out / str(number)
                folder.mkdir()
                for name, data in made._asdict().items():
                    (folder / f"email.{name}").write_bytes(data)
            os._exit(0)
        workers.append(pid)
    for pid in workers:
        if os.waitpid(pid, 0)[1]:
            sys.exit("a worker failed")
    print(perf_counter() - start)


if __name__ == "__main__":
    main()
