"""What webmails do to a mail's source. Enters: HTML; leaves: the same with its classes renamed."""

from __future__ import annotations

import re

_STYLE = re.compile(r"<style\b.*?</style>", re.DOTALL)
_NAMED = re.compile(r"\.([a-z]\w*)(?=[^{}]*\{)")


def renamed(html: str) -> str:
    """Every class with a prefix, in rules and markup alike."""
    html = _STYLE.sub(lambda style: _NAMED.sub(r".m_7-\1", style[0]), html)
    return re.sub(
        r'(?<=\sclass=")[^"]+', lambda names: " ".join(f"m_7-{one}" for one in names[0].split()), html
    )
