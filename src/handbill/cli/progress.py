"""A progress bar for work that takes more than a second on a terminal."""

from __future__ import annotations

import sys
import time
from types import TracebackType

DELAY = 1.0  # seconds before anything is shown
WIDTH = 28  # characters


class Progress:
    """Counts steps; draws on stderr only when that is a terminal and the work is slow."""

    def __init__(self, total: int, enabled: bool) -> None:
        self.total = total
        self.done = 0
        self.enabled = enabled and sys.stderr.isatty()
        self.started = time.monotonic()
        self.drawn = False

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.drawn:
            sys.stderr.write("\r\x1b[K")

    def step(self) -> None:
        """One more is done."""
        self.done += 1
        if not self.enabled or time.monotonic() - self.started < DELAY:
            return
        filled = WIDTH * self.done // self.total
        sys.stderr.write(f"\r{'█' * filled}{'·' * (WIDTH - filled)} {self.done} of {self.total}")
        sys.stderr.flush()
        self.drawn = True
