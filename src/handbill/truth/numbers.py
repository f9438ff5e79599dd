"""Numbers in running text. Enters: text and a locale; leaves: percents and amounts of money.

Separators, percent patterns and currency signs are CLDR's for the locale (UTS 35 part 3); digits are those of
any script (Unicode Nd). Signs stand before or after the number, for people write both.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from decimal import Decimal
from functools import cached_property, lru_cache

from handbill.base.frozen import dataclass
from handbill.base.money import MINOR_UNITS
from handbill.resolve.locale import Locale

_DROPPED = re.compile("[\u00ad\u061c\u200b\u200e\u200f\u202a-\u202e\u2060\u2066-\u2069]")
_SPACES = re.compile("[\u00a0\u2007\u2009\u202f]")
_MINUS = re.compile("[\u2010-\u2013\u2212\ufe63\uff0d]")
PERCENT = "[%\u066a\ufe6a\uff05]"
_SEPARATORS = ".,'’٬٫·"
_FIRST = r"(?<![0-9A-Za-z.,])(?P<minus>- ?)?"
_WIDE = str.maketrans("，．", ",.")


def normal(text: str) -> str:
    """`text` with ASCII digits and minus signs, plain spaces, and without marks of direction.

    What is found in it is quoted from it.
    """
    text = _MINUS.sub("-", _SPACES.sub(" ", _DROPPED.sub("", text))).translate(_WIDE)
    if text.isascii():
        return text
    return "".join(
        str(unicodedata.digit(one)) if not one.isascii() and unicodedata.category(one) == "Nd" else one
        for one in text
    )


@dataclass(frozen=True, slots=True)
class Number:
    """A number as it stands in normal text.

    `unit` is `%`, an ISO 4217 code, or empty; `start` and `end` hold sign and unit too, in characters.
    """

    value: Decimal
    unit: str
    start: int
    end: int
    negative: bool = False


class Reader:
    """Reads numbers as one locale writes them; `currency` is the shop's, for signs that several share."""

    def __init__(self, locale: Locale, currency: str) -> None:
        patterns = locale.patterns
        self.points = {_plain(patterns.point), _plain(patterns.money_point)}
        self.groups = {_plain(patterns.group), _plain(patterns.money_group)}
        if patterns.digits:  # native digits and ASCII ones are both written, each with its own separators
            self.points |= {".", "٫"}
            self.groups |= {",", "٬"}
        self.before = _signed(patterns.percent.prefix)
        spaced = "".join(one for one in self.groups if one == " ")
        gap = rf"(?:[{re.escape(_SEPARATORS)}]|{spaced}(?=\d{{3}}(?!\d)))" if spaced else (
            f"[{re.escape(_SEPARATORS)}]"
        )  # fmt: skip
        self.number = rf"\d+(?:{gap}\d+)*"
        self.signs = _currencies(locale, currency)
        self._kept: dict[str, Sequence[re.Pattern[str]]] = {}

    def value(self, written: str) -> Decimal | None:
        """The number `written`, or None for what this locale does not write so: a time, a version, a date."""
        for point in sorted(self.points):
            whole, mark, decimals = written.rpartition(point) if point in written else (written, "", "")
            if mark and not decimals.isdecimal():
                continue
            digits = self._whole(whole)
            if digits is not None:
                return Decimal(f"{digits}.{decimals}" if mark else digits)
        return None

    def _whole(self, written: str) -> str | None:
        if written.isdecimal():
            return written
        marks = {one for one in written if not one.isdecimal()}
        groups = self.groups | ({"'", "’"} if self.groups & {"'", "’"} else set())
        if len(marks) != 1 or not marks <= groups:
            return None
        first, *rest = re.split(f"[{re.escape(''.join(marks))}]", written)
        fits = 1 <= len(first) <= 3 and len(rest[-1]) == 3 and all(len(one) in (2, 3) for one in rest)
        return first + "".join(rest) if fits else None

    def percents(self, text: str, words: str = "") -> Iterator[Number]:
        """Every percent; `words` is a pattern of words that stand for the sign."""
        for pattern in self._percents(words):
            for found in pattern.finditer(text):
                yield from self._made(found, "%")

    def _percents(self, words: str) -> Sequence[re.Pattern[str]]:
        if words not in self._kept:
            sign = f"(?:{PERCENT}" + (rf"|(?:{words})(?!\w))" if words else ")")
            after = rf"{_FIRST}(?P<number>{self.number}) ?-?{sign}"
            before = rf"{_FIRST}{PERCENT} ?(?P<number>{self.number})(?![0-9A-Za-z])"
            forms = (before, after) if self.before else (after,)
            self._kept[words] = [re.compile(f"(?i){form}") for form in forms]
        return self._kept[words]

    def amounts(self, text: str) -> Iterator[Number]:
        """Every amount of money that names its currency, by sign or by code."""
        taken: set[int] = set()
        for pattern in self._amounts if any(one.isdecimal() for one in text) else ():
            for found in pattern.finditer(text):
                if taken.isdisjoint(range(found.start(), found.end())):
                    taken.update(range(found.start(), found.end()))
                    yield from self._made(found, self.signs[found["sign"]])

    @cached_property
    def _amounts(self) -> Sequence[re.Pattern[str]]:
        signs = "|".join(map(_bounded, self.signs))
        number = rf"(?P<number>{self.number})(?:[.,] ?-+(?!\d))?"
        return (
            re.compile(rf"{_FIRST}(?P<sign>{signs}) ?(?:- ?)?{number}"),
            re.compile(rf"{_FIRST}{number} ?(?P<sign>{signs})"),
        )

    def _made(self, found: re.Match[str], unit: str) -> Iterator[Number]:
        value = self.value(found["number"])
        if value is not None:
            start, end = found.span()
            yield Number(value, unit, start, end, bool(found["minus"]))


def _plain(sign: str) -> str:
    return normal(sign)


def _signed(prefix: str) -> bool:
    return bool(re.search(PERCENT, prefix))


def _bounded(sign: str) -> str:
    """A sign of letters is a word of its own, save in scripts that set no spaces between words."""
    before = r"(?<![^\W\d_])" if _spaced(sign[0]) else ""
    return before + re.escape(sign) + (r"(?![^\W\d_])" if _spaced(sign[-1]) else "")


def _spaced(letter: str) -> bool:
    return letter.isalpha() and letter < "\u2e80"


#: Names of currencies as they stand beside numbers (common practice); pounds are weights too.
_NAMES = {
    "EUR": ("euro", "euros", "Euro", "Euros", "EURO", "ユーロ", "евро"),
    "USD": ("dollars", "Dollar", "dólares"),
    "CHF": ("Franken", "francs", "Fr."),
    "JPY": ("円", "yen"),
    "CNY": ("元",),
    "KRW": ("원",),
    "ILS": ("ש״ח", 'ש"ח'),
}


@lru_cache(maxsize=64)
def _currencies(locale: Locale, currency: str) -> dict[str, str]:
    """Signs and the currency each stands for here, the longest first; the shop's own goes before others."""
    own = {code: normal(sign[0]) for code, sign in locale.patterns.currencies.items() if code in MINOR_UNITS}
    signs = {code: code for code in MINOR_UNITS}
    signs |= {sign: code for code, sign in own.items()}
    signs.setdefault("€", "EUR")
    signs.setdefault("£", "GBP")
    signs.setdefault("¥", "JPY")
    signs.setdefault("￥", "JPY")
    signs.setdefault("$", "USD")
    for code, words in _NAMES.items():
        signs |= {word: code for word in words if word not in signs}
    sign = own.get(currency, "")
    if sign:
        signs[sign] = currency
        narrow = sign.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
        if narrow and not narrow.isalnum():
            signs[narrow] = currency
    return dict(sorted(signs.items(), key=lambda one: (-len(one[0]), one[0])))
