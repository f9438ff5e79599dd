"""Letters as people count them. Enters: text; leaves: what a reader takes for one sign each, and its room.

After UAX #29's extended grapheme clusters (a letter with its marks, an emoji of several characters, a flag)
and UAX #11 (full-width signs take two columns). Not followed: conjuncts of Indic scripts (GB9c), where a
cluster more is counted, and prepended marks (GB9b). Characters that show nothing count for nothing.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

_JOINER = "\u200d"
_MARKS = frozenset(("Mn", "Me", "Mc"))
# Letters and signs that belong to what stands before them (UAX #29, table 2: Extend and SpacingMark).
_BEHIND = frozenset("\u200c\u0e33\u0eb3\uff9e\uff9f")
_MODIFIERS = range(0x1F3FB, 0x1F400)  # skin tones
_TAGS = range(0xE0020, 0xE0080)  # of flags that are no country's
_FLAGS = range(0x1F1E6, 0x1F200)  # two make one
_EMOJI_STYLE = "\ufe0f"
#: Text of signs that never join: Latin letters, and the punctuation and currencies that go with them.
_SINGLE = re.compile("[\n\x20-\x7e\xa1-\xac\xae-\u02ff\u2010-\u2027\u2030-\u205e\u20a0-\u20c0]*")


def clusters(text: str) -> Iterator[str]:
    """The text in pieces that are one sign each to a reader."""
    piece, flags = "", 0
    for character in text:
        flag = ord(character) in _FLAGS
        if piece and (_goes_on(piece, character) or (flag and flags % 2 == 1)):
            piece += character
        else:
            if piece:
                yield piece
            piece, flags = character, 0
        flags = flags + 1 if flag else 0
    if piece:
        yield piece


def count(text: str) -> int:
    """How many signs a reader sees."""
    if _SINGLE.fullmatch(text):
        return len(text)
    return sum(not _unseen(piece) for piece in clusters(text))


def room(text: str) -> int:
    """Columns that the text takes: one for a letter, two for a full-width sign or an emoji."""
    return len(text) if text.isascii() else sum(map(_columns, clusters(text)))


def extent(text: str) -> str:
    """The text's length in words for people: its signs, and their columns where many are full-width."""
    signs, columns = count(text), room(text)
    return f"{signs} characters" + (f", as wide as {columns}" if columns > 1.2 * signs else "")


def beginning(text: str, columns: int) -> str:
    """As much of the text as fits into `columns`; no sign is split."""
    if text.isascii():
        return text[:columns]
    taken, kept = 0, []
    for piece in clusters(text):
        taken += _columns(piece)
        if taken > columns:
            break
        kept.append(piece)
    return "".join(kept)


def shortened(text: str, columns: int) -> str:
    """The text, or its beginning with an ellipsis, in `columns` and one more."""
    return text if room(text) <= columns else beginning(text, columns).rstrip() + "…"


def _goes_on(piece: str, character: str) -> bool:
    """Whether `character` belongs to the sign that `piece` begins."""
    if unicodedata.category(character) in _MARKS or character in _BEHIND or character == _JOINER:
        return piece[-1] not in "\n\r\t"
    code, last = ord(character), piece[-1]
    if code in _MODIFIERS or code in _TAGS:
        return True
    if last == _JOINER:
        return _pictured(character) and _pictured(piece[0])
    return (last == "\r" and character == "\n") or _syllable(ord(last), code)


def _pictured(character: str) -> bool:
    """Whether it may be a part of a joined emoji: a symbol of the blocks that emoji are in."""
    return unicodedata.category(character) in ("So", "Sm", "Sk") or character in "\u2049\u203c"


def _syllable(before: int, after: int) -> bool:
    """Whether two Korean characters make one syllable (GB6 to GB8)."""
    lead, vowel, tail = range(0x1100, 0x1160), range(0x1160, 0x11A8), range(0x11A8, 0x1200)
    whole = 0xAC00 <= before <= 0xD7A3
    if before in lead:
        return after in lead or after in vowel or 0xAC00 <= after <= 0xD7A3
    if before in vowel or (whole and (before - 0xAC00) % 28 == 0):
        return after in vowel or after in tail
    return (before in tail or whole) and after in tail


def _unseen(piece: str) -> bool:
    return all(unicodedata.category(one) in ("Cf", "Mn", "Me") for one in piece)


def _columns(piece: str) -> int:
    if _unseen(piece):
        return 0
    wide = unicodedata.east_asian_width(piece[0]) in ("W", "F")
    return 2 if wide or _EMOJI_STYLE in piece or ord(piece[0]) in _FLAGS else 1
