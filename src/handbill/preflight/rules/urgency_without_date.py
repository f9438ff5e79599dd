"""Urgency that nothing bears out."""

import re
from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, head, section
from handbill.preflight.specimen import Specimen

# Phrases that say an offer is limited in time, by language.
PHRASES = {
    "en": r"(?:last|final) (?:chance|call|days?|hours?)|(?:today|tonight|this week(?:end)?) only|hurry"
    r"|ends? (?:soon|today|tonight|tomorrow|at midnight|this week)|act (?:now|fast)|limited[- ]time"
    r"|(?:only|just) (?:today|tonight|\d+ (?:days?|hours?) left)|before it[’']?s (?:gone|too late)"
    r"|running out of time|don[’']t miss (?:out|it)|expir(?:es|ing) soon",
    "de": r"letzte[nr]? (?:chance|tage?|stunden?|gelegenheit)|nur (?:noch )?(?:heute|\d+ (?:tage|stunden)"
    r"|(?:für )?kurze zeit)|endet (?:bald|heute|morgen|um mitternacht)|schnell sein|beeil(?:en|t|)"
    r"|zeitlich begrenzt|läuft (?:bald )?(?:ab|aus)",
}  # fmt: skip
_HURRY = {language: re.compile(rf"(?i)\b(?:{phrase})\b") for language, phrase in PHRASES.items()}

_NOT = re.compile(r"(?i)\b(?:no|not|never|without|kein(?:e|en)?|nicht|ohne)\s+$")


def urgent(text: str, language: str) -> str:
    """The words in `text` that press for time, in the mail's language; “no hurry” does not."""
    pattern = _HURRY.get(language.partition("-")[0])
    for found in pattern.finditer(text) if pattern else ():
        if not _NOT.search(text[: found.start()]):
            return found[0]
    return ""


def check(mail: Specimen) -> Iterator[Hit]:
    """Pressing words in a mail whose offer has no end."""
    offer = mail.mail.campaign.offer
    if offer is not None and offer.ends is not None:
        return
    because = "the campaign has no offer" if offer is None else "the offer has no `ends:`"
    for name, text in (("subject", mail.subject), ("preheader", mail.preheader)):
        if words := urgent(text, mail.mail.language):
            yield Hit(f"“{words}” presses for time, but {because}", head(name))
    for part in mail.parts:
        for way, _filled, text in part.texts():
            if words := urgent(text, mail.mail.language):
                where = section(part.id, *way, near=text)
                yield Hit(f"“{words}” presses for time, but {because}", where)


RULE = Rule(
    slug="urgency-without-date",
    group="copy",
    severity=WARNING,
    needs=frozenset({"source", "facts"}),
    about="What presses for time names when it ends.",
    why="An offer said to be limited must be limited: a false deadline misleads, and is unlawful in many "
    "places. Looked for in English and German; other languages are not.",
    source="16 CFR 233.5 (US); Directive 2005/29/EC Annex I no. 7 (EU, from memory)",
    remedy="Give the offer its `ends:` and name it: ${offer.ends:date}; or leave the pressing out.",
    check=check,
)
