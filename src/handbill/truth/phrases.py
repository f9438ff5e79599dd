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
    "least": "before an amount: orders from that on",
    "offer": "anywhere: names the offer, so that a date beside it is the offer's",
    "elsewhere": "by themselves: a price is compared with one the shop may never have asked",
    "rated": "after a number: reviews or buyers",
}

_LESS = r"(?=\s*(?:$|[.,;:!?)–-]|{next}))"
_WORDS: dict[str, dict[str, tuple[str, ...]]] = {
    "en": {
        "percent": ("per ?cent", "percent"),
        "off": (
            "off(?! the (?:mark|record|coast|ground|grid))",
            "discount",
            "reductions?(?! (?:in|of)\\b)",
            "cheaper(?! to\\b)",
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
        "half": ("half[- ]price", "half the price(?! of\\b)", "half off"),
        "free": (
            "free (?:delivery|shipping|postage|returns?|gifts?|samples?|trials?)",
            "(?:for|are|is|it[’']?s) free(?! (?:to|of|from)\\b)",
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
            "last day(?: is)?",
            "(?:runs? out|is over|are over|finish(?:es)?)(?: on)?",
        ),
        "starts": ("starts?(?: on)?", "begins?(?: on)?", "valid from", "opens(?: on)?"),
        "today": (
            "(?:ends|last day(?: is)?) (?:today|tonight)",
            "(?:only|just) (?:today|tonight)(?=\\s*(?:$|[^\\s\\w]))",
            "(?:today|tonight) only",
        ),
        "tomorrow": ("ends tomorrow", "until tomorrow", "tomorrow only"),
        "hours": ("(?:last|final) hours?", "only hours left"),
        "days": ("(?:last|final) days?", "(?:last|final) chance"),
        "left": (
            r"{n}(?: more)? (?:pieces?|items?) (?:are |is )?(?:left|still)",
            r"(?:only|just) {n} (?:left|remaining|in stock|to go)",
            r"(?<!only )(?<!just ){n} in stock",
            r"(?:the )?last {n}(?= (?:pieces|left|ones))",
        ),
        "code": (
            r"(?:(?:use|with|enter|type|apply|by|quote|and|promo|offer|sale|discount|voucher|coupon|the|your|our|this)"
            r" )+(?:code|voucher|coupon)(?: is)?",
            r"(?:promo|discount|voucher|coupon)code",
            r"(?<![^\W_] )(?<![^\W_]-)(?:code|voucher|coupon)",
        ),
        "least": (
            "(?:orders?|baskets?|purchases?|spends?)(?: of)? (?:over|above|from|of|worth)",
            "(?:when |if )?(?:you )?spend(?:ing)?(?: over| at least)?",
            "minimum (?:order|spend|purchase)(?: is| of|:)?",
        ),
        "offer": (
            r"(?<!on )(?<!for )sales?",
            r"(?:the|this|that|our|your|an?|all|special|sale|winter|summer|spring|autumn) offers?",
            "offers? (?:is |are )?(?:valid|ends?|runs?|holds?|good)",
            "discounts?",
            "reductions?",
            r"reduced(?! (?:opening|hours|service|timetable|mobility))",
            "prices?",
            r"(?<!dress )(?<!post )(?<!zip )(?<!area )(?<!source )(?<!qr )codes?",
            "vouchers?",
            "coupons?",
            "bargains?",
            "cheaper",
            "promotion",
            "half[- ]price",
            r"\d+ ?% off",
        ),
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
            "reduzierung(?! (?:der|des|von)\\b)",
            "auf (?:alles|alle|das ganze)",
            "weniger" + _LESS.format(next=r"(?:für|auf|bis|als|bei|heute)\b"),
        ),
        "save": (
            "spar(?:e|en|t|st)?(?: sie| du)?",
            "rabatt von",
            "nachlass von",
            "ersparnis von",
            "preise um",
        ),
        "up_to": ("bis zu", "bis"),
        "from": ("(?:schon )?ab", "preise ab"),
        "half": ("(?:zum |für den )?halbe[nrm]? preis", "halbpreis", "zur hälfte des preises"),
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
            r"nur (?:noch )?{n}(?: stück| mal| teile)?(?: übrig| da| auf lager| verfügbar)",
            r"nur noch {n} (?:stück|teile)",
            r"nur noch {n}(?=\s*(?:$|[!?;]|[.,](?!\d)))",
            r"{n} (?:weitere )?(?:stück|teile) (?:sind |ist )?noch",
            r"(?<!nur )(?<!noch ){n} auf lager",
        ),
        "code": (
            r"(?:(?:mit|dem|der|den|dein|deinem|deinen|ihr|ihrem|ihren|unser|unserem|und) )+"
            r"(?:code|gutschein(?:code)?|rabattcode|aktionscode)(?: lautet| ist)?",
            r"(?:gutschein|rabatt|aktions)code(?: lautet| ist)?",
            r"(?<![^\W_] )(?<![^\W_]-)(?:code|gutschein)",
        ),
        "least": (
            "(?:ab|über) (?:einem|einen) (?:mindest)?(?:bestell|einkaufs|waren)wert von",
            "mindest(?:bestell|einkaufs)wert(?: von| ist|:)?",
            "(?:bestellungen|einkäufe|einkauf|bestellung) (?:ab|über|von)",
        ),
        "offer": (
            "angebote?",
            "aktion(?:en)?",
            r"\w*rabatte?",
            r"preis(?:e|en)?",
            r"reduziert\w*(?! (?:öffnungszeiten|zeiten))",
            r"\w*gutschein\w*",
            r"(?:\w+)?codes?",
            "schlussverkauf",
            r"(?:\w+)?ausverkauf",
            r"(?:\w+-?)?sale",
            "nachlass",
            "ersparnis",
            "günstiger",
        ),
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
_ANYWHERE = {"off": ("off",)}  # written so in shops of many languages

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


# Words around a number. other: what is saved or cut beside prices. events: what has days of its own. lead:
# may stand before a date or price without naming anything. beside: right before the price of a product.
# follows: may stand right after a number that is a price or is off one. unit: after the price of a part.
_CONTEXT: dict[str, dict[str, str]] = {
    "en": {
        "other": (
            "energy|electricity|power|fuel|petrol|gas|water|heat|heating|bills?|emissions?|CO2|CO₂|"
            "carbon|plastics?|waste|packaging|weight|calories|sugar|salt|fat|noise|"
            "consumption|stress|a year|per year|a month|per month|annually|yearly"
        ),
        "events": (
            "exhibitions?|shows?|fairs?|festivals?|workshops?|courses?|classes|tours?|talks?|"
            "concerts?|museums?|gallery|galleries|tickets?|deliver(?:y|ies|ed|s)?|dispatch(?:ed|es)?|"
            "ships?|shipped|shipping|arrives?|post(?:ed)?|returns?|refunds?|exchange|guarantee|"
            "warranty|closed|open|opening|opens|holidays?|competition|entries|enter by|votes?|voting|"
            "survey|repairs?|season|term|harvest|applications?|apply by|subscriptions?|pre-?orders?|"
            "reviews?"
        ),
        "lead": (
            "and|but|so|then|or|it|this|that|all|of|everything|it all|only|just|now|still|today|here|"
            "there|prices?|starting|starts?|priced|sale|offer|yours|for|at|from|on|is|are|the|our|a|"
            "an|as|low|valid|hurry|in|shop|not|long|be|quick"
        ),
        "beside": (
            "now|only|just|costs?|was|were|price|at|instead of|yours for|it for|them for|then|from|rrp|or"
        ),
        "follows": (
            "off|on|at|with|today|tonight|until|till|now|when|if|in|for|this|these|all|every|"
            "everything|and|or|more|instead|rather|only|just|by|to|as|while|through|through|over|"
            "throughout|during|here|online|storewide|sitewide|was|were|before|from|plus|incl|"
            "including|with|each|is|are|discount|sale|your|our|the|selected|almost|nearly|across|"
            "right|inside|once|then|but|than|of"
        ),
        "groups": (
            "members?|students?|pupils|teachers?|pensioners|seniors?|staff|colleagues|friends|"
            "subscribers|refer|referrals?|newsletter"
        ),
        "sells": "(?<!on )(?<!for )sales?|discounts?",
        "denied": "no|not|never|without|nor|neither|don[’']t|doesn[’']t|isn[’']t|aren[’']t|won[’']t",
        "unit": r"per|an?|for (?:two|three|four|\d)|extra|on top|more|less",
    },
    "de": {
        "other": (
            "energie|strom|gas|wasser|wärme|heizkosten|heizung|kraftstoff|benzin|emissionen|CO2|CO₂|"
            "plastik|kunststoff|abfall|müll|verpackung|gewicht|zeit|platz|zucker|salz|fett|kalorien|"
            r"lärm|verbrauch|\w*verbrauch|energiekosten|stromkosten|im jahr|pro jahr|jährlich|"
            "im monat|pro monat|monatlich"
        ),
        "events": (
            "ausstellung(?:en)?|schau|messe|fest(?:ival)?|kurse?|workshops?|führung(?:en)?|konzerte?|"
            "museum|galerie|tickets?|karten|liefer(?:n|t|ung|bar)?|lieferung(?:en)?|versand|"
            "versendet|verschickt|zugestellt|zustellung|da ist|rückgabe|umtausch|garantie|"
            "geschlossen|geöffnet|geöffnet|öffnungszeiten|ferien|urlaub|gewinnspiel|teilnahme|"
            "abstimmung|umfrage|reparatur(?:en)?|saison|ernte|bewerbung(?:en)?|"
            "anmeld(?:en|ung|eschluss)|vorbestell(?:en|ung)|abo|bewertungen|offen"
        ),
        "lead": (
            "und|aber|doch|dann|oder|es|das|dies|dieses|alles|alle|sie|nur|noch|jetzt|heute|schon|"
            "hier|preise?|sale|aktion|angebot|für|ab|am|ist|sind|die|der|den|gilt|gültig|los|geht"
        ),
        "beside": "jetzt|nur|kostet|kosten|statt|war|vorher|preis|für|zu|ab|uvp|oder",
        "follows": (
            "auf|bei|mit|heute|bis|jetzt|nun|wenn|im|in|ins|beim|für|und|oder|mehr|statt|nur|vom|von|"
            "zu|zum|zur|an|am|als|während|über|online|war|vorher|inkl|inklusive|je|ist|sind|rabatt|"
            "nachlass|sale|sparen|gespart|reduziert|günstiger|billiger|weniger|alles|alle|fast|auch|"
            "einmalig|gesenkt|dein|ihr|den"
        ),
        "groups": (
            "mitglied(?:er)?|studierende|studenten|schüler(?:innen)?|lehrkräfte|senioren|rentner|"
            r"kolleg\w*|freund\w*|abonnent\w*|newsletter"
        ),
        "sells": r"(?:\w+-?)?sale|\w*schlussverkauf|\w*ausverkauf|\w*rabatte?|aktion",
        "denied": "kein(?:e|en|er|em)?|nicht|nie|niemals|ohne|weder",
        "unit": "je|pro|im (?:monat|jahr)|extra|zusätzlich|mehr|weniger|aufpreis|zuschlag",
    },
}


def context_of(language: str, kind: str) -> str:
    """A pattern for words around a number, without word bounds; empty for a language not known here."""
    return _CONTEXT.get(language.partition("-")[0], {}).get(kind, "")


def words_of(language: str, meaning: str, own: Mapping[str, Mapping[Any, Sequence[str]]]) -> str:
    """A pattern for all words of `meaning` in a language, without word bounds; empty for none.

    The shop's words are taken as they stand, never as patterns.
    """
    primary = language.partition("-")[0]
    known = _WORDS.get(primary, _ANYWHERE).get(meaning, ())
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
