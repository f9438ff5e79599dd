"""Web addresses that a brand starts from (RFC 3986). Enters: text of a setting; leaves: the same, checked."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

from handbill.base.errors import Fault

_ODD = re.compile(r"[\s\"'<>\\{}()|^`?#\x00-\x20\x7f]")  # RFC 3986 §2; a query or fragment cannot be added to


def base_url(text: str, what: str) -> str:
    """`site:` and `pictures_at:` checked: http or https with a host; ends in a slash."""
    parts = urlsplit(text)
    if _ODD.search(text):
        raise Fault(
            f"{what} {text!r} holds what no address may", expected="spaces and quotes as %20, %22, %27"
        )
    if parts.scheme not in ("http", "https") or not parts.hostname:
        raise Fault(f"{what} {text!r} is not a web address", expected="such as https://shop.example")
    return text if text.endswith("/") else text + "/"
