"""A progress bar for work that takes more than a second on a terminal."""

from __future__ import annotations

import sys
from threading import Event, Thread
from types import TracebackType

DELAY = 1.0  # seconds before anything is shown
PACE = 0.2  # seconds between two drawings
WIDTH = 28  # characters
_CLEAR = "\r\x1b[K"


class Progress:
    """Counts steps; draws on stderr only when that is a terminal and the work is slow.

    A thread of its own draws, so that one long step shows too.
    """

    def __init__(self, total: int, enabled: bool) -> None:
        self.total = total
        self.done = 0
        self.inner = (0, 1)  # of what is being done
        self.pictures = (0, 0)  # made, of those being made
        self.enabled = enabled and sys.stderr.isatty()
        self._finished = Event()
        self._thread: Thread | None = None

    def __enter__(self) -> Progress:
        if self.enabled:
            self._thread = Thread(target=self._draw, daemon=True)
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._finished.set()
        if self._thread is not None:
            self._thread.join()

    def step(self) -> None:
        """One more is done."""
        self.done += 1
        self.inner = (0, 1)
        self.pictures = (0, 0)

    def part(self, done: int, total: int) -> None:
        """So many parts of the next one are done."""
        self.inner = (done, total)

    def drawn(self, done: int, total: int) -> None:
        """So many pictures of the next one are made."""
        self.pictures = (done, total)

    def bar(self) -> str:
        """The bar as it stands."""
        done, total = self.inner
        filled = WIDTH * (self.done * total + done) // (self.total * total)
        parts = f", variant {done:,} of {total:,}" if total > 1 else ""
        made, wanted = self.pictures
        parts += f", picture {made:,} of {wanted:,}" if made < wanted else ""
        return f"{'█' * filled}{'·' * (WIDTH - filled)} {self.done} of {self.total}{parts}"

    def _draw(self) -> None:
        if self._finished.wait(DELAY):
            return
        while True:
            sys.stderr.write(_CLEAR + self.bar())
            sys.stderr.flush()
            if self._finished.wait(PACE):
                break
        sys.stderr.write(_CLEAR)
        sys.stderr.flush()
