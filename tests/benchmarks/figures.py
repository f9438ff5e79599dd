"""The figures. Enters: nothing but the demo; leaves: the costs and ratios of docs/performance.md."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .baseline import Baseline
from .clock import in_turns
from .demo import CAMPAIGN, ROOT, load_mail, next_variant
from .subject import Press

ROUNDS = 20  # of whole programs
HANDBILL = str(Path(sys.executable).with_name("handbill"))
IMPORTS = "import yaml, jinja2, click, pydantic"
MODELS = "import yaml, jinja2, click, pydantic; pydantic.BaseModel"


@dataclass(frozen=True, slots=True)
class Next:
    """CPU seconds for the next mail of a loaded campaign, on each side."""

    every: float
    one: dict[str, float]  # by the section that changed
    premailer: float
    premailer_one: float
    css_inline: float
    bare: float

    @property
    def one_mean(self) -> float:
        return sum(self.one.values()) / len(self.one)

    @property
    def ratios(self) -> dict[str, float]:
        return {
            "every section changed, against premailer": self.premailer / self.every,
            "one section changed, against premailer": self.premailer_one / self.one_mean,
            "the largest section changed, against premailer": self.premailer_one / max(self.one.values()),
            "every section changed, against css-inline": self.css_inline / self.every,
            "every section changed, against the bare fill": self.every / self.bare,
        }


@dataclass(frozen=True, slots=True)
class Cold:
    """CPU seconds and peak bytes of whole programs."""

    seconds: dict[str, float]
    memory: dict[str, int]

    @property
    def ratios(self) -> dict[str, float]:
        return {
            "cold compile, against the imports": self.seconds["handbill"] / self.seconds["imports"],
            "peak memory, against the imports": self.memory["handbill"] / self.memory["imports"],
        }


def next_mail() -> Next:
    """Measures the next mail. One section changed is measured for each section in turn."""
    mail = load_mail()
    baseline, press = Baseline(mail), Press(mail)
    values = baseline.contexts(mail)
    filled = [baseline.fill(one, section) for one, section in zip(values, mail.sections, strict=True)]
    others = {number: pair for number, pair in enumerate(filled) if number}
    work = {
        "every": (lambda: next_variant(mail), press.every),
        "premailer": (lambda: None, lambda _: baseline.make(values, "premailer")),
        "premailer_one": (lambda: None, lambda _: baseline.make(values, "premailer", others)),
        "css_inline": (lambda: None, lambda _: baseline.make(values, "css-inline")),
        "bare": (lambda: None, lambda _: baseline.bare(values)),
    }
    for number, section in enumerate(mail.sections):
        work[f"one {section.id}"] = (lambda number=number: next_variant(mail, number), press.next)  # type: ignore[misc]
    costs = in_turns(work)
    one = {section.id: costs.pop(f"one {section.id}") for section in mail.sections}
    return Next(one=one, **costs)


def environment(folder: Path) -> dict[str, str]:
    """Byte code and caches of its own, below `folder`."""
    kept = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPYCACHEPREFIX": str(folder / "pyc"), "HANDBILL_CACHE": str(folder / "cache")}


def launched(
    commands: Mapping[str, list[str]], rounds: int, folder: Path, out: Path, **how: Any
) -> dict[str, dict[str, Any]]:
    """Whole programs in turns, started by a small one: CPU and clock seconds and peak bytes of each."""
    asked = {"commands": commands, "rounds": rounds, "out": str(out), **how}
    launch = [sys.executable, "-I", "-S", str(Path(__file__).with_name("launch.py")), json.dumps(asked)]
    done = subprocess.run(
        launch, env=environment(folder), cwd=ROOT, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(done.stderr)
    found: dict[str, dict[str, Any]] = json.loads(done.stdout)
    return found


def cold() -> Cold:
    """Measures whole programs: byte code, blocks, patterns and pictures are cached, out/ is not there."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        out = folder / "out"
        commands = {
            "imports": [sys.executable, "-c", IMPORTS],
            "models": [sys.executable, "-c", MODELS],
            "handbill": [HANDBILL, "compile", str(CAMPAIGN), "--out", str(out)],
        }
        found = launched(commands, ROUNDS, folder, out)
    return Cold(
        {name: cost["seconds"] for name, cost in found.items()},
        {name: cost["memory"] for name, cost in found.items()},
    )
