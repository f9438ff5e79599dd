"""The language data of one locale, cut out of Babel's copy of CLDR. Enters: a BCP 47 tag; leaves: plain data.

Imported only when the cache lacks the tag, for Babel is slow to import. Follows UTS 35 (LDML) part 2
(list patterns), part 3 (numbers, plural rules) and part 4 (dates). What Babel's copy lacks stands below.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from datetime import time
from itertools import product
from typing import Any

from babel import localedata
from babel.core import Locale as BabelLocale
from babel.core import UnknownLocaleError, parse_locale
from babel.dates import get_period_id
from babel.localedata import LocaleDataDict, locale_identifiers
from babel.numbers import NumberPattern
from babel.numbers import parse_pattern as parse_number

from handbill.base.errors import Fault, nearest

# minimumGroupingDigits of CLDR 47 (cldr-numbers-full 47.0.0, main/*/numbers.json): how many digits must
# stand before the first separator of thousands. A tag not listed takes its language's, else 1.
_MINIMUM_GROUPING = {
    1: "es-419 es-AR es-BO es-BR es-BZ es-CL es-CO es-CR es-CU es-DO es-EC es-GT es-HN es-MX es-NI es-PA"
    " es-PE es-PR es-PY es-SV es-US es-UY es-VE",
    2: "be bg es et hu ia ie it ka lv pl sl sq pt-CH pt-CV pt-GQ pt-GW pt-LU pt-MO pt-MZ pt-PT pt-ST pt-TL"
    " ru-UA",
    3: "ee",
}
MINIMUM_GROUPING = {tag: digits for digits, tags in _MINIMUM_GROUPING.items() for tag in tags.split()}

# Currency patterns that CLDR 47 gives one currency (same source); historic currencies are left out.
_EURO_IN_ENGLISH = (
    "en-150 en-BE en-CH en-CZ en-DE en-DK en-ES en-FI en-FR en-HU en-IT en-NL en-NO en-PL en-PT en-RO en-SE"
    " en-SI en-SK"
)
_OWN_PATTERN = {"en-AT": {"EUR": "¤\xa0#,##0.00"}} | {
    tag: {"EUR": "¤#,##0.00"} for tag in _EURO_IN_ENGLISH.split()
}

# First digit of each numbering system that is the default of some locale (CLDR numberingSystems.xml);
# the other nine follow it in Unicode.
_ZERO = {
    "adlm": "\U0001e950", "arab": "٠", "arabext": "۰", "beng": "০", "cakm": "\U00011136", "deva": "०",
    "hmnp": "\U0001e140", "mtei": "꯰", "mymr": "၀", "nkoo": "߀", "olck": "᱐", "tibt": "༠",
}  # fmt: skip

# In order of nearness to MMMMEEEEd; UTS 35 part 4 widens the fields of the one found to those asked for.
_DAY_SKELETONS = ("MMMMEEEEd", "MMMEEEEd", "MMMMEd", "MMMEd")
_DATE_STYLES = ("full", "long", "medium", "short")
_FIELD = re.compile(r"'((?:[^']|'')*)'|(([A-Za-z])\3*)|([^A-Za-z']+)")
_SIGN = re.compile(r"'([^']*)'|([-%])")
# Spellings of a date field that mean the same (UTS 35 part 4, date field symbol table).
_SAME_FIELD = {"E": "EEE", "EE": "EEE", "L": "M", "LL": "MM", "GG": "G", "GGG": "G", "aa": "a", "aaa": "a"}
_WIDER = {"MMM": "MMMM", "LLL": "LLLL", "EEE": "EEEE", "ccc": "cccc"}
# fmt: off
_KNOWN_FIELDS = frozenset((
    "y", "yy", "M", "MM", "MMM", "MMMM", "LLL", "LLLL", "d", "dd", "EEE", "EEEE", "ccc", "cccc", "G",
    "H", "HH", "h", "hh", "K", "k", "m", "mm", "a", "B",
))
# fmt: on


def extract(tag: str, *, latin_digits: bool = False) -> dict[str, Any]:
    """What the formatter needs for `tag`, as plain data that JSON can hold.

    Digits are those of the locale's default numbering system unless `latin_digits`. Raises `Fault` for a
    tag of no known language; a known language in a region without data of its own gets the language's data.
    """
    locale = _find(tag)
    data = _own_data(str(locale))
    system = "latn" if latin_digits else str(data["default_numbering_system"])
    symbols = data["number_symbols"][system]
    if "decimal" not in symbols:  # an alias of CLDR's root that Babel leaves open: to latn in every case
        symbols = data["number_symbols"]["latn"]
    found = str(locale).replace("_", "-")
    clock = _fields(data["time_formats"]["short"].pattern)
    dates = {style: _fields(data["date_formats"][style].pattern) for style in _DATE_STYLES}
    return {
        "language": locale.language,
        "rtl": data["character_order"] == "right-to-left",
        "digits": "" if system == "latn" else "".join(chr(ord(_ZERO[system]) + digit) for digit in range(10)),
        "point": symbols["decimal"],
        "group": symbols["group"],
        "money_point": symbols.get("currencyDecimal", symbols["decimal"]),
        "money_group": symbols.get("currencyGroup", symbols["group"]),
        "minimum_grouping": _minimum_grouping(found),
        "number": _number_pattern(data["decimal_formats"][None], symbols),
        "percent": _number_pattern(data["percent_formats"][None], symbols),
        "money": _number_pattern(data["currency_formats"]["standard"], symbols),
        "own_money": {
            code: _number_pattern(parse_number(pattern), symbols)
            for code, pattern in _OWN_PATTERN.get(found, {}).items()
        },
        "currencies": {
            code: [sign, _needs_space(sign[0]), _needs_space(sign[-1])]
            for code, sign in sorted(data["currency_symbols"].items())
            if sign and sign != code
        },
        "dates": dates | {"day": _day_fields(data["datetime_skeletons"])},
        "clock": clock,
        "names": _names(data) | (_flexible_periods(data, locale) if "B" in clock else {}),
        "joins": [data["list_patterns"]["standard"][part] for part in ("2", "start", "middle", "end")],
        "plurals": [[category, _alternatives(rule)] for category, rule in data["plural_form"].abstract],
    }


def _find(tag: str) -> BabelLocale:
    wanted = tag.replace("-", "_")
    try:
        language, region, script, *_ = parse_locale(wanted)
        found = _parse(wanted)
    except ValueError:
        raise _unknown(tag) from None
    if found is not None and found.territory == (region or found.territory):
        return found
    if region is None or region == "ZZ" or region not in BabelLocale("en").territories:
        raise _unknown(tag)
    found = (_parse(f"{language}_{script}") if script else None) or _parse(language)
    if found is None:
        raise _unknown(tag)
    return found


def _parse(identifier: str) -> BabelLocale | None:
    try:
        return BabelLocale.parse(identifier)
    except UnknownLocaleError:
        return None


def _own_data(identifier: str) -> LocaleDataDict:
    """The locale's data, freshly read.

    Babel resolves aliases in place, in dictionaries that locales share: a Japanese month read after a Hebrew
    one may come out Hebrew. So its store is set aside while ours is read.
    """
    store = localedata._cache
    kept = dict(store)
    store.clear()
    try:
        data: Any = localedata.load(identifier)  # its declared key type is narrower than what it holds
        return LocaleDataDict(data)
    finally:
        store.clear()
        store.update(kept)


def _unknown(tag: str) -> Fault:
    known = (identifier.replace("_", "-") for identifier in sorted(locale_identifiers()))
    return Fault(
        f'no language data for "{tag}"', expected="a BCP 47 tag such as en-GB", nearest=nearest(tag, known)
    )


def _minimum_grouping(tag: str) -> int:
    """The table's entry for `tag` or for the nearest tag it is part of."""
    while tag:
        if tag in MINIMUM_GROUPING:
            return MINIMUM_GROUPING[tag]
        tag = tag.rpartition("-")[0]
    return 1


def _number_pattern(pattern: NumberPattern, symbols: Mapping[str, str]) -> list[Any]:
    """Affixes with the locale's own signs (Babel keeps "-" and "%"), group sizes, most decimals."""

    def localised(affix: str) -> str:
        signs = {"-": symbols["minusSign"], "%": symbols["percentSign"]}
        return _SIGN.sub(lambda found: signs[found[2]] if found[2] else found[1] or "'", affix)

    positive, negative = zip(pattern.prefix, pattern.suffix, strict=True)
    return [*map(localised, positive), *map(localised, negative), *pattern.grouping, pattern.frac_prec[1]]


def _needs_space(edge: str) -> bool:
    """CLDR currencySpacing, the same in every locale of CLDR 47: currencyMatch is [[:^S:]&[:^Z:]]."""
    return unicodedata.category(edge)[0] not in "SZ"


def _pieces(pattern: str) -> Iterator[tuple[str, bool]]:
    """The pieces of a date pattern: (text, is a field)."""
    for found in _FIELD.finditer(pattern):
        quoted, field, _, literal = found.groups()
        if field:
            yield _SAME_FIELD.get(field, field), True
        elif literal:
            yield literal, False
        else:
            yield quoted.replace("''", "'") or "'", False


def _fields(pattern: str) -> list[str]:
    """A date pattern as literal, field, literal … literal: the odd places are fields."""
    parts = [""]
    for text, is_field in _pieces(pattern):
        if is_field:
            if text not in _KNOWN_FIELDS:
                raise Fault(f'the date pattern "{pattern}" has a field that is not supported: {text}')
            parts += [text, ""]
        else:
            parts[-1] += text
    return parts


def _day_fields(skeletons: Mapping[str, Any]) -> list[str]:
    """The pattern for CLDR skeleton MMMMEEEEd, made from the nearest one there is."""
    found = next(skeletons[name] for name in _DAY_SKELETONS if name in skeletons)
    parts = _fields(found.pattern)
    parts[1::2] = [_WIDER.get(field, field) for field in parts[1::2]]
    return parts


def _names(data: Mapping[str, Any]) -> dict[str, list[str]]:
    """Names by date field: months from January, weekdays from Monday, morning before afternoon."""
    halves = data["day_periods"]["format"]["abbreviated"]
    names = {"G": [data["eras"]["abbreviated"][1]], "a": [halves["am"], halves["pm"]]}
    for kind, letters, numbers in (("months", "ML", range(1, 13)), ("days", "Ec", range(7))):
        for letter, context in zip(letters, ("format", "stand-alone"), strict=True):
            for count, width in ((4, "wide"), (3, "abbreviated")):
                known = data[kind][context][width]
                names[letter * count] = [known[number] for number in numbers]
    return names


def _flexible_periods(data: Mapping[str, Any], locale: BabelLocale) -> dict[str, list[str]]:
    """Names of field B, two an hour: periods change on the hour, "noon" names that very minute alone."""
    known = data["day_periods"]["format"]["abbreviated"]
    moments = [time(hour, minute) for hour in range(24) for minute in (0, 1)]
    return {"B": [known[get_period_id(moment, locale=locale)] for moment in moments]}


def _alternatives(rule: Any) -> list[list[list[Any]]]:
    """Babel's tree of a plural rule as "or" of "and" of [operand, modulus or 0, negated, [[low, high] …]]."""
    kind, parts = rule
    if kind == "or":
        return [either for part in parts for either in _alternatives(part)]
    if kind == "and":
        return [[*left, *right] for left, right in product(*map(_alternatives, parts))]
    negated = kind == "not"
    relation = parts[0] if negated else rule
    if relation[0] != "relation" or relation[1][0] != "in":
        raise Fault(f"the plural rule {rule} is not of the form that UTS 35 gives")
    _, (operand, arguments), (_, ranges) = relation[1]
    modulus = 0
    if operand == "mod":
        (operand, _), (_, (modulus,)) = arguments
    return [[[operand, modulus, negated, [[low[1][0], high[1][0]] for low, high in ranges]]]]
