"""Enters: readers-opening.md, tests/outside/*.toml, the support data, the demos; leaves: docs/readers.md.

usage: python tests/tools/reader_docs.py
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
sys.path.insert(0, str(ROOT / "tests"))

from tests.outside.clip import ALLOWANCE, LIMIT, NEAR, Weight, sent, weigh  # noqa: E402
from tests.outside.mails import CAMPAIGNS  # noqa: E402

from handbill.readers.support import MAIN, Verdict, features  # noqa: E402

PAGE = ROOT / "docs" / "readers.md"
OUTSIDE = ROOT / "tests" / "outside"
OPENING = Path(__file__).with_name("readers-opening.md")


def cell(text: str) -> str:
    return " ".join(text.split()).replace("<", "&lt;").replace("|", "\\|")


def shown(verdict: Verdict) -> str:
    return "partly" if verdict.mark == "a" else "no"


def lacks(records: Mapping[str, Any]) -> Iterator[str]:
    known = {reader.code: reader for reader in MAIN}
    yield "## What readers lack"
    yield ""
    yield (
        'Source: the open data "Can I email", file of 2025-09-09; see `src/handbill/readers/NOTICE.txt`. '
        "Which readers are the main ones is common practice. (partly) stands behind a reader that has part "
        "of a feature."
    )
    yield ""
    yield "| code | reader |"
    yield "|---|---|"
    for reader in MAIN:
        yield f"| {reader.code} | {reader.name} |"
    yield ""
    yield "| feature | last tested | lacking in | what is seen instead | shown by |"
    yield "|---|---|---|---|---|"
    for record in records["lack"]:
        for name in record["features"]:
            feature = features()[name]
            verdicts = [(code, feature.verdict(known[code])) for code in record["readers"]]
            readers = ", ".join(
                f"{code} (partly)" if shown(verdict) == "partly" else code for code, verdict in verdicts
            )
            file, _, test = record["shown_by"].partition("::")
            yield (
                f"| {cell(feature.title)} | {feature.tested} | {readers} | {cell(record['instead'])} "
                f"| `{Path(file).name}` `{test}` |"
            )
    yield ""


def beyond(records: Mapping[str, Any]) -> Iterator[str]:
    yield "## What the data say nothing of"
    yield ""
    yield "| used | for |"
    yield "|---|---|"
    for record in records["beyond"]:
        names = ", ".join(f"`{name.replace(':', ' ', 1)}`" for name in record["names"])
        yield f"| {names} | {cell(record['because'])} |"
    yield ""


def clip(weights: Mapping[str, Weight]) -> Iterator[str]:
    yield "## Long mails"
    yield ""
    yield (
        f"One webmail cuts a mail off at {LIMIT // 1024} KB of HTML, with a link to the rest; from "
        f"{NEAR // 1024} KB on it is worth a look (both common practice). Counted are the bytes of the HTML "
        "part after decoding. A sending program that counts clicks puts an address of its own in place of "
        f"each link, and adds a picture that counts openings; {ALLOWANCE} bytes are allowed for each (common "
        "practice: look at a mail that your program has sent)."
    )
    yield ""
    yield "| demo | KB as it is | links | KB with every link rewritten |"
    yield "|---|---|---|---|"
    for name, weight in weights.items():
        yield f"| {name} | {weight.plain / 1024:.0f} | {weight.links} | {weight.rewritten / 1024:.0f} |"
    yield ""


def spam(hits: Mapping[str, Any]) -> Iterator[str]:
    yield "## Spam filters"
    yield ""
    yield (
        "Rules of SpamAssassin that the demos hit, in all less than half of what its default calls spam. A "
        "note, not a promise: other filters know other rules, and what they have learnt about a sender "
        "weighs more."
    )
    yield ""
    yield "| rule | why it is no fault of the mail |"
    yield "|---|---|"
    for hit in hits["hit"]:
        yield f"| {hit['rule']} | {cell(hit['because'])} |"


def page(weights: Mapping[str, Weight]) -> str:
    """The whole file."""
    records = tomllib.loads((OUTSIDE / "readers.toml").read_text("utf-8"))
    hits = tomllib.loads((OUTSIDE / "spam.toml").read_text("utf-8"))
    lines = [*lacks(records), *beyond(records), *clip(weights), *spam(hits)]
    return OPENING.read_text("utf-8") + "\n".join(lines) + "\n"


def weights() -> dict[str, Weight]:
    return {path.stem: weigh(sent(path)) for path in CAMPAIGNS}


if __name__ == "__main__":
    PAGE.write_text(page(weights()), "utf-8", newline="\n")
