"""Links to addresses that were meant to be replaced."""

import re
from collections.abc import Iterator
from urllib.parse import urlsplit

from handbill.preflight.contract import ERROR, Hit, Rule
from handbill.preflight.part import Part

# RFC 2606 section 3 and RFC 6761: names that belong to no one; a shop's own `.example` site is its demo.
_NOBODY = re.compile(r"(?:^|\.)(?:example\.(?:com|net|org)|invalid|localhost|test)$")
_INSIDE = re.compile(r"^(?:127\.|10\.|192\.168\.|172\.(?:1[6-9]|2\d|3[01])\.|0\.0\.0\.0)")  # RFC 1918
_WORDS = re.compile(
    r"(?i)(?:^|[/=_.-])(?:todo|tbd|xxx+|placeholder|your[-_]?link|insert[-_]?link|changeme)\b"
)


def each(part: Part) -> Iterator[Hit]:
    """A host that belongs to no one or lies inside, a word that says the address is still to come."""
    site = urlsplit(part.mail.shop.site).hostname or ""
    for link in part.page.links:
        if link.href in part.system_links:
            continue
        host = (urlsplit(link.href).hostname or "").lower()
        own = host == site or host.endswith("." + site)
        if (not own and (_NOBODY.search(host) or _INSIDE.search(host))) or _WORDS.search(link.href):
            yield Hit(f"“{link.name}” leads to {link.href}", part.at(link.name or link.href))


RULE = Rule(
    slug="link-placeholder",
    group="links",
    severity=ERROR,
    needs=frozenset({"html"}),
    about="No link leads to an address that stands for another.",
    why="Such an address leads nowhere, or to a machine inside the company.",
    source="RFC 2606 section 3, RFC 6761, RFC 1918; the words: common practice",
    remedy="Put the page's own address there.",
    each=each,
)
