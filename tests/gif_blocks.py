"""A GIF's blocks, read by the standard alone (GIF89a, sections 17 to 27), and what its frames show.

Only what the tests ask for: times, disposal, rounds, and that the file ends where it says it does.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Blocks:
    """Times in hundredths of a second, disposal methods, sizes of the frames' tables; `rounds` as written."""

    version: bytes = b""
    size: tuple[int, int] = (0, 0)
    times: list[int] = field(default_factory=list)
    disposals: list[int] = field(default_factory=list)
    colours: list[int] = field(default_factory=list)
    rounds: int | None = None


def blocks(data: bytes) -> Blocks:
    """Raises AssertionError where the bytes break the grammar."""
    found = Blocks(data[:6])
    found.size = (int.from_bytes(data[6:8], "little"), int.from_bytes(data[8:10], "little"))
    at = 13 + (3 * (2 << (data[10] & 7)) if data[10] & 0x80 else 0)
    shared = (2 << (data[10] & 7)) if data[10] & 0x80 else 0
    time = disposal = 0
    while data[at] != 0x3B:
        if data[at] == 0x21:
            label, at = data[at + 1], at + 2
            parts, at = _parts(data, at)
            if label == 0xF9:
                assert len(parts) == 1
                assert len(parts[0]) == 4
                disposal, time = parts[0][0] >> 2 & 7, int.from_bytes(parts[0][1:3], "little")
            elif label == 0xFF and parts[0] == b"NETSCAPE2.0":
                assert parts[1][0] == 1
                found.rounds = int.from_bytes(parts[1][1:3], "little")
        else:
            assert data[at] == 0x2C, hex(data[at])
            packed = data[at + 9]
            own = 2 << (packed & 7) if packed & 0x80 else 0
            at += 10 + 3 * own + 1
            _, at = _parts(data, at)
            found.times.append(time)
            found.disposals.append(disposal)
            found.colours.append(own or shared)
    assert at == len(data) - 1
    return found


def _parts(data: bytes, at: int) -> tuple[list[bytes], int]:
    parts = []
    while size := data[at]:
        parts.append(data[at + 1 : at + 1 + size])
        at += 1 + size
    return parts, at + 1
