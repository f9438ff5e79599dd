"""Quotes from reviews. Enters: a quote and the review; leaves: nothing, or a Fault for other words."""

from __future__ import annotations

import re

from handbill.base.errors import Fault

_ELLIPSIS = re.compile(r"[\[(]?(?:…|\.\.\.)[\])]?")


def check_quote(quote: str, text: str, key: str) -> None:
    """Raise a Fault unless `quote` is a run of whole words of the review `key`, spaces aside.

    An ellipsis may stand for words left out. Words cut from their sentence can still mislead; that is for a
    person to judge.
    """
    text = " ".join(text.split())
    if _run_of(quote, text, 0) >= 0:
        return
    at = 0
    pieces = [piece.strip() for piece in _ELLIPSIS.split(quote)]
    for piece in pieces:
        at = _run_of(piece, text, at) if piece else at
        if at < 0:
            break
    if at < 0 or not any(pieces):
        raise Fault(
            f"the quote is not in review {key} as it was written",
            expected="whole words of the review in their order; changed words are not the customer's",
        )


def _run_of(quote: str, text: str, start: int) -> int:
    """Where a run of whole words ends in `text`, at `start` or after it; -1 where it does not stand."""
    start = text.find(quote, start)
    while start >= 0:
        before, after = text[start - 1 : start], text[start + len(quote) : start + len(quote) + 1]
        if not (before.isalnum() and quote[0].isalnum()) and not (after.isalnum() and quote[-1].isalnum()):
            return start + len(quote)
        start = text.find(quote, start + 1)
    return -1
