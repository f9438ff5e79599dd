"""What a compile came to, as data: kept for the next run, printed by the command line, given to callers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from handbill.base.frozen import dataclass


@dataclass(frozen=True, slots=True)
class Made:
    """A variant compiled: its id, its subject as the sample reads it, sizes in bytes, whether it was written.

    `html` and `text` are sizes after decoding; `pictures` is that of all its pictures together.
    """

    id: str
    subject: str
    html: int
    text: int
    eml: int
    pictures: int
    written: bool


@dataclass(frozen=True, slots=True)
class Result:
    """A campaign compiled: its variants in order, those removed, and whether any file changed.

    `html_limit` is the workspace's budget for the HTML of a mail in bytes.
    """

    campaign: str
    folder: Path
    variants: tuple[Made, ...]
    removed: tuple[str, ...]
    changed: bool
    html_limit: int

    def data(self) -> Iterator[str]:
        """As text to keep, a piece at a time."""
        import json

        head = {"campaign": self.campaign, "folder": str(self.folder), "html_limit": self.html_limit}
        yield json.dumps(head)
        for one in self.variants:
            values = [one.id, one.subject, one.html, one.text, one.eml, one.pictures]
            yield "\n" + json.dumps([*values, False])


def unchanged(lines: Iterator[str]) -> Result:
    """The result that was kept, now that nothing was written."""
    import json

    head: Mapping[str, Any] = json.loads(next(lines))
    made = tuple([Made(*values) for values in map(json.loads, lines)])
    return Result(head["campaign"], Path(head["folder"]), made, (), False, head["html_limit"])
