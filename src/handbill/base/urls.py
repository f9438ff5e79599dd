"""Web addresses that a shop gives (RFC 3986). Enters: text of a setting; leaves: the same, checked."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

from handbill.base.errors import Fault

_ODD = re.compile(r"[\s\"'<>\\{}()|^`?#\x00-\x20\x7f]")  # RFC 3986 §2; a query or fragment cannot be added to
_UNFIT = re.compile(r"[\s\"'<>\\{}()|^`#\x00-\x20\x7f]")  # RFC 3986 §2; a fragment is never sent to a host


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


def hosted_url(text: str) -> str:
    """The address of one hosted picture, checked: https, a host, ASCII, nothing that ends a CSS `url()`."""
    if not text:
        raise Fault("no address", expected="such as https://pictures.shop.example/a1b2.jpg")
    if not text.isascii() or _UNFIT.search(text):
        raise Fault(
            f"address {text!r} holds what no address may",
            expected="spaces and quotes as %20, %22, %27",
        )
    try:
        parts = urlsplit(text)
        host, _port = parts.hostname, parts.port
    except ValueError:
        host, parts = None, urlsplit("")
    if parts.scheme.lower() == "http" and host:
        raise Fault(f"address {text!r} is loaded by http", expected="https, which no reader blocks")
    if parts.scheme.lower() != "https" or not host:
        raise Fault(f"address {text!r} is not a web address", expected="https:// and a host before the path")
    return text
