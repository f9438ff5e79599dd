"""Soft-wrapped plain text. Enters: text with one paragraph a line; leaves: format=flowed, RFC 3676 §4.

DelSp is not used: soft breaks stand at spaces only, so writing without spaces (Chinese, Japanese, long
links) keeps its lines and quoted-printable carries them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

# RFC 3676 §4.2 allows 78 with the trailing space; quoted-printable writes that space in three characters and
# ends at 76 (RFC 2045 §6.7): these are the longest lines that it leaves in one.
SOFT_WIDTH = 74
HARD_WIDTH = 76
SIGNATURE = "-- "
_STUFFED = (" ", ">", "From ")


def flow(text: str) -> str:
    """`text` as format=flowed, one line feed an end of line, LF, CRLF and CR read alike.

    Every line break stays a hard one; lines over 76 characters get soft breaks and end at 74; spaces
    at line ends go, save in the signature mark `-- `. Words are never broken.
    """
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    flowed: list[str] = []
    for line in text.split("\n"):
        if len(line) < HARD_WIDTH and not line.endswith(" ") and not line.startswith(_STUFFED):
            flowed.append(line)  # most lines: nothing to do
        else:
            flowed += _flow_line(line)
    return "\n".join(flowed)


def _flow_line(line: str) -> Iterator[str]:
    if line == SIGNATURE:
        yield line
        return
    line = line.rstrip(" ")
    if len(line) < HARD_WIDTH:
        yield _stuff(line)
        return
    start = 0
    while len(line) - start >= HARD_WIDTH:
        room = SOFT_WIDTH - line.startswith(_STUFFED, start)
        end = line.rfind(" ", start, start + room) + 1 or line.find(" ", start) + 1
        if line[start:end] == SIGNATURE:  # by itself on a line it would read as the mark
            end = line.find(" ", end) + 1
        if not end:
            break
        yield _stuff(line[start:end])
        start = end
    yield _stuff(line[start:])


def _stuff(line: str) -> str:
    """§4.4: a space before what would otherwise read as stuffing, a mailbox separator or a quote."""
    return " " + line if line.startswith(_STUFFED) else line
