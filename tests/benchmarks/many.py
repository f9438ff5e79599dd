"""Many variants. Enters: the demo, copied; leaves: what a thousand and ten thousand of its mails cost.

The sale campaign with an axis that changes one section; a smaller one for ten thousand, since what is asked
is how memory grows; and the sale in twenty brands, each with a house style of its own.

Both sides write into memory (tmpfs) where the machine has room there, and once to its disk: what that takes
to make four thousand files is the same for both, and changes with whatever was deleted last.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, process_time

from .baseline import Baseline
from .clock import collector_off
from .demo import ROOT, load_mail
from .figures import HANDBILL, environment, launched

MAILS = 1_000
OF_SCRIPT = 60  # mails of the baseline, whose cost for each is the same from the first on
BRANDS = 20
TURNS = 4
MEMORY = Path("/dev/shm")  # Linux keeps these files in memory
ROOM = 2**30  # bytes asked of it; ten thousand small mails take a third
WORDS = (("top.kicker", "Kicker"), ("top.headline", "Headline"), ("top.copy", "Copy"), ("end.copy", "Words"))
SMALL = """\
handbill: 1
campaign: many
brand: orrowby
send: 2027-02-25T18:00
subject: Many
preheader: Many mails.
stack:
  - {block: copy, id: top, kicker: Kicker, headline: Headline, copy: Copy.}
  - {block: copy, id: end, headline: End, copy: Words.}
  - standing: footer
"""


@dataclass(frozen=True, slots=True)
class Many:
    """Seconds for each mail, and peak bytes. All but the clocks are CPU time, user and system."""

    clock: float  # two workers
    script_clock: float  # the baseline's two workers
    on_disk: tuple[float, float]  # the same two where files go to the machine's disk
    alone: float  # one process, start-up and all
    bare: float  # bare fill, quoted-printable and the same files written
    again: float  # nothing changed since
    start: float  # `handbill --version`, a run
    full: float  # one process, a run
    brands: float  # every section differs, in a brand of its own; the brands' templates are in the cache
    memory: dict[int, int]  # by number of variants

    @property
    def ratios(self) -> dict[str, float]:
        return {
            "1,000 variants, against premailer, two workers each": self.script_clock / self.clock,
            "1,000 variants, against the bare fill and the same files": self.alone / self.bare,
            "1,000 variants with nothing changed, less start-up, against the whole run": (
                max(0.0, self.again - self.start) / self.full
            ),
            "peak memory of 10,000 variants, against 1,000": self.memory[10_000] / self.memory[1_000],
        }


def workspace(folder: Path) -> Path:
    """A copy of the demo with the campaigns measured here; its root."""
    root = folder / "shop"
    shutil.copytree(ROOT / "demo", root, ignore=shutil.ignore_patterns("out", "art"))
    campaigns = root / "campaigns"
    sale = (campaigns / "winter-last-call.yaml").read_text("utf-8")
    assert "variants:" not in sale
    words = "On ${offer.ends:weekday} at ${offer.ends:time} the sun clears the ridge. Letter"
    values = {f"s{number:04}": f"{{set: {{top.copy: '{words} {number}.'}}}}" for number in range(MAILS)}
    _write(campaigns / "sale.yaml", sale.replace("winter-last-call", "sale"), {"segment": values})
    for count, axes in ((1_000, 3), (10_000, 4)):
        tens = {
            f"a{axis}": {f"v{one}": f"{{set: {{{path}: '{word} {one}.'}}}}" for one in range(10)}
            for axis, (path, word) in enumerate(WORDS[:axes])
        }
        _write(campaigns / f"small-{count}.yaml", SMALL.replace("many", f"small-{count}"), tens)
    names = [f"shop-{number}" for number in range(BRANDS)]
    for number, name in enumerate(names):
        brand = root / "brands" / name
        brand.mkdir()
        for path in (root / "brands" / "orrowby").glob("*.csv"):
            shutil.copy(path, brand)
        (brand / "brand.yaml").write_text(
            f"handbill: 1\nbrand: {name}\nextends: orrowby\nname: Shop {number}\n"
            f"site: https://{name}.example\n"
            f"space: {{side: {{desktop: {20 + number}, phone: {4 + number}}}}}\n",
            "utf-8",
        )
    axis = f"variants:\n  axes:\n    brand: [{', '.join(names)}]\n"
    (campaigns / "brands.yaml").write_text(sale.replace("winter-last-call", "brands") + axis, "utf-8")
    return root


def _write(path: Path, text: str, axes: dict[str, dict[str, str]]) -> None:
    lines = ["variants:", "  axes:"]
    for axis, values in axes.items():
        lines += [f"    {axis}:", *(f"      {value}: {patch}" for value, patch in values.items())]
    path.write_text(text + "\n".join(lines) + "\n", "utf-8")


def quick_folder() -> str | None:
    """Where files stay in memory; None where there is no such place, or not enough of it."""
    there = MEMORY.is_dir() and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > ROOM
    return str(MEMORY) if there else None


def written_to_disk(command: list[str], script: list[str], folder: Path) -> tuple[float, float]:
    """Seconds by the clock for each mail of both sides, with files in a new folder for each."""
    with tempfile.TemporaryDirectory() as name:
        ours, theirs = Path(name, "ours"), Path(name, "theirs")
        words = [str(ours) if word == str(folder / "out") else word for word in command]
        start = perf_counter()
        subprocess.run(words, env=environment(folder), cwd=ROOT, capture_output=True, check=True)
        spent = perf_counter() - start
        done = subprocess.run(
            [*script[:-1], str(theirs)], env=environment(folder), cwd=ROOT, capture_output=True, check=True
        )
        return spent / MAILS, float(done.stdout) / OF_SCRIPT


def bare(baseline: Baseline, mails: int, out: Path, files: dict[str, bytes]) -> float:
    """CPU seconds for each mail: all templates filled and coded, and files of handbill's sizes written."""
    values = baseline.contexts(baseline.mail)
    with collector_off():
        start = process_time()
        for number in range(mails):
            baseline.bare(values)
            folder = out / str(number)
            folder.mkdir(parents=True)
            for name, data in files.items():
                (folder / name).write_bytes(data)
        spent = process_time() - start
    shutil.rmtree(out)
    return spent / mails


def many() -> Many:
    """Measures all of it, in turns; every cache is warm."""
    with tempfile.TemporaryDirectory(dir=quick_folder()) as name:
        folder = Path(name)
        root = workspace(folder)
        out = folder / "out"

        def command(campaign: str, *more: str) -> list[str]:
            return [
                HANDBILL,
                "compile",
                str(root / "campaigns" / f"{campaign}.yaml"),
                "--out",
                str(out),
                *more,
            ]

        def run(*words: str) -> str:
            done = subprocess.run(
                words, env=environment(folder), cwd=ROOT, capture_output=True, text=True, check=False
            )
            if done.returncode:
                raise RuntimeError(done.stderr)
            return done.stdout

        run(*command("sale", "--variant", "segment=s0000"))
        made = {path.name: path.read_bytes() for path in (out / "sale" / "segment=s0000").iterdir()}
        run(*command("brands"))
        script = [sys.executable, "-m", "tests.benchmarks.script", str(OF_SCRIPT), str(folder / "script")]
        baseline = Baseline(load_mail())
        costs: list[dict[str, float]] = []
        for _ in range(TURNS):
            found = launched(
                {
                    "start": [HANDBILL, "--version"], "alone": command("sale"), "again": command("sale"),
                    "two": command("sale", "--jobs", "2"), "brands": command("brands"),
                },
                1, folder, out, going_on=["again"], discarded=0,
            )  # fmt: skip
            shutil.rmtree(folder / "script", ignore_errors=True)
            costs.append({
                "clock": found["two"]["clock"] / MAILS,
                "script_clock": float(run(*script)) / OF_SCRIPT,
                "alone": found["alone"]["seconds"] / MAILS,
                "bare": bare(baseline, 200, folder / "bare", made),
                "again": found["again"]["seconds"],
                "start": found["start"]["seconds"],
                "full": found["alone"]["seconds"],
                "brands": found["brands"]["seconds"],
            })  # fmt: skip
        on_disk = written_to_disk(command("sale", "--jobs", "2"), script, folder)
        best = {name: min(cost[name] for cost in costs) for name in costs[0]}
        best["brands"] = (best["brands"] - best["start"]) / BRANDS
        grown = launched(
            {str(count): command(f"small-{count}") for count in (1_000, 10_000)}, 1, folder, out, discarded=0
        )
    return Many(**best, on_disk=on_disk, memory={int(count): cost["memory"] for count, cost in grown.items()})
