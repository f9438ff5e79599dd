"""The figures. Enters: nothing but the demo; leaves: the costs and ratios of docs/performance.md."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from .baseline import Baseline
from .clock import in_turns
from .demo import CAMPAIGN, ROOT, load_mail, next_variant
from .subject import Press

ROUNDS = 20  # of whole programs
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


def cold() -> Cold:
    """Measures whole programs: byte code, blocks, patterns and pictures are cached, out/ is not there."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        environment = {
            key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"
        } | {"PYTHONPYCACHEPREFIX": str(folder / "pyc"), "HANDBILL_CACHE": str(folder / "cache")}
        command = str(Path(sys.executable).with_name("handbill"))
        out = str(folder / "out")
        commands = {
            "imports": [sys.executable, "-c", IMPORTS],
            "models": [sys.executable, "-c", MODELS],
            "handbill": [command, "compile", str(CAMPAIGN), "--out", out],
        }
        launch = [sys.executable, "-I", "-S", str(Path(__file__).with_name("launch.py"))]
        done = subprocess.run(
            [*launch, json.dumps(commands), str(ROUNDS), out],
            env=environment, cwd=ROOT, capture_output=True, text=True, check=False,
        )  # fmt: skip
    if done.returncode:
        raise RuntimeError(done.stderr)
    found = json.loads(done.stdout)
    return Cold(
        {name: cost["seconds"] for name, cost in found.items()},
        {name: cost["memory"] for name, cost in found.items()},
    )
