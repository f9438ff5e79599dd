"""Old prices above the lowest of the thirty days before."""

from collections.abc import Iterator
from fractions import Fraction

from handbill.preflight.contract import ERROR, Hit, Rule, Where
from handbill.preflight.prices import reduced
from handbill.preflight.specimen import Specimen
from handbill.truth.history import DAYS


def check(mail: Specimen) -> Iterator[Hit]:
    """Products whose old price is not the lowest of the price history."""
    for one in reduced(mail):
        was, found = one.row.was, one.prior
        if found is None or was is None or was <= found.lowest.price:
            continue
        low = found.lowest
        message = (
            f"{one.row.name} shows an old price of {was}, but cost {low.price} in the {DAYS} days before "
            f"{found.start}"
        )
        if one.row.price < low.price:
            true = int((1 - Fraction(one.row.price.amount) / Fraction(low.price.amount)) * 100)
            remedy = f"Set its `was` to {low.price.amount}: it is then {true} % off."
        else:
            remedy = "Take its `was` out: measured by that price it is not reduced."
        yield Hit(message, one.where, (Where(row=one.row.place), Where(row=low.place)), remedy)


RULE = Rule(
    slug="prior-price",
    group="truth",
    severity=ERROR,
    needs=frozenset({"facts"}),
    about="An old price is the lowest that was asked in the thirty days before the reduction.",
    why="In the EU a reduction names the lowest price of at least thirty days before it, and its percent "
    "is worked out from that. Member states may let perishables, new goods and reductions in steps off: "
    "those are not told apart here.",
    source="Directive 98/6/EC art. 6a(1)–(5); CJEU C-330/23 (26 September 2024)",
    remedy="Correct the catalogue's `was` by the price history.",
    check=check,
)
