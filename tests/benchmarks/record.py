"""`python -m tests.benchmarks.record` writes the figures of this machine into docs/performance.md."""

from __future__ import annotations

import platform
from collections.abc import Iterable, Mapping

from .demo import ROOT
from .figures import cold, next_mail
from .many import many
from .pictures import pictures
from .test_pictures import CEILINGS as CEILINGS_OF_PICTURES
from .test_speed import CEILINGS as CEILINGS_OF_ONE
from .test_speed import FLOORS as FLOORS_OF_ONE
from .test_variants import CEILINGS as CEILINGS_OF_MANY
from .test_variants import FLOORS as FLOORS_OF_MANY

PAGE = ROOT / "docs" / "performance.md"
FLOORS = FLOORS_OF_ONE | FLOORS_OF_MANY
CEILINGS = CEILINGS_OF_ONE | CEILINGS_OF_MANY | CEILINGS_OF_PICTURES
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
    following, program, batch, drawn = next_mail(), cold(), many(), pictures()
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
    compared = following.ratios | program.ratios | batch.ratios | drawn.ratios
    return "\n".join([
        f"Measured on {machine}.", "",
        "| ratio | measured | goal |", "|---|--:|---|", *ratios(compared), "",
        "| next mail | CPU ms |", "|---|--:|",
        *rows([name, f"{1000 * seconds:.2f}"] for name, seconds in costs.items()), "",
        "| whole program | CPU ms | peak MB |", "|---|--:|--:|",
        *rows(
            [text, f"{1000 * program.seconds[name]:.0f}", f"{program.memory[name] / 2**20:.1f}"]
            for name, text in names.items()
        ),
        "", "| many mails, files written | ms a mail |", "|---|--:|",
        *rows([text, f"{1000 * seconds:.2f}"] for text, seconds in (
            ("1,000 variants, two workers, by the clock", batch.clock),
            ("baseline with premailer, two workers, by the clock", batch.script_clock),
            ("1,000 variants, two workers, written to disk", batch.on_disk[0]),
            ("baseline with premailer, two workers, written to disk", batch.on_disk[1]),
            ("1,000 variants, one process, CPU", batch.alone),
            ("bare fill, quoted-printable and the same files, CPU", batch.bare),
            ("20 brands, every section another, one process, CPU", batch.brands),
        )),
        "", "| many mails, whole runs | |", "|---|--:|",
        f"| 1,000 variants with nothing changed | {1000 * batch.again:.0f} CPU ms |",
        f"| `handbill --version` | {1000 * batch.start:.0f} CPU ms |",
        *(f"| {count:,} variants, peak | {size / 2**20:.1f} MB |" for count, size in batch.memory.items()),
        "", "| pictures of one mail | CPU ms |", "|---|--:|",
        *rows([text, f"{1000 * seconds:.0f}"] for text, seconds in (
            ("all of them, as handbill makes them", drawn.cold),
            ("all of them, resized and saved only", drawn.script),
            ("whole compile, all known", drawn.warm),
            ("whole compile of the mail without", drawn.without),
        )),
        f"| times a picture was looked at, decoded or made, warm (cold) | {drawn.work} ({drawn.cold_work}) |",
    ])  # fmt: skip


def main() -> None:
    """Put the figures between the marks of the page."""
    page = PAGE.read_text("utf-8")
    before, rest = page.split(START)
    PAGE.write_text(f"{before}{START}\n{figures()}\n{END}{rest.split(END)[1]}", "utf-8")


if __name__ == "__main__":
    main()
