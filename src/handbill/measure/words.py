"""Counting words. Enters: text in any language; leaves: how many words a reader would say it has.

After UAX #29's word boundaries: letters and digits with what may stand inside a word (`'`, `’`, `.`, `,`
between digits, combining marks). Chinese and Japanese write no spaces, so there each character counts; so it
is in Thai, Lao, Khmer and Burmese with each cluster, which makes too many of them. Korean counts as it is
spaced.
"""

from __future__ import annotations

import re

_CJK = (
    "\u3005-\u3007\u3041-\u3096\u309d-\u309f\u30a1-\u30fa\u30fc-\u30ff\u31f0-\u31ff\u3400-\u4dbf"
    "\u4e00-\u9fff\uf900-\ufaff\uff66-\uff9f\U00020000-\U0003134f"
)
_CLUSTERED = "\u0e00-\u0eff\u1000-\u109f\u1780-\u17ff"
_WORD = re.compile(
    rf"[{_CJK}]|[{_CLUSTERED}]+|(?:\d+(?:[.,'’:]\d+)*|[^\W_{_CJK}{_CLUSTERED}]|[\u0300-\u036f])"
    rf"(?:[^\W{_CJK}{_CLUSTERED}]|[\u0300-\u036f\u200c\u200d]|['’.·:](?=[^\W\d_])|[.,'’](?=\d))*"
)
_MARKS = re.compile(r"[\u0e31\u0e34-\u0e3a\u0e47-\u0e4e\u102b-\u103e\u17b4-\u17d3]")


def count_words(text: str) -> int:
    total = 0
    for found in _WORD.finditer(text):
        word = found[0]
        if (
            "\u0e00" <= word[0] <= "\u0eff"
            or "\u1000" <= word[0] <= "\u109f"
            or "\u1780" <= word[0] <= "\u17ff"
        ):
            total += len(_MARKS.sub("", word))
        else:
            total += 1
    return total
