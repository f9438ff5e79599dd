"""A JPEG without what it says of its past. Enters: its bytes; leaves: the same coded pixels, metadata gone.

Follows ITU-T T.81, annex B: application segments and comments go, what decoding needs stays.
"""

from __future__ import annotations

_START, _END, _SCAN = 0xD8, 0xD9, 0xDA
_COMMENT, _ADOBE = 0xFE, 0xEE
_APPLICATION = range(0xE0, 0xF0)
_INSIDE_A_SCAN = frozenset(
    {0x00, *range(0xD0, 0xD8)}
)  # stuffed bytes and restart markers, B.1.1.2 and B.1.1.5
# JFIF 1.01 (T.871, 10.1), pixel aspect 1:1 and no resolution: one reader would size pictures by that.
_JFIF = b"\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"


def stripped(data: bytes) -> bytes | None:
    """`data` with no more metadata than a JFIF header, ending where its image does; None if it is malformed.

    An Adobe segment stays, in JFIF's place, since it tells the colour transform (T.872, 6.5.3).
    """
    kept: list[bytes] = []
    adobe = False
    at = 2
    while data[:2] == bytes((0xFF, _START)) and at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:  # fill byte, B.1.1.2
            at += 1
            continue
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4])
        if marker == _ADOBE and data[at + 4 : at + 9] == b"Adobe":
            adobe = True
            kept.append(data[at:end])
        elif marker not in _APPLICATION and marker != _COMMENT:
            if marker == _SCAN:
                end = _scan_end(data, end)
            kept.append(data[at:end])
        at = end
        if data[at : at + 2] == bytes((0xFF, _END)):
            head = b"\xff\xd8" if adobe else b"\xff\xd8" + _JFIF
            return head + b"".join(kept) + b"\xff\xd9"
    return None


def _scan_end(data: bytes, at: int) -> int:
    """Where the coded pixels that begin at `at` end: the next marker that is none of theirs."""
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            return len(data)
        if data[at + 1] not in _INSIDE_A_SCAN:
            return at
        at += 2
