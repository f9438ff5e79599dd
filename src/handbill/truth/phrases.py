"""Words that make a claim of a number, or are one. Enters: a language, the shop's list; leaves: a pattern.

English and German are known here (common practice); a shop adds its own words for these and other languages.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

#: What words can mean, and where they stand: before a number, after it, or by themselves.
MEANINGS = {
    "percent": "stands for the percent sign",
    "off": "after a percent or an amount: that much is taken off",
    "save": "before a percent or an amount: that much is saved",
    "up_to": "before a number: at most that",
    "from": "before a price: at least that",
    "half": "by themselves: half the price",
    "free": "by themselves: for nothing",
    "ends": "before a date: the offer ends then",
    "starts": "before a date: the offer starts then",
    "today": "by themselves: the offer ends on the day the mail is sent",
    "tomorrow": "by themselves: the offer ends the day after",
    "hours": "by themselves: the offer ends within a day",
    "days": "by themselves: the offer ends within a week",
    "left": "around {n}: that many are in stock",
    "code": "before a code",
    "elsewhere": "by themselves: a price is compared with one the shop may never have asked",
    "rated": "after a number: reviews or buyers",
}

_LESS = r"(?=\s*(?:$|[.,;:!?)–-]|{next}))"
_WORDS: dict[str, dict[str, tuple[str, ...]]] = {
    "en": {
        "percent": ("per ?cent", "percent"),
        "off": (
            "off",
            "discount",
            "reductions?",
            "cheaper",
            "saved",
            "(?:less|lower)" + _LESS.format(next=r"(?:for|on|than|until|today|this|if|with)\b"),
        ),
        "save": (
            "sav(?:e|es|ing|ings)(?: of)?",
            "discount of",
            "reduc(?:ed|tion)(?: by| of)",
            "cut by",
            "marked down(?: by)?",
        ),
        "up_to": ("up to", "as much as"),
        "from": ("from", "starting (?:at|from)", "as low as", "prices from"),
        "half": ("half[- ]price", "half the price", "half off", "at half"),
        "free": (
            "free (?:delivery|shipping|postage|returns?|gifts?|samples?|trials?)",
            "(?:for|are|is|it[’']?s) free",
            "free of charge",
            "at no (?:extra )?cost",
        ),
        "ends": (
            "ends?(?: on)?(?: at)?",
            "until",
            "till?",
            "valid (?:to|until|through)",
            "expir(?:es|ing)(?: on)?",
            "closes(?: on)?",
            "(?:order|buy|redeem|yours) by",
            "through",
            "last day is",
        ),
        "starts": ("starts?(?: on)?", "begins?(?: on)?", "valid from", "opens(?: on)?"),
        "today": ("(?:ends|only|just|last day) (?:today|tonight)", "(?:today|tonight) only"),
        "tomorrow": ("ends tomorrow", "until tomorrow", "tomorrow only"),
        "hours": ("(?:last|final) hours?", "only hours left"),
        "days": ("(?:last|final) days?", "(?:last|final) chance"),
        "left": (
            r"{n}(?: more)? (?:pieces?|items?) (?:are |is )?(?:left|still)",
            r"(?:only|just) {n} (?:left|remaining|in stock|to go)",
            r"(?:the )?last {n}(?= (?:pieces|left|ones))",
        ),
        "code": ("(?:use |with |enter |your )?(?:the )?(?:code|voucher|coupon)",),
        "elsewhere": (
            "formerly (?:sold )?(?:at|for)",
            "normally sold (?:at|for)",
            "regular(?:ly)? price[d]?",
            "R\\.?R\\.?P\\.?",
            "list price",
            "recommended (?:retail )?price",
            "elsewhere",
            "than (?:in )?(?:other|the) shops?",
            "compare(?:d)? at",
            "worth",
        ),
        "rated": ("reviews?", "ratings?", "customers?", "readers?", "buyers?", "(?:out )?of (?:5|five)"),
    },
    "de": {
        "percent": ("prozent", "v\\. ?h\\."),
        "off": (
            "(?:preis)?rabatt",
            "nachlass",
            "preisnachlass",
            "ersparnis",
            "günstiger",
            "billiger",
            "reduziert",
            "gespart",
            "sparen",
            "reduzierung",
            "auf (?:alles|alle|das ganze)",
            "weniger" + _LESS.format(next=r"(?:für|auf|bis|als|bei|heute)\b"),
        ),
        "save": ("spar(?:e|en|t|st)?(?: sie| du)?", "rabatt von", "um", "nachlass von", "ersparnis von"),
        "up_to": ("bis zu", "bis"),
        "from": ("(?:schon )?ab", "preise ab"),
        "half": ("(?:zum |für den )?halbe[nrm]? preis", "halbpreis", "zur hälfte"),
        "free": ("gratis\\w*", "kostenlos\\w*", "kostenfrei\\w*", "umsonst", "geschenkt"),
        "ends": (
            "endet(?: am)?",
            "bis(?: zum| einschließlich)?",
            "gültig bis(?: zum)?",
            "läuft am",
            "läuft bis(?: zum)?",
            "nur noch bis(?: zum)?",
            "letzter tag(?: ist)?(?: der)?",
        ),
        "starts": ("startet(?: am)?", "beginnt(?: am)?", "gültig ab(?: dem)?", "ab dem", "öffnet(?: am)?"),
        "today": ("nur (?:noch )?heute", "endet heute", "heute letzter tag"),
        "tomorrow": ("endet morgen", "nur (?:noch )?bis morgen"),
        "hours": ("letzten? stunden?",),
        "days": ("letzten? tage?", "letzte (?:chance|gelegenheit)"),
        "left": (
            r"nur (?:noch )?{n}(?: stück| mal| teile)?(?: übrig| da| auf lager| verfügbar)?"
            r"(?! ?(?:tage?|stunden?|%|prozent|€|euro))",
            r"{n} (?:weitere )?(?:stück|teile) (?:sind |ist )?noch",
        ),
        "code": ("(?:mit |dein |ihr )?(?:dem )?(?:code|gutschein(?:code)?|rabattcode)",),
        "elsewhere": (
            "statt früher",
            "früher(?:er)? (?:preis|verkauft)",
            "normalpreis",
            "regulärer preis",
            "u\\.?v\\.?p\\.?",
            "unverbindliche preisempfehlung",
            "listenpreis",
            "anderswo",
            "im handel",
            "im wert von",
        ),
        "rated": ("bewertungen?", "rezensionen?", "kund(?:en|innen)", "käufer(?:innen)?", "von (?:5|fünf)"),
    },
}
KNOWN = tuple(_WORDS)

# One to nineteen, then the tens from twenty.
_NUMBERS = {
    "en": (
        "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen"
        " seventeen eighteen nineteen",
        "twenty thirty forty fifty sixty seventy eighty ninety",
    ),
    "de": (
        "ein zwei drei vier fünf sechs sieben acht neun zehn elf zwölf dreizehn vierzehn fünfzehn sechzehn"
        " siebzehn achtzehn neunzehn",
        "zwanzig dreißig vierzig fünfzig sechzig siebzig achtzig neunzig",
    ),
}


def words_of(language: str, meaning: str, own: Mapping[str, Mapping[Any, Sequence[str]]]) -> str:
    """A pattern for all words of `meaning` in a language, without word bounds; empty for none.

    The shop's words are taken as they stand, never as patterns.
    """
    primary = language.partition("-")[0]
    known = _WORDS.get(primary, {}).get(meaning, ())
    added = [word for tag in dict.fromkeys((primary, language)) for word in own.get(tag, {}).get(meaning, ())]
    return "|".join([*sorted(map(_escaped, added), key=len, reverse=True), *known])


def _escaped(word: str) -> str:
    return re.escape(word.strip()).replace(r"\{n\}", "{n}")


@lru_cache(maxsize=8)
def spelled(language: str) -> Mapping[str, int]:
    """Numbers 1 to 100 in words, lower case."""
    primary = language.partition("-")[0]
    if primary not in _NUMBERS:
        return {}
    ones, tens = (written.split() for written in _NUMBERS[primary])
    made = {word: number for number, word in enumerate(ones, 1)}
    for number, ten in enumerate(tens, 2):
        made[ten] = 10 * number
        for unit, one in enumerate(ones[:9], 1):
            made.update(
                {f"{ten}-{one}": 10 * number + unit, f"{ten} {one}": 10 * number + unit}
                if primary == "en"
                else {f"{one}und{ten}": 10 * number + unit}
            )
    hundred = ("hundred", "a hundred", "one hundred") if primary == "en" else ("hundert", "einhundert")
    return made | dict.fromkeys(hundred, 100)
