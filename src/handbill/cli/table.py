"""What a compile came to, for people and for programs. Enters: results; leaves: a table, or plain data.

Sizes are KB of 1024 bytes. A campaign of many variants takes one line; `!` marks what passes its budget.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from handbill.batch.result import CompiledCampaign, CompiledVariant

KB = 1024
FEW = 12  # variants that are listed one by one
NAMED = 20  # pictures that a line names
SAME = "nothing changed"
HEADS = ("campaign", "variant", "subject", "HTML KB", "text KB", "pictures KB", "written to")
FIGURES = range(3, 6)  # columns that are set to the right
MAIN = "main"


def table(results: Sequence[CompiledCampaign]) -> str:
    """Campaign, variant, subject, sizes, and where the files are or that nothing changed."""
    rows = [HEADS, *(row for one in results for row in _rows(one))]
    if all(row[1] in (MAIN, HEADS[1]) for row in rows):  # no variants: no column for them
        rows = [(*row[:1], "", *row[2:]) for row in rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEADS))]
    return "\n".join(
        "  ".join(
            cell.rjust(width) if column in FIGURES else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
            if width
        ).rstrip()
        for row in rows
    )


def _rows(result: CompiledCampaign) -> Iterator[tuple[str, ...]]:
    folder = os.path.relpath(result.folder)
    gone = f"{_many(len(result.removed), 'variant')} removed" if result.removed else ""
    if len(result.variants) > FEW:
        yield _summary(result, folder, gone)
        return
    for number, one in enumerate(result.variants):
        said = [] if one.written else [SAME if not result.changed else "unchanged"]
        said += [gone] if gone and not number else []
        where = ", ".join([os.path.join(folder, one.id), *said])
        yield (
            result.campaign, one.id, one.subject, _within(one.html, one.html, result.html_limit, 1),
            f"{one.text / KB:.1f}", _within(one.pictures, one.pictures, result.pictures_limit, 0), where,
        )  # fmt: skip


def _summary(result: CompiledCampaign, folder: str, gone: str) -> tuple[str, ...]:
    made = result.variants
    written = sum(one.written for one in made)
    said = [f"{written:,} written"] if written else []
    if len(made) > written:
        said.append(f"{len(made) - written:,} unchanged" if result.changed else SAME)
    subjects = {one.subject for one in made}
    subject = made[0].subject if len(subjects) == 1 else f"{made[0].subject} and {len(subjects) - 1:,} more"
    html, text, pictures = (
        _least_most(made, of) for of in (lambda one: one.html, lambda one: one.text, lambda one: one.pictures)
    )
    return (
        result.campaign, _many(len(made), "variant"), subject, _within(*html, result.html_limit, 1),
        _span(text, 1), _within(*pictures, result.pictures_limit, 0),
        ", ".join([folder, *said, *([gone] if gone else [])]),
    )  # fmt: skip


def _least_most(made: Iterable[CompiledVariant], of: Callable[[CompiledVariant], int]) -> tuple[int, int]:
    sizes = [of(one) for one in made]
    return min(sizes), max(sizes)


def _within(least: int, most: int, limit: int, digits: int) -> str:
    return f"{_span((least, most), digits)} of {limit // KB}{' !' if most > limit else ''}"


def _span(sizes: tuple[int, int], digits: int) -> str:
    least, most = (f"{size / KB:.{digits}f}" for size in sizes)
    return most if least == most else f"{least}–{most}"


def open_hosting(result: CompiledCampaign) -> Iterator[str]:
    """A line for what each map of hosted pictures leaves open."""
    for one in result.hosting:
        if one.missing:
            many = _many(len(one.missing), "picture")
            yield (
                f"{one.file}: no address for {many} of {result.campaign}, sought at {one.base}: "
                + _named(one.missing)
            )
        if one.unknown:
            many, out = _many(len(one.unknown), "picture"), os.path.relpath(result.folder.parent)
            yield f"{one.file}: {many} that no mail in {out} has: {_named(one.unknown)}"


def _named(names: Sequence[str]) -> str:
    more = f" and {len(names) - NAMED:,} more" if len(names) > NAMED else ""
    return ", ".join(names[:NAMED]) + more


def size(result: CompiledCampaign) -> str:
    """How large a campaign's mails are, and how many."""
    sizes = _span(_least_most(result.variants, lambda one: one.html), 1) + " KB"
    return sizes if len(result.variants) == 1 else f"{_many(len(result.variants), 'variant')}, {sizes}"


def _many(number: int, noun: str) -> str:
    return f"{number:,} {noun}" + ("" if number == 1 else "s")


def data(results: Iterable[CompiledCampaign]) -> dict[str, Any]:
    """The mails one by one, and for each campaign what was done; sizes in bytes."""
    mails: list[dict[str, Any]] = []
    campaigns: list[dict[str, Any]] = []
    for result in results:
        folder = os.path.relpath(result.folder)
        mails += [
            {
                "campaign": result.campaign, "variant": one.id, "subject": one.subject, "html": one.html,
                "html_limit": result.html_limit, "text": one.text, "eml": one.eml,
                "pictures": one.pictures, "pictures_limit": result.pictures_limit,
                "folder": os.path.join(folder, one.id), "written": one.written,
            }
            for one in result.variants
        ]  # fmt: skip
        campaigns.append({
            "campaign": result.campaign, "folder": folder, "changed": result.changed,
            "variants": len(result.variants), "written": sum(one.written for one in result.variants),
            "removed": list(result.removed),
            "findings": [one._asdict() for one in result.findings],
            "hosting": [one._asdict() for one in result.hosting],
        })  # fmt: skip
    return {"mails": mails, "campaigns": campaigns}
