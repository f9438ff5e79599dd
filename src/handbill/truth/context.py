"""What a claim speaks of. Enters: a text, where a claim stands in it; leaves: its sentence and its subject.

A mail has other dates, prices and percents than the offer's: an exhibition until Sunday, delivery from
€ 4.90, a kettle that saves 30 % energy. A number is the offer's where its own sentence says so, or where it
names nothing else and the section around it speaks of the offer. Of anything else no file knows.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from typing import Literal

from handbill.truth.phrases import KNOWN, context_of

#: What a fact says, in a typed text: no number, no word, no space. The second stands for one of the offer's.
FACT, OFFER = "\ufffc", "\ufffb"

#: offer: its sentence speaks of the offer. open: it names nothing, so what stands around it decides.
#: other: it is that of something else, as far as anyone can tell.
Subject = Literal["offer", "open", "other"]

_ANYTHING = re.compile(r"(?i)redu|less|lower|sav|weniger|spar")
_ENDS = re.compile(r"(?:(?<!\b\d)(?<!\b\d\d)[.!?…][”\"’»)]*\s+(?=[^a-z\d])|[。！？\n;—|•·]\s*|\s-\s)")


def clause(text: str, start: int, end: int) -> tuple[int, int]:
    """Where the sentence begins and ends that holds `start` to `end`; dashes and semicolons part it too.

    A full stop after one or two digits is that of a German date and ends nothing.
    """
    first, last = 0, len(text)
    for found in _ENDS.finditer(text):
        if found.end() <= start:
            first = found.end()
        elif found.start() >= end:
            last = found.start()
            break
    return first, last


class Context:
    """Tells what claims in texts of one language speak of; `words` gives the pattern of a meaning."""

    def __init__(self, language: str, words: Callable[[str], str]) -> None:
        self._known = language in KNOWN
        offer = words("offer")
        bounds = (r"(?<!\w)", r"(?!\w)") if self._known else ("", "")
        self._offer = re.compile(f"(?i){bounds[0]}(?:{offer}){bounds[1]}") if offer else None
        self._other = _pattern(language, "other")
        self._sells = _pattern(language, "sells")
        self._groups = _pattern(language, "groups")
        self._denied = _pattern(language, "denied", r"(?<!\w)(?:{})(?: [^\W\d_]+){0,2} $")
        self._events = _pattern(language, "events")
        self._lead = _pattern(language, "lead", r"[\W_]*(?:(?:{})(?!\w)[\W_]*)*$")
        self._beside = _pattern(language, "beside", r"(?<!\w)(?:{})[\s:(]*$")
        self._follows = _pattern(language, "follows", r"[^\w\s]|\s*(?:{})(?!\w)|\s*[^\s\w/]|\s*$")
        self._unit = _pattern(language, "unit", r"\s*(?:/|(?:{})(?!\w))")

    def speaks(self, text: str) -> bool:
        """Whether a text names the offer, in words or by a fact of it."""
        return OFFER in text or bool(self._offer and self._offer.search(text))

    def of_time(self, text: str, start: int, end: int, *, alone: bool, spoken: bool) -> Subject:
        """Whose date stands there; `spoken`: its sentence says what is taken off.

        Unless it can stand `alone`, it is open only in a sentence that says nothing else.
        """
        first, last = clause(text, start, end)
        sentence = text[first:last]
        if OFFER in sentence:
            return "offer"
        if self._events and self._events.search(sentence):
            return "other"
        if spoken or (self._offer and self._offer.search(text[first:start] + " " + text[end:last])):
            return "offer"
        before, after = text[first:start], text[end:last]
        if self._led(before) and (alone or not re.search(r"[^\W\d_]{3}", after)):
            return "open"
        return "other"

    def of_price(self, text: str, start: int, end: int) -> Subject:
        """Whether a price is that of what the text stands beside, or of something it names."""
        first, last = clause(text, start, end)
        before, after = text[first:start], text[end:last]
        if self._unit and self._unit.match(after):
            return "other"
        if self._follows and not self._follows.match(after):
            return "other"
        if self._beside and self._beside.search(before):
            return "open"
        return "open" if self._led(before) else "other"

    def _led(self, before: str) -> bool:
        """Whether the words before a number name nothing."""
        return self._lead.match(before) is not None if self._lead else not before.strip(" \"“„«'‘(")

    def sells(self, text: str, start: int, end: int) -> bool:
        """Whether the sentence speaks of a sale; prices alone may rise as well."""
        return bool(self._sells and self._sells.search(text, *clause(text, start, end)))

    def denied(self, text: str, at: int) -> bool:
        """Whether a “no” or “never” stands right before `at`."""
        return self._denied is not None and self._denied.search(text[:at]) is not None

    def thing(self, text: str, start: int, end: int, taken: str) -> str:
        """What else than a price may be saved or cut here; empty for a price.

        `taken` are the words behind the number that say so: “off” is said of prices alone, “less” of
        anything; without any a noun there is what is saved.
        """
        first, last = clause(text, start, end)
        if self._groups and (found := self._groups.search(text, first, last)):
            return found[0]
        if taken and not _ANYTHING.search(taken):
            return ""
        if self._other and (found := self._other.search(text, first, last)):
            return found[0]
        if not taken and self._follows and not self._follows.match(text[end:last]):
            noun = re.match(r"\s*(\w+)", text[end:last])
            if noun and not (self._offer and self._offer.fullmatch(noun[1])):
                return noun[1]
        return ""


@lru_cache(maxsize=64)
def _pattern(language: str, kind: str, frame: str = r"(?<!\w)(?:{})(?!\w)") -> re.Pattern[str] | None:
    words = context_of(language, kind)
    return re.compile("(?i)" + frame.replace("{}", words)) if words else None
