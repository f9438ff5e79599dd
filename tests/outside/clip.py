"""Enters: a demo campaign; leaves: what its HTML part weighs where one webmail clips long mails.

Bytes are counted after decoding, line ends of two bytes as the part has them. A sending program that counts
clicks puts an address of its own in place of each link, and adds a picture that counts openings: assumed is
that either has up to 300 bytes, and that a longer link stays as long as it is (common practice).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from tests.composing import rendered

from handbill.pipeline import resolve_campaign

from .mails import demo

ALLOWANCE = 300  # bytes of a link that a sender has put in place of another
LIMIT = 102 * 1024  # bytes at which that webmail clips (common practice)
NEAR = 90 * 1024  # bytes from which a mail should be watched (common practice)
_LINK = re.compile(rb'\shref="(https?:[^"]*)"')


@dataclass(frozen=True)
class Weight:
    """Bytes of the HTML part as it is, the number of its links, and bytes with every link rewritten."""

    plain: int
    links: int
    rewritten: int


def weigh(part: bytes) -> Weight:
    """Links of both branches count: a sender rewrites what looks like one."""
    links = _LINK.findall(part)
    grown = sum(max(0, ALLOWANCE - len(link)) for link in links) + ALLOWANCE
    return Weight(len(part), len(links), len(part) + grown)


def sent(campaign: Path) -> bytes:
    """The HTML part as the sample recipient gets it, decoded, its pictures hosted."""
    _made, whole = rendered(resolve_campaign(demo(), campaign))
    return "".join(whole.sample_html).replace("\n", "\r\n").encode()
