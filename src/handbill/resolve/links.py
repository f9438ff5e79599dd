"""Links made whole. Enters: a filled address; leaves: the same, absolute, allowed and tagged.

References resolve by RFC 3986 section 5; what an address may not hold is percent-encoded by section 2.1,
once. Tags go only on links to the shop's own site: a system link or another's page stays as it is.
"""

from __future__ import annotations

import re
from functools import lru_cache
from urllib.parse import SplitResult, quote, unquote, urljoin, urlsplit, urlunsplit

from handbill.base.errors import Fault, nearest
from handbill.base.frozen import dataclass
from handbill.resolve.text import Filled, Send

SCHEMES = ("http", "https", "mailto", "tel")
_SCHEME = re.compile(r"^([A-Za-z][A-Za-z0-9+.-]*):")
# RFC 3986 appendix A: unreserved, sub-delims, and what a path, query or fragment holds beside them.
_SAFE = "!$%&'()*+,/:;=?@-._~"
_STRAY_PERCENT = re.compile(r"%(?![0-9A-Fa-f]{2})")
_CONTROL = re.compile(r"[\x00-\x1f\x7f]")
# Two sets of rules for internationalised names spell these differently (RFC 5894 section 7.2).
_DEVIATING = re.compile("[\u00df\u03c2\u200c\u200d]")


@dataclass(frozen=True, slots=True)
class Links:
    """How one section's links are written: the shop's site, and the tags with their values filled in."""

    site: str
    tags: tuple[tuple[str, str], ...] = ()

    def whole(self, filled: Filled) -> Filled:
        """`filled` resolved against the site and tagged. Raises Fault for an address mail may not hold."""
        sends = [part for part in filled if isinstance(part, Send)]
        if any(part.names[0] == "link" for part in sends):
            if len(filled) > 1:
                raise Fault("a system link stands alone", expected="${link.…} and nothing beside it")
            return filled
        if not sends:
            return (self._whole("".join(part for part in filled if isinstance(part, str)), ""),)
        if isinstance(filled[0], Send):
            raise Fault(
                "a recipient field cannot say which site a link leads to", expected="the address first"
            )
        # Send-time parts pass through as a word of letters, so that the address is looked at as one.
        mark = _mark("".join(part for part in filled if isinstance(part, str)))
        text = "".join(part if isinstance(part, str) else mark for part in filled)
        pieces = self._whole(text, mark).split(mark)
        if len(pieces) != len(sends) + 1:
            raise Fault("a recipient field stands where `..` removes it", expected="a path without `..`")
        made: list[str | Send] = [pieces[0]]
        for send, piece in zip(sends, pieces[1:], strict=True):
            made += [send, piece] if piece else [send]
        return tuple(made)

    def own(self, address: str) -> bool:
        """Whether an address is on the shop's site: the same host with or without `www.`, or one below it."""
        host, site = _host(address), _host(self.site).removeprefix("www.")
        return bool(site) and (host == site or host.endswith("." + site))

    def tagged(self, address: str) -> str:
        """An address with this section's tags, when it leads to the shop's own site.

        They follow an existing query and stand before a fragment; a parameter that is there already stays.
        """
        if not self.tags or not self.own(address):
            return address
        parts = urlsplit(address)
        query = parts.query.rstrip("&")
        taken = {unquote(pair.partition("=")[0]) for pair in query.split("&")}
        added = (
            f"{quote(name, safe='')}={quote(value, safe='')}"
            for name, value in self.tags
            if name not in taken
        )
        query = "&".join(filter(None, (query, *added)))
        return urlunsplit((parts.scheme, parts.netloc, parts.path or "/", query, parts.fragment))

    def _whole(self, text: str, mark: str) -> str:
        text = text.strip()
        if not text:
            raise Fault("the link is empty", expected="a path such as /sale, or a whole address")
        if _CONTROL.search(text):
            raise Fault("the link holds a control character", expected="an address on one line")
        found = _SCHEME.match(text)
        scheme = found[1].lower() if found else ""
        if scheme and scheme not in SCHEMES:
            raise Fault(
                f"links to {scheme}: are not allowed",
                expected="one of " + ", ".join(SCHEMES),
                nearest=nearest(scheme, SCHEMES),
            )
        if scheme in ("mailto", "tel"):
            # RFC 3966 has hyphens where people write spaces
            return _encoded("-".join(text.split()) if scheme == "tel" else text)
        if not scheme:
            _check_relative(text, self.site)
        return self.tagged(_web(text if scheme else urljoin(self.site, text), mark))


def _check_relative(text: str, site: str) -> None:
    """Raise a Fault for a host or an address of mail that would be taken for a path of the shop's site."""
    first = re.split(r"[/?#]", text, maxsplit=1)[0].lower()
    if "@" in first and first == text.lower():
        message = f"{text} would be a page of {_host(site)}"
        raise Fault(message, expected="mailto: before an address of mail", nearest=f"mailto:{text}")
    own = _host(site).removeprefix("www.")
    if first.startswith("www.") or (own and (first == own or first.endswith("." + own))):
        message = f"{text} would be a page of {_host(site)}"
        raise Fault(message, expected="https:// before a host", nearest=f"https://{text}")


@lru_cache(maxsize=4096)
def _web(text: str, mark: str) -> str:
    """An http(s) address with its host in letters of ASCII and everything else encoded."""
    try:
        parts = urlsplit(text)
        host, _port = parts.hostname, parts.port
    except ValueError as error:
        message = f"{text} is not a web address: {error}"
        raise Fault(message, expected="such as https://shop.example") from None
    if not host:
        raise Fault(f"{text} names no host", expected="a path such as /sale, or https:// and a host")
    if parts.username is not None:
        raise Fault(f"{text} holds a user name, which hides where it leads", expected="an address without @")
    if mark and mark in parts.netloc.lower():
        raise Fault("a recipient field cannot say which site a link leads to", expected="the address first")
    return urlunsplit((
        parts.scheme.lower(), _netloc(parts, host), _encoded(parts.path or "/"), _encoded(parts.query),
        _encoded(parts.fragment),
    ))  # fmt: skip


def _netloc(parts: SplitResult, host: str) -> str:
    if host.isascii():
        if not re.fullmatch(r"[a-z0-9._-]+|[0-9a-f:.]+", host):
            raise Fault(f"{host!r} is not a host", expected="such as shop.example")
        return parts.netloc.lower()
    if _DEVIATING.search(host):
        raise Fault(f"the host {host} has two readings", expected="its xn-- form")
    try:
        name = host.encode("idna").decode("ascii")
    except UnicodeError:
        raise Fault(f"{host!r} is not a host", expected="such as shop.example") from None
    return f"{name}:{parts.port}" if parts.port else name


def _encoded(text: str) -> str:
    """`text` with what an address may not hold percent-encoded; what is encoded already stays (`%20`)."""
    return quote(_STRAY_PERCENT.sub("%25", text), safe=_SAFE)


def _host(address: str) -> str:
    return (urlsplit(address).hostname or "").rstrip(".")


def _mark(text: str) -> str:
    """A word of letters that does not occur in `text`."""
    word = "sendpart"
    while word in text.lower():
        word += "x"
    return word
