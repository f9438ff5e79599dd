"""`python -m tests.benchmarks.record` writes the figures of this machine into docs/performance.md."""

from __future__ import annotations

import platform
from collections.abc import Iterable, Mapping

from .demo import ROOT
from .figures import cold, next_mail
from .test_speed import CEILINGS, FLOORS

PAGE = ROOT / "docs" / "performance.md"
START, END = "<!-- figures -->", "<!-- end of figures -->"


def wanted(name: str) -> str:
    if name in FLOORS:
        return f"at least {FLOORS[name]:g}"
    return f"at most {CEILINGS[name]:g}" if name in CEILINGS else ""


def rows(cells: Iterable[Iterable[str]]) -> list[str]:
    return ["| " + " | ".join(row) + " |" for row in cells]


def ratios(found: Mapping[str, float]) -> list[str]:
    return rows([name, f"{value:.{1 if value >= 3 else 2}f}", wanted(name)] for name, value in found.items())


def figures() -> str:
    """The measured part of the page."""
    following, program = next_mail(), cold()
    machine = f"CPython {platform.python_version()}, {platform.system()} {platform.machine()}"
    costs = {
        "handbill, every section changed": following.every,
        "handbill, one section changed (mean of each in turn)": following.one_mean,
        "handbill, the largest section changed": max(following.one.values()),
        "bare Jinja fill and quoted-printable": following.bare,
        "baseline with premailer": following.premailer,
        "baseline with css-inline": following.css_inline,
    }
    names = {
        "imports": "`import yaml, jinja2, click, pydantic`",
        "models": "the same and pydantic's `BaseModel`, which it imports late",
        "handbill": "`handbill compile` of the demo",
    }
    return "\n".join([
        f"Measured on {machine}.", "",
        "| ratio | measured | goal |", "|---|--:|---|", *ratios(following.ratios | program.ratios), "",
        "| next mail | CPU ms |", "|---|--:|",
        *rows([name, f"{1000 * seconds:.2f}"] for name, seconds in costs.items()), "",
        "| whole program | CPU ms | peak MB |", "|---|--:|--:|",
        *rows(
            [text, f"{1000 * program.seconds[name]:.0f}", f"{program.memory[name] / 2**20:.1f}"]
            for name, text in names.items()
        ),
    ])  # fmt: skip


def main() -> None:
    """Put the figures between the marks of the page."""
    page = PAGE.read_text("utf-8")
    before, rest = page.split(START)
    PAGE.write_text(f"{before}{START}\n{figures()}\n{END}{rest.split(END)[1]}", "utf-8")


if __name__ == "__main__":
    main()
