"""Money as exact decimals. Enters: a price as text and its currency; leaves: `Money`, or a `Fault`.

Follows ISO 4217 list one (published 2026-01-01) for currency codes and minor units. No float comes in or
goes out: 89.99 - 35.99 is 54.00 here and 53.99999999999999 in IEEE 754 binary.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Context, Decimal, DivisionByZero, Inexact, InvalidOperation, Overflow

from handbill.base.errors import Fault, nearest
from handbill.base.frozen import dataclass

_BY_MINOR_UNITS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    2: "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE"
    " CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD"
    " HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK"
    " MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD"
    " RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH"
    " USD USN UYU UZS VED VES WST XAD XCD XCG YER ZAR ZMW ZWG",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
MINOR_UNITS: dict[str, int] = {
    code: digits for digits, codes in _BY_MINOR_UNITS.items() for code in codes.split()
}
"""Decimals of each active currency; codes without a minor unit (XAU, XDR, XXX …) are left out."""

_MOST_WHOLE_DIGITS = 15
_MOST_DECIMALS = 12
# Both limits together stay far below 60 digits: sums never round, and a slip would raise instead.
_EXACT = Context(prec=60, traps=[DivisionByZero, Inexact, InvalidOperation, Overflow])
_ROUNDING = Context(prec=60, traps=[DivisionByZero, InvalidOperation, Overflow])
_PRICE = re.compile(r"(?:0|[1-9][0-9]*)(?:\.[0-9]+)?")


@dataclass(frozen=True, slots=True)
class Money:
    """An amount of one currency.

    `amount` may hold more decimals than the currency has (a price per 100 g); `rounded` drops them.
    Amounts of one currency compare and subtract; mixing currencies raises `Fault`, for no rate is known.
    """

    amount: Decimal
    currency: str

    def __post_init__(self) -> None:
        if not isinstance(self.amount, Decimal):
            raise TypeError(f"money is a Decimal, not {type(self.amount).__name__}")
        if not self.amount.is_finite():
            raise Fault(f"{self.amount} is not an amount", expected="a number such as 9.90")
        if self.amount.adjusted() >= _MOST_WHOLE_DIGITS:
            raise Fault(
                "the amount is too large", expected=f"at most {_MOST_WHOLE_DIGITS} digits before the point"
            )
        exponent = self.amount.as_tuple().exponent
        if isinstance(exponent, int) and exponent < -_MOST_DECIMALS:
            raise Fault("the amount has too many decimals", expected=f"at most {_MOST_DECIMALS}")
        minor_units(self.currency)

    def __str__(self) -> str:
        return f"{self.currency} {self.amount:f}"

    def __lt__(self, other: Money) -> bool:
        return self.amount < self._like(other)

    def __le__(self, other: Money) -> bool:
        return self.amount <= self._like(other)

    def __gt__(self, other: Money) -> bool:
        return self.amount > self._like(other)

    def __ge__(self, other: Money) -> bool:
        return self.amount >= self._like(other)

    def __sub__(self, other: Money) -> Money:
        return Money(_EXACT.subtract(self.amount, self._like(other)), self.currency)

    def rounded(self, rounding: str = ROUND_HALF_UP) -> Money:
        """The amount with exactly the currency's ISO 4217 decimals; `rounding` is one of decimal's modes."""
        unit = Decimal(1).scaleb(-minor_units(self.currency))
        return Money(self.amount.quantize(unit, rounding=rounding, context=_ROUNDING), self.currency)

    def _like(self, other: Money) -> Decimal:
        if other.currency != self.currency:
            raise Fault(f"{self} and {other} are in two currencies", expected="one currency")
        return other.amount


def minor_units(currency: str) -> int:
    """Decimals of `currency` in ISO 4217 list one: 0 for JPY, 2 for EUR, 3 for KWD, 4 for CLF.

    Raises `Fault` for a code that is not active there or has no minor unit.
    """
    try:
        return MINOR_UNITS[currency]
    except KeyError:
        raise Fault(
            f'"{currency}" is not a currency in use',
            expected="an ISO 4217 code",
            nearest=_nearest_code(currency),
        ) from None


def parse_money(text: str, currency: str) -> Money:
    """The price written in `text`, plain digits with a point: "45", "9.90", "9.90 EUR", "EUR 9.90".

    Raises `Fault` for anything a reader could take for another amount: separators of thousands, a decimal
    comma, signs, exponents, more decimals than the currency has, leading zeros, another currency's code.
    """
    if not isinstance(text, str):
        raise TypeError(f"a price is text, not {type(text).__name__}")
    digits = minor_units(currency)
    number = _without_code(text.strip(), currency)
    example = f"a price such as {Decimal(1290).scaleb(-digits) if digits else 1290}"
    if not _PRICE.fullmatch(number):
        raise Fault(f'"{text}" is not a price', expected=example, nearest=_meant(number, digits))
    whole, _, decimals = number.partition(".")
    if len(decimals) > digits:
        most = f"{digits} decimals" if digits else "no decimals"
        raise Fault(
            f'"{text}" has {len(decimals)} decimals, {currency} has {digits}',
            expected=f"{most}, and no separator of thousands",
        )
    if len(whole) > _MOST_WHOLE_DIGITS:
        raise Fault(
            "the price is too large", expected=f"at most {_MOST_WHOLE_DIGITS} digits before the point"
        )
    return Money(Decimal(number), currency)


def _without_code(text: str, currency: str) -> str:
    """`text` less a code that repeats `currency`."""
    words = text.split()
    if len(words) != 2:
        return text
    for code, number in (words, words[::-1]):
        if code in MINOR_UNITS:
            if code != currency:
                raise Fault(
                    f'"{text}" is in {code}, the prices here are in {currency}',
                    expected=f"{currency} or no code",
                )
            return number
    return text


def _meant(text: str, digits: int) -> str:
    """The plain spelling of a grouped or comma price, where there is only one way to read it."""
    if re.fullmatch(r"(?:0|[1-9][0-9]*),[0-9]{1,2}", text) and digits == 2:
        return text.replace(",", ".")
    if not re.fullmatch(r"[1-9][0-9]{0,2}(?:[,.' \u00a0\u2019\u202f][0-9]{3})+(?:[.,][0-9]+)?", text):
        return ""
    last = max(text.rfind("."), text.rfind(","))
    ending = text[last + 1 :]
    marks = {mark for mark in text if not mark.isdigit()}
    if last < 0 or len(ending) == 3 or len(ending) > digits:  # the last mark groups too
        return re.sub(r"[^0-9]", "", text) if len(marks) == 1 and digits != 3 else ""
    return re.sub(r"[^0-9]", "", text[:last]) + "." + ending


def _nearest_code(word: str) -> str:
    upper = word.strip().upper()
    if upper in MINOR_UNITS:
        return upper
    swapped = [code for code in MINOR_UNITS if sorted(code) == sorted(upper)]
    return swapped[0] if len(swapped) == 1 else nearest(upper, MINOR_UNITS)
