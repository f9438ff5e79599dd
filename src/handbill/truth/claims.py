"""What a text claims. Enters: a text as an author typed it; leaves: `Claim`s, unread ones among them.

A number alone is no claim: “100 % wool”, “24/7”, sizes, model and house numbers and years say nothing that
the shop's files could bear out. The words beside it (`phrases`) or a minus before a percent make it one, and
what stands around it (`context`) tells whether it is the offer's.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from difflib import SequenceMatcher
from functools import cached_property
from typing import Any, Literal

from handbill.base.frozen import dataclass
from handbill.resolve.locale import Locale
from handbill.truth.context import FACT, OFFER, Context, Subject, clause
from handbill.truth.days import Day, days
from handbill.truth.numbers import Number, Reader, normal
from handbill.truth.phrases import KNOWN, spelled, words_of

#: percent: that much off. saving: that amount off. price: it costs that. soon: the offer ends in a day or
#: two, `value` days from the day it is sent. least: the code needs orders of that. count: so many in stock.
#: unread: a claim not understood.
Kind = Literal[
    "percent", "saving", "price", "least", "ends", "starts", "weekday", "soon", "count", "code", "elsewhere",
    "unread",
]  # fmt: skip
Bound = Literal["", "up to", "from"]

#: Words that speak of an end or a start alone: “until” may be said of anything.
STRONG = re.compile(r"(?i)ends?\b|endet|valid|gültig|expir|läuft|last|letzt|final|start|begin|only|nur|today")
_GAP = r"[\s\"“”„’'(\u00a0:–-]{0,3}"
_CODE = r"[“\"„»'‘]?(?P<code>[A-Z0-9][A-Z0-9-]{2,38}[A-Z0-9])\b"


@dataclass(frozen=True, slots=True)
class Claim:
    """A claim as it stands in a text: `words` are the author's, `unit` a currency, `why` says why unread.

    `subject` says what a date or a price speaks of, `before` are the words of its sentence before it.
    """

    kind: Kind
    words: str
    value: Decimal = Decimal(0)
    unit: str = ""
    bound: Bound = ""
    day: Day | None = None
    text: str = ""
    why: str = ""
    subject: Subject = "other"
    before: str = ""


class Finder:
    """Finds claims in texts of one language; `own` are the shop's words by language and meaning."""

    def __init__(
        self, locale: Locale, currency: str, own: Mapping[str, Mapping[Any, Sequence[str]]] | None = None
    ) -> None:
        self.locale = locale
        self.reader = Reader(locale, currency)
        self._own = own or {}
        told = {**self._own.get(locale.language, {}), **self._own.get(locale.tag, {})}
        self._bare = locale.language not in KNOWN and not ({"off", "save"} & {*told})
        self.context = Context(locale.language, self._words)
        self._spelled = spelled(locale.language)
        # Words of other languages may follow each other without spaces: only known ones are held apart.
        known = locale.language in KNOWN
        self._start, self._end = (r"(?<![\w-])", r"(?![\w-])") if known else ("", "")

    def claims(self, text: str) -> list[Claim]:
        """Every claim of a text, in the order it stands."""
        text = normal(text)
        found: list[tuple[int, Claim]] = []
        percents = [*self.reader.percents(text, self._words("percent")), *self._spelled_percents(text)]
        amounts = list(self.reader.amounts(text))
        for one in percents:
            if (claim := self._percent(text, one)) is not None:
                found.append((one.start, claim))
        found += [(one.start, self._amount(text, one)) for one in amounts]
        found += self._codes(text)
        taken = [at for at, claim in found if claim.kind in ("percent", "saving", "code")]
        found += self._days(text, taken)
        found += self._phrases(text, taken)
        found += self._counts(text)
        return [claim for _at, claim in sorted(found, key=lambda one: one[0])]

    def _words(self, meaning: str) -> str:
        return words_of(self.locale.tag, meaning, self._own)

    def _before(self, text: str, at: int, meaning: str, gap: str = _GAP) -> re.Match[str] | None:
        """Words of `meaning` that end where a number starts."""
        words = self._words(meaning)
        return re.search(rf"(?i){self._start}(?:{words}){gap}$", text[:at]) if words else None

    def _after(self, text: str, at: int, meaning: str) -> re.Match[str] | None:
        words = self._words(meaning)
        return re.match(rf"(?i){_GAP}(?:{words}){self._end}", text[at:]) if words else None

    def _bound(self, text: str, at: int) -> tuple[Bound, int]:
        """“up to” or “from” before a number, and where it starts."""
        if found := self._before(text, at, "up_to"):
            return "up to", found.start()
        if found := self._before(text, at, "from"):
            return "from", found.start()
        return "", at

    # -- percents and amounts

    def _spelled_percents(self, text: str) -> Iterator[Number]:
        words = self._words("percent")
        if not self._spelled or not words:
            return
        numbers = "|".join(sorted(map(re.escape, self._spelled), key=len, reverse=True))
        for found in re.finditer(rf"(?i)(?<![\w-])(?P<number>{numbers}) (?:{words})(?!\w)", text):
            yield Number(Decimal(self._spelled[found["number"].lower()]), "%", *found.span())

    def _percent(self, text: str, one: Number) -> Claim | None:
        bound, start = self._bound(text, one.start)
        after = self._after(text, one.end, "off")
        before = self._before(text, start, "save")
        end = one.end + (after.end() if after else 0)
        words = text[before.start() if before else start : end].strip()
        if after or before or one.negative:
            if thing := self.context.thing(text, start, end, after[0] if after else ""):
                return Claim("unread", words, one.value, "%", bound, why=f"it may speak of {thing}")
            return Claim("percent", words, one.value, "%", bound)
        if one.value == 100 or (
            bound != "up to" and re.match(r"-?\s*[^\W\d_]", text[one.end :]) and not self._of(text, one)
        ):
            return None  # what a thing is made of: 100 % wool, 80 % cotton
        why = "no words beside it say what it is of"
        if self._bare:
            why = f"no words of claims are known in {self.locale.language}"
        return Claim("unread", words, one.value, "%", bound, why=why)

    def _of(self, text: str, one: Number) -> bool:
        """Whether a share of something else is meant; without the language's words it may well be."""
        return self._bare or bool(
            re.match(r"(?i) ?(?:of|von|vom|der|des|aller|jede[rs]?)\b", text[one.end :])
        )

    def _amount(self, text: str, one: Number) -> Claim:
        bound, start = self._bound(text, one.start)
        after = self._after(text, one.end, "off")
        before = self._before(text, start, "save")
        end = one.end + (after.end() if after else 0)
        words = text[before.start() if before else start : end].strip()
        if self._before(text, start, "elsewhere"):
            return Claim("unread", words, one.value, one.unit, why="a price that the files do not hold")
        if least := self._before(text, one.start, "least"):
            return Claim("least", text[least.start() : end].strip(), one.value, one.unit)
        if after or before or one.negative:
            if thing := self.context.thing(text, start, end, after[0] if after else "save"):
                return Claim("unread", words, one.value, one.unit, bound, why=f"it may speak of {thing}")
            return Claim("saving", words, one.value, one.unit, bound)
        subject = self.context.of_price(text, start, end)
        first, _last = clause(text, start, end)
        return Claim("price", words, one.value, one.unit, bound, subject=subject, before=text[first:start])

    # -- time

    def _days(self, text: str, taken: Sequence[int]) -> Iterator[tuple[int, Claim]]:
        gap = r"[\s,(:–-]{0,3}(?:(?:on|am|dem|den|the) )?(?:[^\W\d_]+,? )?"
        found_days = list(days(text, self.locale))
        for one in found_days:
            kind, start, end = self._said_of(text, one, gap)
            if kind is not None:
                yield (
                    start,
                    self._timed(text, Claim(kind, text[start:end].strip(), day=one), start, end, taken),
                )
        words = self._words("ends")
        for found in self._weekdays(words).finditer(text) if words else ():
            if not any(one.start <= found.end() <= one.end for one in found_days):
                named = found["name"].casefold()
                number = next(day for name, day in self._names.items() if name.casefold() == named)
                claim = Claim("weekday", found[0], Decimal(number))
                yield found.start(), self._timed(text, claim, *found.span(), taken)

    def _said_of(self, text: str, one: Day, gap: str) -> tuple[Literal["starts", "ends"] | None, int, int]:
        """Whether a date is said to be an end or a start, and from where to where that is said."""
        kinds: tuple[Literal["starts", "ends"], ...] = ("starts", "ends")
        for kind in kinds:
            if found := self._before(text, one.start, kind, gap):
                return kind, found.start(), one.end
        if after := re.match(r"(?i) ?(?:endet|läuft|ends?\b|is the last day)", text[one.end :]):
            return "ends", one.start, one.end + after.end()
        for kind in kinds if self.locale.language not in KNOWN else ():
            if words := self._words(kind):  # may stand behind the date in some: 2月28日まで
                pattern = rf"(?i)(?:\s?[(（][^)）]{{1,4}}[)）])?[\s’']?(?:{words})"
                if after := re.match(pattern, text[one.end :]):
                    return kind, one.start, one.end + after.end()
        return None, one.start, one.end

    @cached_property
    def _names(self) -> Mapping[str, int]:
        """The days of the week, Monday 0."""
        names = self.locale.patterns.names
        return {normal(name): day for key in ("EEEE", "cccc") for day, name in enumerate(names[key])}

    def _weekdays(self, words: str) -> re.Pattern[str]:
        listed = "|".join(map(re.escape, self._names))
        return re.compile(rf"(?i)(?<!\w)(?:{words}){_GAP}(?:(?:on|am|zum) )?(?P<name>{listed})(?!\w)")

    def _timed(self, text: str, claim: Claim, start: int, end: int, taken: Sequence[int]) -> Claim:
        """A claim of time, with what it speaks of; `taken` are the places of what is taken off."""
        alone = STRONG.match(claim.words) is not None
        first, last = clause(text, start, end)
        spoken = any(first <= at < last for at in taken)
        return replace(claim, subject=self.context.of_time(text, start, end, alone=alone, spoken=spoken))

    def _phrases(self, text: str, taken: Sequence[int]) -> Iterator[tuple[int, Claim]]:
        for meaning, kind, value in (
            ("half", "percent", 50), ("today", "soon", 0), ("tomorrow", "soon", 1), ("hours", "soon", 1),
            ("days", "soon", 7), ("free", "unread", 0), ("elsewhere", "elsewhere", 0),
        ):  # fmt: skip
            words = self._words(meaning)
            for found in re.finditer(rf"(?i){self._start}(?:{words}){self._end}", text) if words else ():
                if re.search(r"(?i)\b(?:no|not|never|nicht|kein(?:e|en)?)\s+$", text[: found.start()]):
                    continue
                if meaning == "elsewhere" and not self._compared(text, *found.span()):
                    continue
                unit = "%" if meaning == "half" else ""
                why = "what is free, and on what conditions, stands in no file" if meaning == "free" else ""
                made: Kind = kind  # type: ignore[assignment]  # one of the literals above
                exact = "" if meaning in ("today", "tomorrow") else "within"
                claim = Claim(made, found[0], Decimal(value), unit, text=exact, why=why)
                yield (
                    found.start(),
                    (self._timed(text, claim, *found.span(), taken) if made == "soon" else claim),
                )

    def _compared(self, text: str, start: int, end: int) -> bool:
        """Whether a price or a percent stands in the same sentence: else nothing is compared."""
        first, last = clause(text, start, end)
        part = text[first:last]
        return (
            FACT in part or OFFER in part or any(self.reader.amounts(part)) or any(self.reader.percents(part))
        )

    # -- things

    def _counts(self, text: str) -> Iterator[tuple[int, Claim]]:
        spelled_out = "|".join(sorted(map(re.escape, self._spelled), key=len, reverse=True))
        number = rf"(?P<n>\d+{'|' + spelled_out if spelled_out else ''})"
        words = self._words("left").replace("{n}", "\0")
        for alternative in _alternatives(words) if words else ():  # a pattern may name a group once
            for found in re.finditer(rf"(?i)(?<!\w){alternative.replace(chr(0), number)}(?!\w)", text):
                said = found["n"].lower()
                value = Decimal(said) if said.isdecimal() else Decimal(self._spelled[said])
                yield found.start(), Claim("count", found[0], value)
        if rated := self._words("rated"):
            pattern = rf"(?<![\w-])\d[\d.,]*(?:\s+[^\W\d_]+){{0,2}}?\s+(?:{rated})(?!\w)"
            for found in re.finditer(rf"(?i){pattern}", text):
                yield found.start(), Claim("unread", found[0], why="how many there are stands in no file")

    def _codes(self, text: str) -> Iterator[tuple[int, Claim]]:
        words = self._words("code")
        shouted = not any(one.islower() for one in text)
        for found in re.finditer(rf"(?:(?i:(?<!\w)(?:{words})))\W{{1,3}}{_CODE}", text) if words else ():
            code = found["code"]
            if code.isdecimal():
                continue  # a postcode, a door
            why = "in capitals a code cannot be told from a word" if shouted and code.isalpha() else ""
            yield found.start(), Claim("code", found[0], text=code, why=why)


def misspelt(text: str, code: str) -> Iterator[Claim]:
    """Words in capitals that are nearly the offer's code."""
    for found in re.finditer(r"(?<![\w-])[A-Z0-9][A-Z0-9-]{3,38}(?![\w-])", normal(text)):
        word = found[0]
        if word != code and SequenceMatcher(None, word, code, autojunk=False).ratio() >= 0.8:
            yield Claim("code", word, text=word)


def _alternatives(pattern: str) -> list[str]:
    """The alternatives of a pattern that stand outside its brackets."""
    made, depth, start = [], 0, 0
    for at, one in enumerate(pattern):
        depth += (one == "(") - (one == ")")
        if one == "|" and not depth:
            made.append(pattern[start:at])
            start = at + 1
    return [*made, pattern[start:]]
