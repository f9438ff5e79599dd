"""Dates in running text. Enters: text and a locale; leaves: days, with a year where one stands.

The forms are CLDR's for the locale (UTS 35 part 4: full, long, medium, short, day and month) and ISO 8601;
the calendar is Gregorian. What could be a time, a size or a fraction is no date.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date
from functools import lru_cache

from handbill.base.frozen import dataclass
from handbill.resolve.locale import Locale
from handbill.truth.numbers import normal

_ISO = re.compile(r"(?<!\d)(?P<y>\d{4})-(?P<M>\d{2})-(?P<d>\d{2})(?!\d)")
_ORDINAL = r"(?:st|nd|rd|th|\.|º|er|\.º)?"


@dataclass(frozen=True, slots=True)
class Day:
    """A date as it stands in normal text; `year` is None where none is written."""

    year: int | None
    month: int
    day: int
    start: int
    end: int

    def fits(self, other: date) -> bool:
        """Whether it can be the day `other`."""
        return (self.month, self.day) == (other.month, other.day) and self.year in (None, other.year)

    def __str__(self) -> str:
        return f"{self.year or '----'}-{self.month:02}-{self.day:02}"


def days(text: str, locale: Locale) -> Iterator[Day]:
    """Every date in normal text, the fullest reading of each."""
    taken: set[int] = set()
    for pattern in (_ISO, *_patterns(locale)):
        for found in pattern.finditer(text):
            span = range(found.start(), found.end())
            if taken.isdisjoint(span) and (made := _made(found, locale)) is not None:
                taken.update(span)
                yield made


def _made(found: re.Match[str], locale: Locale) -> Day | None:
    named = found.groupdict()
    year = None
    if named.get("y"):
        year = int(named["y"])
    elif named.get("yy"):
        year = 2000 + int(named["yy"])
    month = int(named["M"]) if named.get("M") else _month(named.get("N") or "", locale)
    try:
        date(year or 2000, month, int(named["d"]))
    except ValueError:
        return None
    return Day(year, month, int(named["d"]), *found.span())


def _month(name: str, locale: Locale) -> int:
    wanted = name.casefold()
    for key in ("MMMM", "MMM", "LLLL", "LLL"):
        names = [normal(one).casefold() for one in locale.patterns.names[key]]
        if wanted in names:
            return names.index(wanted) + 1
    return 0


@lru_cache(maxsize=32)
def _patterns(locale: Locale) -> tuple[re.Pattern[str], ...]:
    patterns = locale.patterns
    names = sorted(
        {normal(one) for key in ("MMMM", "MMM", "LLLL", "LLL") for one in patterns.names[key]},
        key=lambda one: (-len(one), one),
    )
    month = f"(?P<N>{'|'.join(map(re.escape, names))})"
    forms = [
        _form(patterns.dates[style], month, locale) for style in ("full", "long", "medium", "short", "day")
    ]
    long = patterns.dates["long"]  # a day and a month without the rest: 5 במרץ
    at = sorted(number for number in range(1, len(long), 2) if long[number][0] in "dML")
    if not long[at[-1] + 1][:1].isalpha():
        forms.append(_form(("", *long[at[0] : at[-1] + 1], ""), month, locale))
    if not any(one.isdecimal() for name in names for one in name):
        year = r"(?:,? (?:de |del )?(?P<y>\d{4})(?!\d))?"
        forms += [
            rf"(?P<d>\d{{1,2}}){_ORDINAL} ?(?:de |d['’]|of )?{month}\.?{year}",
            rf"{month}\.? (?P<d>\d{{1,2}})(?:st|nd|rd|th)?(?!\d){year}",
        ]
        if patterns.dates["short"][2].startswith("."):  # 28.02., with its second full stop
            forms.append(r"(?P<d>\d{1,2})\. ?(?P<M>\d{1,2})\.(?! ?\d)")
    elif long[1][0] == "y":  # 2027年2月28日: the year and its word may be left out
        forms.append(_form(("", *long[3:]), month, locale))
    return tuple(re.compile(rf"(?i)(?<![0-9A-Za-z.,])(?:{form})(?![0-9A-Za-z])") for form in forms)


def _form(parts: Sequence[str], month: str, locale: Locale) -> str:
    """A CLDR pattern, literal and field in turn, as a regular expression."""
    made = []
    for number, part in enumerate(parts):
        if number % 2 == 0:
            made.append(re.sub(r"(?:\\ )+", r"\\s+", re.escape(normal(part))))
        elif part in ("M", "MM"):
            made.append(r"(?P<M>\d{1,2})")
        elif part[0] in "ML":
            made.append(month)
        elif part[0] == "d":
            made.append(r"(?P<d>\d{1,2})")
        elif part[0] == "y":
            made.append(r"(?:(?P<y>\d{4})|(?P<yy>\d{2}))(?!\d)" if part == "yy" else r"(?P<y>\d{4})")
        else:
            names = sorted({normal(one) for one in locale.patterns.names[part]}, key=len, reverse=True)
            made.append(f"(?:{'|'.join(map(re.escape, names))})")
    return "".join(made)
