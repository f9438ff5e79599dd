"""Links made whole. Enters: a filled address; leaves: the same, absolute, allowed and tagged.

References resolve by RFC 3986 section 5; tags are query parameters encoded by section 2.1. Tags go only on links
to the shop's own site: a system link or somebody else's page must stay as it is.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import quote, urljoin, urlsplit, urlunsplit

from handbill.base.errors import Fault, nearest
from handbill.resolve.text import Filled, Send

SCHEMES = ("http", "https", "mailto", "tel")
_SCHEME = re.compile(r"^([A-Za-z][A-Za-z0-9+.-]*):")
_SAFE = "!#$%&'()*+,/:;=?@[]~-._"
_CONTROL = re.compile(r"[\x00-\x20\x7f]")


@dataclass(frozen=True, slots=True)
class Links:
    """How one section's links are written: the shop's site, and the tags with their values filled in."""

    site: str
    tags: tuple[tuple[str, str], ...] = ()

    def whole(self, filled: Filled) -> Filled:
        """`filled` resolved against the site and tagged. Raises Fault for an address mail may not hold."""
        if not filled:
            raise Fault("the link is empty", expected="a path such as /sale, or a whole address")
        first = filled[0]
        if isinstance(first, Send):
            if len(filled) > 1 or first.names[0] != "link":
                raise Fault(
                    "a recipient field cannot say which site a link leads to", expected="the address first"
                )
            return filled
        found = _SCHEME.match(first)
        if found and found.group(1).lower() not in SCHEMES:
            scheme = found.group(1).lower()
            raise Fault(
                f"links to {scheme}: are not allowed",
                expected="one of " + ", ".join(SCHEMES),
                nearest=nearest(scheme, SCHEMES),
            )
        if found and found.group(1).lower() in ("mailto", "tel"):
            return (_clean(first), *filled[1:])
        if len(filled) == 1:
            return (self.tagged(_clean(urljoin(self.site, first.strip()))),)
        head = (
            _clean(urljoin(self.site, first))
            if not first.endswith(("?", "=", "&"))
            else urljoin(self.site, first)
        )
        rest = tuple(_clean(part) if isinstance(part, str) else part for part in filled[1:])
        return self._tagged_parts((head, *rest))

    def tagged(self, address: str) -> str:
        """An address with this section's tags, when it leads to the shop's own site."""
        if not self.tags or not self.own(address):
            return address
        parts = urlsplit(address)
        taken = {pair.partition("=")[0] for pair in parts.query.split("&")}
        query = "&".join(filter(None, (parts.query, *_pairs(self.tags, taken))))
        return urlunsplit((parts.scheme, parts.netloc, parts.path or "/", query, parts.fragment))

    def own(self, address: str) -> bool:
        """Whether an address is on the shop's site (the same host, or one below it)."""
        host, site = urlsplit(address).hostname or "", urlsplit(self.site).hostname or ""
        return bool(site) and (host == site or host.endswith("." + site.removeprefix("www.")))

    def _tagged_parts(self, filled: Filled) -> Filled:
        head = filled[0]
        assert isinstance(head, str)
        if (
            not self.tags
            or not self.own(head)
            or any("#" in part for part in filled if isinstance(part, str))
        ):
            return filled
        literal = "".join(part for part in filled if isinstance(part, str))
        mark = "&" if "?" in literal else "?"
        return (*filled, mark + "&".join(_pairs(self.tags, set())))


def _pairs(tags: tuple[tuple[str, str], ...], taken: set[str]) -> list[str]:
    pairs = ((quote(name, safe=""), quote(value, safe="")) for name, value in tags)
    return [f"{name}={value}" for name, value in pairs if name not in taken]


def _clean(address: str) -> str:
    """Percent-encode what an address may not hold as it is (spaces, quotes, letters outside ASCII)."""
    if _CONTROL.search(address.replace(" ", "")):
        raise Fault("the link holds a control character", expected="an address on one line")
    return quote(address, safe=_SAFE)
