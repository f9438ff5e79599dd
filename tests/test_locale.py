"""Money, numbers, dates and lists in the reader's language.

Sources: CLDR 47 as Babel 2.18 carries it; ICU 78 (CLDR 48), read through a JavaScript engine's Intl, where
Babel lacks a rule; UTS 35. The rows M02-M15 are published check values of those two.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time as clock
import unicodedata
from datetime import date, time
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from hashlib import sha256
from pathlib import Path

import babel.dates
import babel.lists
import babel.numbers
import pytest
from babel import Locale as BabelLocale
from hypothesis import given, settings
from hypothesis import strategies as st

import handbill
from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.base.money import MINOR_UNITS, Money, minor_units
from handbill.resolve.locale import Locale

TAGS = [
    *("en-GB", "en-US", "en-IE", "de-DE", "fr-FR", "es-ES", "it-IT"),
    *("nl-NL", "pt-BR", "ja-JP", "ar-EG", "he-IL", "sv-SE", "tr-TR"),
]
LOADED = {tag: Locale.load(tag, None) for tag in TAGS}
FRIDAY = date(2025, 11, 28)
ARABIC_DIGITS = str.maketrans("0123456789", "٠١٢٣٤٥٦٧٨٩")


def money(tag: str, amount: str, currency: str, whole: str = "full") -> str:
    return Locale.load(tag, None).money(Money(Decimal(amount), currency), whole=whole)


# NBSP is U+00A0, NNBSP U+202F: written out, for they look alike.
@pytest.mark.parametrize(
    ("tag", "amount", "currency", "written"),
    [
        ("en-US", "1234.5", "USD", "$1,234.50"),  # M03: Babel and ICU
        ("en-US", "-5", "USD", "-$5.00"),
        ("de-DE", "1234.5", "EUR", "1.234,50\xa0€"),  # M04: Babel and ICU
        ("fr-FR", "1234.5", "EUR", "1\u202f234,50\xa0€"),  # M05: Babel and ICU
        ("ja-JP", "1234", "JPY", "\uffe51,234"),  # M06: Babel and ICU
        ("en-US", "1234", "JPY", "¥1,234"),
        ("en-GB", "1234.5", "GBP", "£1,234.50"),  # M07: Babel and ICU
        ("en-CA", "1234.5", "CAD", "$1,234.50"),
        ("en-CA", "1234.5", "USD", "US$1,234.50"),
        ("fr-CA", "1234.5", "CAD", "1\xa0234,50\xa0$"),
        ("fr-CH", "1234.5", "CHF", "1\u202f234.50\xa0CHF"),  # M09: ICU (currencyDecimal); Babel has a comma
        ("nl-NL", "1234.5", "EUR", "€\xa01.234,50"),  # M10: Babel and ICU
        ("pt-BR", "1234.5", "BRL", "R$\xa01.234,50"),
        ("sv-SE", "1234.5", "SEK", "1\xa0234,50\xa0kr"),
        ("de-AT", "1234.5", "EUR", "€\xa01.234,50"),
        ("en-IN", "1234567.8", "INR", "₹12,34,567.80"),
        ("es-ES", "1234.5", "EUR", "1234,50\xa0€"),  # M11: ICU (minimumGroupingDigits); Babel groups
        ("it-IT", "1234.5", "EUR", "1234,50\xa0€"),
        ("pl-PL", "1234.5", "PLN", "1234,50\xa0zł"),
        ("pt-PT", "1234.5", "EUR", "1234,50\xa0€"),
        ("es-ES", "12345.6", "EUR", "12.345,60\xa0€"),
        ("pl-PL", "12345.6", "PLN", "12\xa0345,60\xa0zł"),
        ("es-MX", "1234.5", "MXN", "$1,234.50"),  # not so in Mexico: the same table of CLDR
        ("en-US", "1.2345", "KWD", "KWD\xa01.235"),  # M12: ICU (currencySpacing, half up); Babel "KWD1.234"
        ("en-US", "1234.5", "JPY", "¥1,235"),  # M13: ICU (half up); Babel 1,234
        ("sv-SE", "-5", "SEK", "\u22125,00\xa0kr"),  # ICU: U+2212; Babel keeps the hyphen-minus
        ("ar-EG", "1234.5", "EGP", "\u200f١٬٢٣٤٫٥٠\xa0ج.م.\u200f"),  # ICU; Babel keeps 0-9
        ("he-IL", "1234.5", "ILS", "\u200f1,234.50\xa0\u200f₪"),  # Babel and ICU
        ("en-DE", "5", "EUR", "€5,00"),  # CLDR 47, en-DE currencies: EUR has its own pattern
        ("en-AT", "5", "EUR", "€\xa05,00"),
        ("de-CH", "-5", "CHF", "CHF-5.00"),  # CLDR 47, de-CH: "¤-#,##0.00"; Babel and ICU
        ("en-US", "-0.001", "USD", "$0.00"),  # no minus sign before nothing: our choice, ICU writes one
    ],
)
def test_money(tag: str, amount: str, currency: str, written: str) -> None:
    assert money(tag, amount, currency) == written


def test_money_swiss_apostrophe_is_that_of_the_data() -> None:
    # M08: CLDR 47 has U+2019, CLDR 48 an ASCII apostrophe.
    group = BabelLocale("de", "CH").number_symbols["latn"]["group"]
    assert group in "’'"
    assert money("de-CH", "1234.5", "CHF") == f"CHF\xa01{group}234.50"


# M02: where CLDR has other decimals than ISO 4217 list one, ISO's are written.
@pytest.mark.parametrize(
    ("currency", "amount"),
    [*((code, "10.50") for code in ("RSD", "ALL", "LBP", "MGA", "MMK", "IRR")), ("IQD", "10.500")],
)
def test_money_has_the_decimals_of_iso_4217(currency: str, amount: str) -> None:
    assert babel.numbers.get_currency_precision(currency) == 0
    assert money("en-US", "10.5", currency).endswith(amount)


@pytest.mark.parametrize(
    ("tag", "amount", "currency", "written"),
    [
        ("en-GB", "45.00", "GBP", "£45"),
        ("en-GB", "45.50", "GBP", "£45.50"),
        ("en-GB", "44.999", "GBP", "£45"),  # what is shown decides: 44.999 shows as 45.00
        ("de-DE", "1045", "EUR", "1.045\xa0€"),
        ("nl-NL", "45", "EUR", "€\xa045"),
        ("en-US", "45", "KWD", "KWD\xa045"),
        ("ja-JP", "1234", "JPY", "\uffe51,234"),
    ],
)
def test_whole_amounts_written_short(tag: str, amount: str, currency: str, written: str) -> None:
    assert money(tag, amount, currency, whole="short") == written


# M14: Babel and ICU.
@pytest.mark.parametrize(
    ("tag", "written"),
    [
        *(
            ("en-GB", "25%"),
            ("de-DE", "25\xa0%"),
            ("sv-SE", "25\xa0%"),
            ("es-ES", "25\xa0%"),
            ("tr-TR", "%25"),
        ),
        *(
            ("eu", "%\xa025"),
            ("ar-EG", "٢٥٪\u061c"),
            ("ar-EG-u-nu-latn", "25\u200e%\u200e"),
            ("he-IL", "25%"),
        ),
    ],
)
def test_percent(tag: str, written: str) -> None:
    assert Locale.load(tag, None).percent(25) == written


def test_percent_in_french_has_a_space_that_does_not_break() -> None:
    assert LOADED["fr-FR"].percent(25) in ("25\xa0%", "25\u202f%")  # M14; CLDR moved between the two


@pytest.mark.parametrize(
    ("tag", "number", "written"),
    [
        ("en-GB", 1234567, "1,234,567"),
        ("en-GB", Decimal("4.80"), "4.8"),
        ("en-GB", Decimal("0.0005"), "0.001"),  # half up; Babel rounds to even: 0
        ("en-GB", Decimal("100"), "100"),
        ("en-GB", Decimal("1E+3"), "1,000"),
        ("de-DE", Decimal("4.8"), "4,8"),
        ("es-ES", 1234, "1234"),
        ("es-ES", 12345, "12.345"),
        ("hi-IN", 1234567, "12,34,567"),
        ("ar-EG", 1234, "١٬٢٣٤"),
        ("bn-BD", 1234567, "১২,৩৪,৫৬৭"),
    ],
)
def test_number(tag: str, number: Decimal | int, written: str) -> None:
    assert Locale.load(tag, None).number(number) == written


# M15: CLDR, and ICU for the numbering systems.
@pytest.mark.parametrize(
    ("tag", "written"),
    [
        ("en-US", "November 28, 2025"),
        ("en-GB", "28 November 2025"),
        ("de-DE", "28. November 2025"),
        ("es-ES", "28 de noviembre de 2025"),
        ("ja-JP", "2025年11月28日"),
        ("ar-EG", "٢٨ نوفمبر ٢٠٢٥"),
        ("ar-EG-u-nu-latn", "28 نوفمبر 2025"),
        ("fa-IR", "۲۸ نوامبر ۲۰۲۵"),  # Gregorian, where CLDR's default calendar is the Persian one
    ],
)
def test_date_long(tag: str, written: str) -> None:
    assert Locale.load(tag, None).date(FRIDAY) == written


# ICU 78: Intl.DateTimeFormat(tag, {weekday: "long", month: "long", day: "numeric"}).
@pytest.mark.parametrize(
    ("tag", "written"),
    [
        ("en-US", "Friday, November 28"),
        ("en-GB", "Friday 28 November"),
        ("de-DE", "Freitag, 28. November"),
        ("fr-FR", "vendredi 28 novembre"),
        ("es-ES", "viernes, 28 de noviembre"),
        ("pt-BR", "sexta-feira, 28 de novembro"),
        ("it-IT", "venerdì 28 novembre"),
        ("sv-SE", "fredag 28 november"),
        ("tr-TR", "28 Kasım Cuma"),
        ("ja-JP", "11月28日金曜日"),
        ("ko-KR", "11월 28일 금요일"),
        ("pl-PL", "piątek, 28 listopada"),
        ("fi-FI", "perjantai 28. marraskuuta"),
        ("cs-CZ", "pátek 28. listopadu"),
        ("he-IL", "יום שישי, 28 בנובמבר"),
        ("ar-EG", "الجمعة، ٢٨ نوفمبر"),
    ],
)
def test_day_without_year(tag: str, written: str) -> None:
    assert Locale.load(tag, None).day(FRIDAY) == written


# CLDR 47 stand-alone names, and the short time patterns; zh-Hant has flexible day periods (B).
def test_names_and_times() -> None:
    polish, english, chinese = (Locale.load(tag, None) for tag in ("pl-PL", "en-US", "zh-TW"))
    assert (polish.month(FRIDAY), polish.weekday(FRIDAY)) == ("listopad", "piątek")
    assert (english.month(FRIDAY), english.weekday(FRIDAY)) == ("November", "Friday")
    assert english.time(time(0, 5)).replace("\u202f", " ") == "12:05 AM"
    assert english.time(time(12, 0)).replace("\u202f", " ") == "12:00 PM"
    assert LOADED["en-GB"].time(time(8, 0)) == "08:00"
    assert LOADED["de-DE"].time(time(23, 59)) == "23:59"
    assert [chinese.time(time(hour, 5)) for hour in (3, 6, 10, 12, 15, 21)] == [
        *("凌晨3:05", "清晨6:05", "上午10:05", "中午12:05", "下午3:05", "晚上9:05")
    ]


def test_lists_and_plurals() -> None:
    british, american = LOADED["en-GB"], LOADED["en-US"]
    assert [british.join(["{0}", "b", "c", "d"][:count]) for count in range(5)] == [
        *("", "{0}", "{0} and b", "{0}, b and c", "{0}, b, c and d")
    ]
    assert american.join(["a", "b", "c"]) == "a, b, and c"
    arabic, polish = Locale.load("ar", None), Locale.load("pl", None)
    # UTS 35's plural rules table: ar zero one two few many other, pl one few many other
    assert [arabic.plural(number) for number in (0, 1, 2, 3, 11, 100)] == [
        *("zero", "one", "two", "few", "many", "other")
    ]
    assert [polish.plural(number) for number in (1, 2, 5, 12, 22)] == ["one", "few", "many", "many", "few"]
    assert polish.plural(Decimal("1.5")) == "other"
    assert (british.plural(1), british.plural(Decimal("1.0"))) == ("one", "other")


def test_direction_and_language() -> None:
    assert {tag for tag, locale in LOADED.items() if locale.rtl} == {"ar-EG", "he-IL"}
    assert {locale.language for locale in LOADED.values()} == {tag[:2] for tag in TAGS}


# --- equal to Babel wherever the differences named in the module do not apply ---


@cache
def babels(tag: str) -> BabelLocale:
    return BabelLocale.parse(tag, sep="-")


def own_digits(tag: str, text: str) -> str:
    return text.translate(ARABIC_DIGITS) if tag == "ar-EG" else text


def ungrouped(tag: str, value: Decimal) -> bool:
    """Spanish and Italian do not group four digits (M11)."""
    return tag in ("es-ES", "it-IT") and 1000 <= abs(value) < 10000


def babel_writes_it_so(locale: Locale, code: str) -> bool:
    """Whether neither M02 nor M12 nor a historic sign stands between Babel and us."""
    sign = babel.numbers.get_currency_symbol(code, locale=babels(locale.tag))
    pattern = locale.patterns.money
    tight_before, tight_after = pattern.prefix.endswith("¤"), pattern.suffix.startswith("¤")
    touching = tight_before * sign[-1] + tight_after * sign[0]
    spaced = any(unicodedata.category(edge)[0] not in "SZ" for edge in touching)
    return not spaced and babel.numbers.get_currency_precision(code) == minor_units(code)


amounts = st.decimals(min_value=0, max_value=10**9, places=2)


@settings(max_examples=1500, deadline=None)
@given(st.sampled_from(TAGS), amounts, st.sampled_from(sorted(MINOR_UNITS)))
def test_money_equals_babels(tag: str, amount: Decimal, code: str) -> None:
    locale = LOADED[tag]
    if not babel_writes_it_so(locale, code):
        return
    value = amount.quantize(Decimal(1).scaleb(-minor_units(code)), ROUND_HALF_UP)  # M13
    expected = babel.numbers.format_currency(
        value,
        code,
        locale=babels(tag),
        group_separator=not ungrouped(tag, value),
        numbering_system="default",
    )
    assert locale.money(Money(amount, code)) == own_digits(tag, expected)


@settings(max_examples=800, deadline=None)
@given(st.sampled_from(TAGS), st.decimals(min_value=-(10**9), max_value=10**9, places=3))
def test_number_equals_babels(tag: str, value: Decimal) -> None:
    if value < 0 and LOADED[tag].patterns.number.negative_prefix != "-":
        return  # a sign of the locale's own, which Babel does not write
    expected = babel.numbers.format_decimal(
        value if value else Decimal(0),
        locale=babels(tag),
        group_separator=not ungrouped(tag, value),
        numbering_system="default",
    )
    assert LOADED[tag].number(value) == own_digits(tag, expected)


@settings(max_examples=600, deadline=None)
@given(st.sampled_from([tag for tag in TAGS if tag != "ar-EG"]), st.integers(0, 999))
def test_percent_equals_babels(tag: str, percent: int) -> None:
    assert LOADED[tag].percent(percent) == babel.numbers.format_percent(
        Decimal(percent) / 100, locale=babels(tag)
    )


@settings(max_examples=800, deadline=None)
@given(
    st.sampled_from(TAGS),
    st.dates(date(1990, 1, 1), date(2100, 12, 31)),
    st.sampled_from(["full", "long", "medium", "short"]),
)
def test_date_equals_babels(tag: str, day: date, style: str) -> None:
    locale = babels(tag)
    expected = babel.dates.format_date(day, style, locale=locale)
    assert LOADED[tag].date(day, style) == own_digits(tag, expected)
    assert LOADED[tag].weekday(day) == babel.dates.get_day_names("wide", "stand-alone", locale)[day.weekday()]


@settings(max_examples=800, deadline=None)
@given(st.sampled_from(TAGS), st.times())
def test_time_equals_babels(tag: str, moment: time) -> None:
    expected = babel.dates.format_time(moment, "short", locale=babels(tag))
    assert LOADED[tag].time(moment) == own_digits(tag, expected)


@settings(max_examples=500, deadline=None)
@given(st.sampled_from(TAGS), st.lists(st.text(max_size=5), max_size=6))
def test_join_equals_babels(tag: str, items: list[str]) -> None:
    assert LOADED[tag].join(items) == babel.lists.format_list(items, "standard", babels(tag))


@settings(max_examples=800, deadline=None)
@given(
    st.sampled_from([*TAGS, "pl", "ru", "ar", "cs", "lt", "sl", "cy", "ga", "lv", "fil"]),
    st.one_of(st.integers(0, 2_000_000), st.decimals(min_value=0, max_value=2000, places=1), amounts),
)
def test_plural_equals_babels(tag: str, number: Decimal | int) -> None:
    locale = LOADED.setdefault(tag, Locale.load(tag, None)) if tag not in LOADED else LOADED[tag]
    assert locale.plural(number) == babels(tag).plural_form(number)


# --- loading ---


@pytest.mark.parametrize("tag", ["en-GB", "ar-EG", "ar-EG-u-nu-latn", "zh-TW", "en-DE"])
def test_cached_and_fresh_are_equal(tag: str, tmp_path: Path) -> None:
    kept = Cache(tmp_path / "cache")
    fresh, first, second = (Locale.load(tag, at) for at in (None, kept, kept))
    assert fresh == first == second
    assert len(entries(tmp_path)) == 1
    assert Locale.load("sv", kept) != fresh


def entries(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


@pytest.mark.parametrize(
    "damage",
    [
        lambda entry: b"",
        lambda entry: entry[:20],
        lambda entry: entry[:-10],
        lambda entry: entry.replace(b"November", b"Nevember"),
        lambda entry: sha256(b"{}").digest() + b"{}",
        lambda entry: sha256(b"[1").digest() + b"[1",
        lambda entry: sha256(b"[1]").digest() + b"[1]",
        lambda entry: os.urandom(200),
    ],
)
def test_a_damaged_cache_entry_is_ignored_and_replaced(damage: object, tmp_path: Path) -> None:
    assert callable(damage)
    kept = Cache(tmp_path / "cache")
    whole = Locale.load("en-GB", kept)
    (file,) = entries(tmp_path)
    sound = file.read_bytes()
    file.write_bytes(damage(sound))
    assert Locale.load("en-GB", kept) == whole
    assert file.read_bytes() == sound


def test_loading_from_the_cache_is_quick_and_needs_no_babel(tmp_path: Path) -> None:
    kept = Cache(tmp_path / "cache")
    locale = Locale.load("de-DE", kept)
    spent = []
    for _ in range(20):
        start = clock.perf_counter()
        Locale.load("de-DE", kept)
        spent.append(clock.perf_counter() - start)
    assert min(spent) < 0.002  # seconds
    program = (
        "import sys, json; from decimal import Decimal; from pathlib import Path\n"
        "from handbill.base.cache import Cache; from handbill.base.money import Money\n"
        "from handbill.resolve.locale import Locale\n"
        "locale = Locale.load('de-DE', Cache(Path(sys.argv[1])))\n"
        "written = locale.money(Money(Decimal('1234.5'), 'EUR'))\n"
        "print(json.dumps([written, sorted({name.split('.')[0] for name in sys.modules})]))\n"
    )
    source = str(Path(handbill.__file__).parents[1])
    done = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path / "cache")],
        env=os.environ | {"PYTHONPATH": source},
        capture_output=True,
        check=True,
    )
    written, modules = json.loads(done.stdout)
    assert written == locale.money(Money(Decimal("1234.5"), "EUR"))
    assert not {"babel", "pydantic", "jinja2", "yaml", "unicodedata", "email"} & set(modules)


def test_one_locale_does_not_colour_the_next() -> None:
    # Babel resolves aliases in dictionaries that locales share: read by Babel itself, in one process,
    # a Japanese month can come out in the language read before.
    for tag in ("he-IL", "de-DE", "ja-JP", "fr-FR", "zh-TW"):
        babels(tag).months["stand-alone"]["wide"]
        Locale.load(tag, None)
    assert Locale.load("ja-JP", None).month(FRIDAY) == "11月"
    assert Locale.load("ja-JP", None) == LOADED["ja-JP"]


def test_tags_are_written_in_their_canonical_case() -> None:
    # RFC 5646, section 2.1.1
    pairs = {"EN-gb": "en-GB", "zh-hANT-tw": "zh-Hant-TW", "ar-eg-u-NU-latn": "ar-EG-u-nu-latn"}
    for typed, canonical in pairs.items():
        assert Locale.load(typed, None).tag == canonical


def test_a_region_without_data_of_its_own_gets_the_languages() -> None:
    assert Locale.load("de-PL", None).patterns == Locale.load("de", None).patterns


@pytest.mark.parametrize(
    ("tag", "nearest"),
    [
        ("en-GV", None),
        ("en_GB", "en-GB"),
        ("xx", None),
        ("xx-GB", None),
        ("", None),
        ("en-", None),
        ("e", None),
        ("en-GB-u-nu-arab", ""),
        ("en-GB-u-ca-buddhist", ""),
        ("deDE", "de-DE"),
        ("en-ZZ", None),
        ("../en", None),
    ],
)
def test_unknown_tags_are_refused(tag: str, nearest: str | None) -> None:
    with pytest.raises(Fault) as caught:
        Locale.load(tag, None)
    assert nearest is None or caught.value.nearest == nearest


def test_unknown_styles_are_refused() -> None:
    with pytest.raises(Fault) as caught:
        LOADED["en-GB"].date(FRIDAY, "lang")
    assert caught.value.nearest == "long"
    with pytest.raises(Fault):
        LOADED["en-GB"].money(Money(Decimal(1), "GBP"), whole="brief")
