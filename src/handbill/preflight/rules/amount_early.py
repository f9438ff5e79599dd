"""How much is off, and where that stands."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, head, span
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """An offer's percent or amount that does not show at first on a phone."""
    amount, read = mail.amount, mail.readings
    if not amount:
        return
    if read.amount is None:
        yield Hit(f"{amount} off is not named in figures anywhere in the mail", head("offer"))
    elif read.amount.y > read.first_screen:
        message = f"{amount} first stands {read.amount.y:.0f} px down on a phone"
        where = span(read.amount.text.element, read.amount.text.text)
        yield Hit(f"{message}; {read.first_screen} px are taken to show at first", where)


RULE = Rule(
    slug="amount-early",
    group="practice",
    severity=NOTE,
    needs=frozenset({"facts", "layout"}),
    about="What is off stands near the top, in figures.",
    why="It is why the reader opened the mail.",
    source="common practice",
    remedy="Name it in the headline or above it: ${offer.best_percent}, ${offer.percent}.",
    check=check,
    arm="amount-near-top",
)
