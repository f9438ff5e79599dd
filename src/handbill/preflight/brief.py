"""A finding as plain data, for those who must not bring in the rules: compile, its workers, what it keeps."""

from __future__ import annotations

from typing import NamedTuple


class Brief(NamedTuple):
    """A finding: its place, the section's id, the rule, its weight (note, warning, error), its words."""

    file: str
    line: int
    column: int
    section: str
    rule: str
    weight: str
    message: str
    remedy: str

    @property
    def stops(self) -> bool:
        """Whether a strict run stops for it."""
        return self.weight != "note"

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        return f"{place}: {self.section}: {self.weight}: {self.message} ({self.rule})"
