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
_RANGE = re.compile(r"(?i)(?<![\d.,])\d[\d.,]* ?%? ?(?:-|to|and|bis|und) ?$")
_SPAN = re.compile(r"(?i)(?:(?<![\d.,])(?P<day>\d{1,2})\.?)? ?(?:-|\bto\b|\bbis\b(?: zum)?) ?$")
_COUNTDOWNS = {
    "en": re.compile(
        r"(?i)(?<![\w-])(?P<n>\d+|two|three|four|five) (?:more )?(?P<unit>days?|hours?)"
        r" (?:left|to go|remaining)\b"
        r"|\b(?:ends|closes|over) in (?P<m>\d+|two|three|four|five) (?P<other>days?|hours?)\b"
    ),
    "de": re.compile(
        r"(?i)\bnoch (?P<n>\d+|zwei|drei|vier|fünf) (?P<unit>tage?|stunden?)\b"
        r"|\b(?:endet|vorbei) in (?P<m>\d+|zwei|drei|vier|fünf) (?P<other>tagen?|stunden?)\b"
    ),
}
_NEVER = re.compile(r"(?!)")
_NO_CODES = frozenset(
    (
        "ABOVE", "BELOW", "FROM", "HERE", "ONLINE", "ONLY", "THAT", "THIS", "TODAY", "WHEN", "WITH", "YOUR",
        "BEIM", "HIER", "JETZT", "OBEN", "UNTEN",
    )
)  # fmt: skip
_FREE = "what is free, and on what conditions, stands in no file"
MOST = 4000  # texts whose claims are kept
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
        self._numbers = "|".join(sorted(map(re.escape, self._spelled), key=len, reverse=True))
        # Words of other languages may follow each other without spaces: only known ones are held apart.
        known = locale.language in KNOWN
        self._start, self._end = (r"(?<![\w-])", r"(?![\w-])") if known else ("", "")
        self._patterns: dict[tuple[str, str], re.Pattern[str] | None] = {}
        self._found: dict[str, tuple[Claim, ...]] = {}

    def claims(self, text: str) -> tuple[Claim, ...]:
        """Every claim of a text, in the order it stands. What is found is kept: variants share most texts."""
        if text not in self._found:
            if len(self._found) >= MOST:
                self._found.clear()
            self._found[text] = tuple(self._all(normal(text)))
        return self._found[text]

    def _all(self, text: str) -> Iterator[Claim]:
        found: list[tuple[int, Claim]] = []
        percents = [*self.reader.percents(text, self._words("percent")), *self._spelled_percents(text)]
        amounts = list(self.reader.amounts(text))
        for one in percents:
            if (claim := self._percent(text, one)) is not None:
                found.append((one.start, claim))
        for one in amounts:
            if (claim := self._amount(text, one)) is not None:
                found.append((one.start, claim))
        found += self._codes(text)
        taken = [at for at, claim in found if claim.kind in ("percent", "saving", "code")]
        found += self._days(text, taken)
        found += self._phrases(text, taken)
        found += self._countdowns(text, taken)
        found += self._counts(text)
        yield from (claim for _at, claim in sorted(found, key=lambda one: one[0]))

    def _words(self, meaning: str) -> str:
        return words_of(self.locale.tag, meaning, self._own)

    def _pattern(self, meaning: str, frame: str) -> re.Pattern[str] | None:
        """`frame` with the words of `meaning` in the place of @; None where no words are known."""
        key = meaning, frame
        if key not in self._patterns:
            words = self._words(meaning)
            self._patterns[key] = re.compile(frame.replace("@", f"(?:{words})")) if words else None
        return self._patterns[key]

    def _before(self, text: str, at: int, meaning: str, gap: str = _GAP) -> re.Match[str] | None:
        """Words of `meaning` that end where a number starts."""
        pattern = self._pattern(meaning, f"(?i){self._start}@{gap}$")
        return pattern.search(text[:at]) if pattern else None

    def _after(self, text: str, at: int, meaning: str) -> re.Match[str] | None:
        pattern = self._pattern(meaning, f"(?i){_GAP}@{self._end}")
        return pattern.match(text[at:]) if pattern else None

    def _bound(self, text: str, at: int) -> tuple[Bound, int]:
        """“up to” or “from” before a number, and where it starts."""
        if found := self._before(text, at, "up_to"):
            return "up to", found.start()
        if found := self._before(text, at, "from"):
            return "from", found.start()
        return "", at

    # -- percents and amounts

    def _spelled_percents(self, text: str) -> Iterator[Number]:
        pattern = self._pattern("percent", rf"(?i)(?<![\w-])(?P<number>{self._numbers}) @(?!\w)")
        for found in pattern.finditer(text) if pattern and self._spelled else ():
            yield Number(Decimal(self._spelled[found["number"].lower()]), "%", *found.span())

    def _percent(self, text: str, one: Number) -> Claim | None:
        bound, start = self._bound(text, one.start)
        if found := _RANGE.search(text[: one.start]):
            bound, start = "up to", found.start()
        after = self._after(text, one.end, "off")
        before = self._before(text, start, "save")
        end = one.end + (after.end() if after else 0)
        words = text[before.start() if before else start : end].strip()
        sale = bool(bound) and self.context.sells(text, start, end)  # Sale: up to 70 %
        if after or before or one.negative or sale:
            if why := self._doubt(text, start, end, after[0] if after else "off" if sale else ""):
                return Claim("unread", words, one.value, "%", bound, why=why)
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
        return (
            self._bare
            or re.match(r"(?i) ?(?:of|von|vom|der|des|aller|jede[rs]?)\b", text[one.end :]) is not None
            or self.context.sells(text, one.start, one.end)
        )

    def _doubt(self, text: str, start: int, end: int, taken: str) -> str:
        """Why what is taken off may not be what anyone gets; empty for no doubt."""
        if self.context.denied(text, start):
            return "it may be denied"
        thing = self.context.thing(text, start, end, taken)
        return f"it may speak of {thing}" if thing else ""

    def _amount(self, text: str, one: Number) -> Claim | None:
        bound, start = self._bound(text, one.start)
        after = self._after(text, one.end, "off")
        before = self._before(text, start, "save")
        end = one.end + (after.end() if after else 0)
        words = text[before.start() if before else start : end].strip()
        if self._before(text, start, "elsewhere"):
            return None  # the comparison is a claim of its own
        if least := self._before(text, one.start, "least"):
            words = text[least.start() : end].strip()
            first, last = clause(text, least.start(), end)
            free = self._pattern("free", f"(?i){self._start}@{self._end}")
            if free and free.search(text, first, last):
                return Claim("unread", words, one.value, one.unit, why=_FREE)
            return Claim("least", words, one.value, one.unit)
        if after or before or one.negative:
            if why := self._doubt(text, start, end, after[0] if after else "save"):
                return Claim("unread", words, one.value, one.unit, bound, why=why)
            return Claim("saving", words, one.value, one.unit, bound)
        subject = self.context.of_price(text, start, end)
        first, _last = clause(text, start, end)
        return Claim("price", words, one.value, one.unit, bound, subject=subject, before=text[first:start])

    # -- time

    def _days(self, text: str, taken: Sequence[int]) -> Iterator[tuple[int, Claim]]:
        gap = r"[\s,(:–-]{0,3}(?:(?:on|am|dem|den|the) )?(?:[^\W\d_]+,? )?"
        found_days = sorted(days(text, self.locale), key=lambda one: one.start)
        for number, one in enumerate(found_days):
            kind, start, end = self._said_of(text, one, gap)
            span = _SPAN.search(text[: one.start])
            if kind is None and span:  # 1 to 28 February; 1 February to 1 March
                first = found_days[number - 1] if number else one
                kind, start = "ends", first.start if first.end == span.start() else one.start
                if first.end != span.start() and not span["day"]:
                    continue
            if kind is not None:
                yield (
                    start,
                    self._timed(text, Claim(kind, text[start:end].strip(), day=one), start, end, taken),
                )
        named = "|".join(map(re.escape, self._names))
        frame = rf"(?i)(?<!\w)@{_GAP}(?:(?:on|am|zum) )?(?P<name>{named})(?!\w)"
        pattern = self._pattern("ends", frame)
        for found in pattern.finditer(text) if pattern else ():
            if not any(one.start <= found.end() <= one.end for one in found_days):
                said = found["name"].casefold()
                number = next(day for name, day in self._names.items() if name.casefold() == said)
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
            pattern = self._pattern(kind, r"(?i)(?:\s?[(（][^)）]{1,4}[)）])?[\s’']?@")
            if pattern and (after := pattern.match(text[one.end :])):  # behind it in some: 2月28日まで
                return kind, one.start, one.end + after.end()
        return None, one.start, one.end

    @cached_property
    def _names(self) -> Mapping[str, int]:
        """The days of the week, Monday 0."""
        names = self.locale.patterns.names
        return {normal(name): day for key in ("EEEE", "cccc") for day, name in enumerate(names[key])}

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
            pattern = self._pattern(meaning, f"(?i){self._start}@{self._end}")
            for found in pattern.finditer(text) if pattern else ():
                if re.search(r"(?i)\b(?:no|not|never|nicht|kein(?:e|en)?)\s+$", text[: found.start()]):
                    continue
                if meaning == "elsewhere" and not self._compared(text, *found.span()):
                    continue
                unit = "%" if meaning == "half" else ""
                why = _FREE if meaning == "free" else ""
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
        for pattern in self._left:
            for found in pattern.finditer(text):
                said = found["n"].lower()
                value = Decimal(said) if said.isdecimal() else Decimal(self._spelled[said])
                yield found.start(), Claim("count", found[0], value)
        rated = self._pattern("rated", r"(?i)(?<![\w-])\d[\d.,]*(?:\s+[^\W\d_]+){0,2}?\s+@(?!\w)")
        for found in rated.finditer(text) if rated else ():
            yield found.start(), Claim("unread", found[0], why="how many there are stands in no file")

    def _countdowns(self, text: str, taken: Sequence[int]) -> Iterator[tuple[int, Claim]]:
        for found in _COUNTDOWNS.get(self.locale.language, _NEVER).finditer(text):
            said = next(one for one in (found["n"], found["m"]) if one).lower()
            value = Decimal(said) if said.isdecimal() else Decimal(self._spelled.get(said, 0))
            unit = "hours" if (found["unit"] or found["other"]).lower().startswith(("h", "s")) else "days"
            if value:
                yield (
                    found.start(),
                    self._timed(text, Claim("soon", found[0], value, text=unit), *found.span(), taken),
                )

    @cached_property
    def _left(self) -> Sequence[re.Pattern[str]]:
        """One pattern for each way to say it, for a pattern may name a group once."""
        number = rf"(?P<n>\d+{'|' + self._numbers if self._numbers else ''})"
        words = self._words("left")
        return [
            re.compile(rf"(?i)(?<!\w){one.replace('{n}', number)}(?![\w-])")
            for one in (_alternatives(words) if words else ())
        ]

    def _codes(self, text: str) -> Iterator[tuple[int, Claim]]:
        pattern = self._pattern("code", rf"(?i:(?<!\w)@)\W{{1,3}}{_CODE}")
        shouted = not any(one.islower() for one in text)
        for found in pattern.finditer(text) if pattern else ():
            code = found["code"]
            if code.isdecimal() or code in _NO_CODES:
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
