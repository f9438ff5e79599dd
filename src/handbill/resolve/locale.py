"""Words and numbers of one language. Enters: a BCP 47 tag; leaves: a `Locale` that writes money and dates.

Patterns come from CLDR through Babel once per tag, then from the cache; writing them follows UTS 35 (LDML)
parts 2 to 4. The calendar is always Gregorian. Where Babel and CLDR differ, this is what is written:
decimals of money are ISO 4217's (CLDR has RSD and LBP at 0, IQD at 0 for ISO's 3); amounts are rounded half
up before they are written (Babel: half even, afterwards); a short number is not grouped where CLDR's
minimumGroupingDigits says so (1234,50 € in Spanish); a code is set off by a no-break space (KWD 1.235);
signs and digits are the locale's own (− in Swedish, ٪ and ٠-٩ in Egypt; "ar-EG-u-nu-latn" keeps 0-9).
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Context, Decimal, DivisionByZero, InvalidOperation, Overflow
from hashlib import sha256
from importlib.machinery import PathFinder
from typing import Any, NamedTuple

from handbill import __version__
from handbill.base.cache import Cache
from handbill.base.errors import Fault, nearest
from handbill.base.frozen import dataclass, field
from handbill.base.money import Money

_ENTRY_FORMAT = 1  # to be raised when the entry's shape or the way it is cut out changes
_DATE_STYLES = ("full", "long", "medium", "short")
_ROUNDING = Context(prec=60, traps=[DivisionByZero, InvalidOperation, Overflow])
_NO_BREAK_SPACE = "\xa0"


class NumberPattern(NamedTuple):
    """A CLDR number pattern taken apart: affixes (¤ stands for the currency), group sizes, most decimals."""

    prefix: str
    suffix: str
    negative_prefix: str
    negative_suffix: str
    first_group: int
    further_groups: int
    most_decimals: int


# Named tuples, since they are made on every run and cost a third of a dataclass to define.
class Patterns(NamedTuple):
    """What CLDR says of one locale, as `handbill.resolve.cldr.extract` cuts it out."""

    language: str
    rtl: bool
    digits: str
    point: str
    group: str
    money_point: str
    money_group: str
    minimum_grouping: int
    number: NumberPattern
    percent: NumberPattern
    money: NumberPattern
    own_money: Mapping[str, NumberPattern]
    currencies: Mapping[str, Sequence[Any]]
    dates: Mapping[str, Sequence[str]]
    clock: Sequence[str]
    names: Mapping[str, Sequence[str]]
    joins: Sequence[str]
    plurals: Sequence[Any]

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Patterns:
        """From plain data; raises TypeError or KeyError where it has another shape."""
        taken_apart: dict[str, Any] = {
            name: NumberPattern(*data[name]) for name in ("number", "percent", "money")
        }
        taken_apart["own_money"] = {code: NumberPattern(*parts) for code, parts in data["own_money"].items()}
        return cls(**{**data, **taken_apart})


@dataclass(frozen=True, slots=True)
class Locale:
    """One language as a mail is written in it; `tag` is its BCP 47 tag. The choices stand in the module."""

    tag: str
    patterns: Patterns = field(repr=False, hash=False)

    @classmethod
    def load(cls, tag: str, cache: Cache | None) -> Locale:
        """The locale for a BCP 47 tag such as en-GB; Babel is imported only when `cache` lacks its data.

        Raises `Fault` for a tag of no known language or region, and for extensions other than -u-nu-latn.
        """
        canonical = _canonical(tag)
        if cache is None:
            return cls(canonical, _decoded(_extracted(canonical)))
        key = f"locale {_ENTRY_FORMAT} {__version__} {_babel_version()} {canonical}"
        entry = cache.get(key)
        patterns = _checked(entry) if entry else None
        if patterns is None:
            data = _extracted(canonical)
            cache.put(key, sha256(data).digest() + data)
            patterns = _decoded(data)
        return cls(canonical, patterns)

    @property
    def language(self) -> str:
        """The language's ISO 639 code."""
        return self.patterns.language

    @property
    def rtl(self) -> bool:
        """Whether the language is written from right to left."""
        return self.patterns.rtl

    def money(self, money: Money, *, whole: str = "full") -> str:
        """A price in the locale's standard pattern, rounded half up to the currency's ISO 4217 decimals.

        `whole` "short" leaves out the decimals of whole amounts (£45), "full" keeps them (£45.00).
        """
        if whole not in ("full", "short"):
            raise Fault(f'"{whole}" is no way to write whole amounts', expected="full or short")
        patterns = self.patterns
        code, amount = money.currency, money.rounded().amount
        if whole == "short" and amount == amount.to_integral_value():
            amount = amount.to_integral_value()
        pattern = patterns.own_money.get(code, patterns.money)
        number = self._grouped(amount, pattern, patterns.money_point, patterns.money_group)
        prefix, suffix = _affixes(pattern, amount)
        sign, space_before, space_after = patterns.currencies.get(code, (code, True, True))
        # CLDR currencySpacing: only where the sign touches a digit.
        after = _NO_BREAK_SPACE if space_after and prefix.endswith("¤") else ""
        before = _NO_BREAK_SPACE if space_before and suffix.startswith("¤") else ""
        return prefix.replace("¤", sign) + after + number + before + suffix.replace("¤", sign)

    def percent(self, percent: int) -> str:
        """A whole percent with its sign: 25 gives "25%", "25 %" or "%25"."""
        pattern = self.patterns.percent
        value = Decimal(percent)
        prefix, suffix = _affixes(pattern, value)
        return prefix + self._grouped(value, pattern, self.patterns.point, self.patterns.group) + suffix

    def number(self, number: Decimal | int) -> str:
        """A plain number with at most the pattern's decimals (3 in nearly all locales), rounded half up."""
        pattern = self.patterns.number
        unit = Decimal(1).scaleb(-pattern.most_decimals)
        value = Decimal(number).quantize(unit, ROUND_HALF_UP, _ROUNDING).normalize(_ROUNDING)
        prefix, suffix = _affixes(pattern, value)
        return prefix + self._grouped(value, pattern, self.patterns.point, self.patterns.group) + suffix

    def date(self, day: datetime.date, style: str = "long") -> str:
        """A Gregorian date in one of CLDR's styles: full, long, medium, short."""
        if style not in _DATE_STYLES:
            raise Fault(
                f'"{style}" is no style of date',
                expected="full, long, medium or short",
                nearest=nearest(style, _DATE_STYLES),
            )
        return self._filled(self.patterns.dates[style], day)

    def day(self, day: datetime.date) -> str:
        """Weekday, day and month without the year (CLDR skeleton MMMMEEEEd): "Friday 28 November"."""
        return self._filled(self.patterns.dates["day"], day)

    def weekday(self, day: datetime.date) -> str:
        """The weekday's name by itself (CLDR stand-alone, wide)."""
        return self.patterns.names["cccc"][day.weekday()]

    def month(self, day: datetime.date) -> str:
        """The month's name by itself (CLDR stand-alone, wide: "listopad", not "listopada")."""
        return self.patterns.names["LLLL"][day.month - 1]

    def time(self, moment: datetime.time) -> str:
        """A time of day in CLDR's short style: "08:00", "8:00 am"."""
        return self._filled(self.patterns.clock, moment)

    def join(self, items: Sequence[str]) -> str:
        """A list in words (CLDR list pattern "standard"): "red, green and blue"."""
        pair, start, middle, end = self.patterns.joins
        if len(items) < 2:
            return "".join(items)
        if len(items) == 2:
            return pair.format(*items)
        joined = start.format(items[0], items[1])
        for item in items[2:-1]:
            joined = middle.format(joined, item)
        return end.format(joined, items[-1])

    def plural(self, number: Decimal | int) -> str:
        """CLDR's category (zero one two few many other) of `number` as written: 1 and 1.0 may differ."""
        operands = _operands(Decimal(number))
        for category, alternatives in self.patterns.plurals:
            if any(all(_holds(relation, operands) for relation in relations) for relations in alternatives):
                return str(category)
        return "other"

    def _grouped(self, value: Decimal, pattern: NumberPattern, point: str, group: str) -> str:
        """The digits of `value` without its sign, in the locale's numbering system."""
        whole, _, decimals = f"{abs(value):f}".partition(".")
        size = pattern.first_group
        if len(whole) >= size + self.patterns.minimum_grouping:
            groups = [whole[-size:]]
            whole = whole[:-size]
            while whole:
                groups.append(whole[-pattern.further_groups :])
                whole = whole[: -pattern.further_groups]
            whole = group.join(self._own_digits(part) for part in reversed(groups))
        else:
            whole = self._own_digits(whole)
        return whole + point + self._own_digits(decimals) if decimals else whole

    def _own_digits(self, text: str) -> str:
        digits = self.patterns.digits
        return "".join(digits[int(digit)] for digit in text) if digits else text

    def _filled(self, pattern: Sequence[str], moment: datetime.date | datetime.time) -> str:
        parts = list(pattern)
        parts[1::2] = [self._field(name, moment) for name in pattern[1::2]]
        return "".join(parts)

    def _field(self, name: str, moment: datetime.date | datetime.time) -> str:
        """One field of UTS 35 part 4's date field symbol table."""
        names = self.patterns.names.get(name)
        if names is not None:
            return names[_place(name, moment)]
        return self._own_digits(f"{_number(name, moment):0{len(name)}}")


def _place(name: str, moment: datetime.date | datetime.time) -> int:
    """Where the name of field `name` stands in its list."""
    if isinstance(moment, datetime.time):
        return moment.hour // 12 if name == "a" else 2 * moment.hour + (moment.minute > 0)
    if name == "G":
        return 0
    return moment.month - 1 if name[0] in "ML" else moment.weekday()


def _number(name: str, moment: datetime.date | datetime.time) -> int:
    """The value of the numeric field `name`."""
    if isinstance(moment, datetime.time):
        hour = moment.hour
        return {"H": hour, "k": hour or 24, "h": hour % 12 or 12, "K": hour % 12, "m": moment.minute}[name[0]]
    return {"y": moment.year % 100 if name == "yy" else moment.year, "M": moment.month, "d": moment.day}[
        name[0]
    ]


def _affixes(pattern: NumberPattern, value: Decimal) -> tuple[str, str]:
    """Prefix and suffix; what rounds to nothing has no minus sign."""
    if value < 0:
        return pattern.negative_prefix, pattern.negative_suffix
    return pattern.prefix, pattern.suffix


def _operands(number: Decimal) -> dict[str, int | Decimal]:
    """The operands of UTS 35 part 3, "Plural Operand Meanings"; there are no compact exponents (c, e)."""
    whole, _, decimals = f"{abs(number):f}".partition(".")
    kept = decimals.rstrip("0")
    return {
        "n": abs(number),
        "i": int(whole),
        "v": len(decimals),
        "w": len(kept),
        "f": int(decimals or 0),
        "t": int(kept or 0),
        "c": 0,
        "e": 0,
    }


def _holds(relation: Sequence[Any], operands: Mapping[str, int | Decimal]) -> bool:
    operand, modulus, negated, ranges = relation
    value = operands[operand] % modulus if modulus else operands[operand]
    within = value == int(value) and any(low <= value <= high for low, high in ranges)
    return within is not negated


def _canonical(tag: str) -> str:
    """`tag` with the letter case of RFC 5646, section 2.1.1, and at most the extension -u-nu-latn."""
    if "_" in tag:
        raise Fault(f'"{tag}" is not a BCP 47 tag', expected="hyphens", nearest=tag.replace("_", "-"))
    main, mark, extension = tag.partition("-u-")
    if mark and extension.lower() != "nu-latn":
        raise Fault(f'the extension "-u-{extension}" is not supported', expected="-u-nu-latn or none")
    first, *rest = main.split("-")
    return "-".join([first.lower(), *map(_cased, rest)]) + (mark and "-u-nu-latn")


def _cased(part: str) -> str:
    if len(part) == 2:
        return part.upper()
    return part.title() if len(part) == 4 and part.isalpha() else part.lower()


def _babel_version() -> str:
    """Babel's version, read from its source: importing it or asking for its metadata costs far more."""
    spec = PathFinder.find_spec("babel")
    if spec is None or spec.origin is None:
        return ""
    with open(spec.origin, "rb") as source:
        for line in source:
            if line.startswith(b"__version__"):
                return line.decode().partition("=")[2].strip(" '\"\n")
    return ""


def _extracted(tag: str) -> bytes:
    from handbill.resolve.cldr import extract  # imports Babel

    main, mark, _ = tag.partition("-u-")
    return json.dumps(extract(main, latin_digits=bool(mark)), ensure_ascii=False, sort_keys=True).encode()


def _decoded(data: bytes) -> Patterns:
    return Patterns.of(json.loads(data))


def _checked(entry: bytes) -> Patterns | None:
    """The patterns of a cache entry, or None for a damaged one."""
    digest, data = entry[:32], entry[32:]
    if sha256(data).digest() != digest:
        return None
    try:
        return _decoded(data)
    except (ValueError, TypeError, KeyError, AttributeError):
        return None
