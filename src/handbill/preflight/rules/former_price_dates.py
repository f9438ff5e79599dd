"""Old prices without their dates."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, Where
from handbill.preflight.prices import reduced
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Products with an old price that do not say since when and until when it was asked."""
    for one in reduced(mail):
        if one.row.was_from is None or one.row.was_until is None:
            lacking = " and ".join(
                name for name in ("was_from", "was_until") if getattr(one.row, name) is None
            )
            message = f"{one.row.name} shows an old price without {lacking}"
            yield Hit(message, one.where, (Where(row=one.row.place),))


RULE = Rule(
    slug="former-price-dates",
    group="truth",
    severity=NOTE,
    needs=frozenset({"facts"}),
    about="The catalogue says since when and until when an old price was asked.",
    why="A former price must have been asked openly, in good faith, for a reasonably substantial time. "
    "Whether it was, no file can tell.",
    source="16 CFR 233.1(a) (US)",
    remedy="Fill the columns `was_from` and `was_until`.",
    check=check,
)
