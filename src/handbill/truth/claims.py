"""What a text claims. Enters: a text as an author typed it; leaves: `Claim`s, unread ones among them.

A number alone is no claim: “100 % wool”, “24/7”, sizes, model and house numbers and years say nothing that
the shop's files could bear out. The words beside it (`phrases`) or a minus before a percent make it one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any, Literal

from handbill.base.frozen import dataclass
from handbill.resolve.locale import Locale
from handbill.truth.days import Day, days
from handbill.truth.numbers import Number, Reader, normal
from handbill.truth.phrases import KNOWN, spelled, words_of

#: percent: that much off. saving: that amount off. price: it costs that. soon: the offer ends in a day or
#: two, `value` days from the day it is sent. count: so many in stock. unread: a claim not understood.
Kind = Literal[
    "percent", "saving", "price", "ends", "starts", "weekday", "soon", "count", "code", "elsewhere", "unread"
]
Bound = Literal["", "up to", "from"]

_GAP = r"[\s\"“”„’'(\u00a0:–-]{0,3}"
_CODE = r"[“\"„»'‘]?(?P<code>[A-Z0-9][A-Z0-9-]{2,38}[A-Z0-9])\b"


@dataclass(frozen=True, slots=True)
class Claim:
    """A claim as it stands in a text: `words` are the author's, `unit` a currency, `why` says why unread."""

    "unread ones."

    kind: Kind
    words: str
    value: Decimal = Decimal(0)
    unit: str = ""
    bound: Bound = ""
    day: Day | None = None
    text: str = ""
    why: str = ""


class Finder:
    """Finds claims in texts of one language; `own` are the shop's words by language and meaning."""

    def __init__(
        self, locale: Locale, currency: str, own: Mapping[str, Mapping[Any, Sequence[str]]] | None = None
    ) -> None:
        self.locale = locale
        self.reader = Reader(locale, currency)
        self._own = own or {}
        self._bare = locale.language not in KNOWN and not self._words("off") and not self._words("save")
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
        found += self._days(text)
        found += self._phrases(text)
        found += self._counts(text)
        found += self._codes(text)
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
            return Claim("percent", words, one.value, "%", bound)
        if one.value == 100 or (
            not bound and re.match(r"-?\s*[^\W\d_]", text[one.end :]) and not self._of(text, one)
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
        words = text[before.start() if before else start : one.end + (after.end() if after else 0)].strip()
        if self._before(text, start, "elsewhere"):
            return Claim("unread", words, one.value, one.unit, why="a price that the files do not hold")
        saved = after or before or one.negative
        return Claim("saving" if saved else "price", words, one.value, one.unit, bound)

    # -- time

    def _days(self, text: str) -> Iterator[tuple[int, Claim]]:
        gap = r"[\s,(:–-]{0,3}(?:(?:on|am|dem|den|the) )?(?:[^\W\d_]+,? )?"
        for one in days(text, self.locale):
            for kind in ("starts", "ends"):
                if found := self._before(text, one.start, kind, gap):
                    made: Kind = "ends" if kind == "ends" else "starts"
                    yield found.start(), Claim(made, text[found.start() : one.end].strip(), day=one)
                    break
            else:
                if after := re.match(r"(?i) ?(?:endet|läuft|ends?\b|is the last day)", text[one.end :]):
                    yield one.start, Claim("ends", text[one.start : one.end + after.end()].strip(), day=one)
        names = {
            normal(name): day
            for key in ("EEEE", "cccc")
            for day, name in enumerate(self.locale.patterns.names[key])
        }
        if words := self._words("ends"):
            listed = "|".join(map(re.escape, names))
            for found in re.finditer(
                rf"(?i)(?<!\w)(?:{words}){_GAP}(?:(?:on|am|zum) )?(?P<name>{listed})(?!\w)", text
            ):
                if any(one.start <= found.end() <= one.end for one in days(text, self.locale)):
                    continue
                number = next(
                    day for name, day in names.items() if name.casefold() == found["name"].casefold()
                )
                yield found.start(), Claim("weekday", found[0], Decimal(number))

    def _phrases(self, text: str) -> Iterator[tuple[int, Claim]]:
        for meaning, kind, value in (
            ("half", "percent", 50), ("today", "soon", 0), ("tomorrow", "soon", 1), ("hours", "soon", 1),
            ("days", "soon", 7), ("free", "unread", 0), ("elsewhere", "elsewhere", 0),
        ):  # fmt: skip
            words = self._words(meaning)
            for found in re.finditer(rf"(?i){self._start}(?:{words}){self._end}", text) if words else ():
                if re.search(r"(?i)\b(?:no|not|never|nicht|kein(?:e|en)?)\s+$", text[: found.start()]):
                    continue
                if meaning == "elsewhere" and not re.search(r"\d", text):
                    continue  # without a number it compares no price
                unit = "%" if meaning == "half" else ""
                why = "what is free, and on what conditions, stands in no file" if meaning == "free" else ""
                made: Kind = kind  # type: ignore[assignment]  # one of the literals above
                exact = "" if meaning in ("today", "tomorrow") else "within"
                yield found.start(), Claim(made, found[0], Decimal(value), unit, text=exact, why=why)

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
        for found in re.finditer(rf"(?:(?i:(?<!\w)(?:{words})))\W{{1,3}}{_CODE}", text) if words else ():
            yield found.start(), Claim("code", found[0], text=found["code"])


def _alternatives(pattern: str) -> list[str]:
    """The alternatives of a pattern that stand outside its brackets."""
    made, depth, start = [], 0, 0
    for at, one in enumerate(pattern):
        depth += (one == "(") - (one == ")")
        if one == "|" and not depth:
            made.append(pattern[start:at])
            start = at + 1
    return [*made, pattern[start:]]
