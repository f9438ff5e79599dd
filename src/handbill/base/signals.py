"""Ctrl-C at a moment that suits. Enters: a short step; leaves: the step done, then the interruption."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from threading import current_thread, main_thread
from types import FrameType


@contextmanager
def uninterrupted() -> Iterator[None]:
    """What is inside is finished before a Ctrl-C counts; only the main thread hears one (signal(2))."""
    if current_thread() is not main_thread() or signal.getsignal(signal.SIGINT) is None:
        yield
        return
    heard: list[int] = []

    def hear(number: int, _frame: FrameType | None) -> None:
        heard.append(number)

    before = signal.signal(signal.SIGINT, hear)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if heard:
        raise KeyboardInterrupt
