"""What mail readers support. Enters: the open data "Can I email" (support.json); leaves: verdicts.

A verdict is a person's test of one feature in one version of a reader, often years old: the date of the test
belongs beside whatever is said from it. NOTICE.txt holds the licence. Nothing is read until asked for.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

from handbill.base.frozen import dataclass

_MONTH = re.compile(r"\d{4}-\d{2}")


@dataclass(frozen=True, slots=True)
class Reader:
    """One of the main readers: a short name, and the family and platform that the data know it by."""

    code: str
    name: str
    family: str
    platform: str


# The columns of docs/readers.md; which readers are the main ones is common practice.
MAIN = (
    Reader("AM", "Apple Mail, macOS", "apple-mail", "macos"),
    Reader("Ai", "Apple Mail, iOS", "apple-mail", "ios"),
    Reader("Gw", "Gmail, web", "gmail", "desktop-webmail"),
    Reader("Ga", "Gmail, Android", "gmail", "android"),
    Reader("OW", "Outlook, Windows", "outlook", "windows"),
    Reader("OM", "Outlook, macOS", "outlook", "macos"),
    Reader("OC", "Outlook.com", "outlook", "outlook-com"),
    Reader("Oa", "Outlook, Android", "outlook", "android"),
    Reader("Yw", "Yahoo! Mail, web", "yahoo", "desktop-webmail"),
    Reader("Al", "AOL, web", "aol", "desktop-webmail"),
    Reader("Sa", "Samsung Email", "samsung-email", "android"),
    Reader("Tb", "Thunderbird", "thunderbird", "macos"),
)


@dataclass(frozen=True, slots=True)
class Verdict:
    """`mark`: y yes, a partly, n no, u unknown or never tested. `notes`: numbers of the data's own notes,
    whose words are not kept. `version`: the reader's version or the month of the test, as written."""

    mark: str
    notes: Sequence[str]
    version: str

    @property
    def lacks(self) -> bool:
        """Whether the reader is known not to have the feature, or to have only part of it."""
        return self.mark in ("a", "n")


UNTESTED = Verdict("u", (), "")


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature. `tested` is the date of its last test as the data write it; one of them is malformed."""

    slug: str
    title: str
    category: str
    tested: str
    stats: Mapping[str, Mapping[str, Mapping[str, str]]]

    def verdict(self, reader: Reader) -> Verdict:
        """The newest test in this reader; UNTESTED where the data hold none."""
        versions = self.stats.get(reader.family, {}).get(reader.platform, {})
        if not versions:
            return UNTESTED
        version = newest(list(versions))
        mark, *notes = versions[version].split()
        return Verdict(mark[:1], tuple(note.lstrip("#") for note in notes), version)


def newest(versions: Sequence[str]) -> str:
    """The newest of at least one version: the latest month where all are months, else the last one listed.

    Some lists of months are out of order. Versions and years are never compared: 16.80 is newer than 2016.
    """
    return max(versions) if all(_MONTH.fullmatch(one) for one in versions) else versions[-1]


@cache
def features() -> Mapping[str, Feature]:
    """Every feature by slug."""
    data = json.loads(Path(__file__).with_name("support.json").read_text("utf-8"))
    return {
        row["slug"]: Feature(row["slug"], row["title"], row["category"], row["last_test_date"], row["stats"])
        for row in data["features"]
    }
