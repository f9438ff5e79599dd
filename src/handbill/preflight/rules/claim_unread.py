"""Claims that were not checked."""

from collections.abc import Iterator

from handbill.preflight.claims import found
from handbill.preflight.contract import NOTE, Hit, Rule, head
from handbill.preflight.specimen import Specimen
from handbill.truth.phrases import KNOWN


def check(mail: Specimen) -> Iterator[Hit]:
    """What looks like a claim and is held against nothing."""
    yield from found(mail, "unread")
    own = mail.mail.shop.brand.truth.phrases
    languages = [mail.mail.language, *(part.spoken.language for part in mail.parts)]
    for language in dict.fromkeys(languages):
        primary = language.partition("-")[0]
        if primary not in KNOWN and primary not in own and language not in own:
            message = f"in {language} no words of claims are known, so its numbers were hardly checked"
            yield Hit(message, head("language"))


RULE = Rule(
    slug="claim-unread",
    group="truth",
    severity=NOTE,
    needs=frozenset({"source", "facts"}),
    about="Nothing in the mail looks like a claim that was not checked.",
    why="What is not checked is said, so that a person checks it: shares, ratings, numbers of reviews, "
    "free extras, prices of no product, dates of other things than the offer. In languages other than "
    "English and German only what is said with a sign, a minus or the shop's own `truth: phrases:` is "
    "understood. Words of the catalogue and of customers are left.",
    source="common practice",
    remedy="Check it by hand, and keep what bears it out.",
    check=check,
)
