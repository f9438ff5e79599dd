"""Lacks on record. Enters: recorded.txt; leaves: features that some main reader lacks, and that degrade so.

What such a reader shows instead, and the test that shows it, is in docs/readers.md.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path


@cache
def recorded() -> frozenset[str]:
    """The features by slug."""
    return frozenset(Path(__file__).with_name("recorded.txt").read_text("utf-8").split())
