"""Old prices that no price history bears out."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, brand
from handbill.preflight.prices import reduced
from handbill.preflight.specimen import Specimen
from handbill.truth.history import DAYS


def check(mail: Specimen) -> Iterator[Hit]:
    """Products with an old price whose last thirty days before it are not known."""
    found = list(reduced(mail))
    if mail.history is None:
        if found:
            message = f"{found[0].row.name} shows an old price, and the shop has no price history"
            if len(found) > 1:
                message += f"; so do {len(found) - 1} more"
            yield Hit(message, found[0].where, (brand("brand"),))
        return
    for one in found:
        if one.prior is None:
            message = (
                f"{one.row.name} shows an old price, and the price history has none before its reduction"
            )
            yield Hit(message, one.where, (brand("truth", "prices"),))
        elif one.prior.covered < DAYS:
            message = (
                f"{one.row.name} shows an old price, and the price history tells only of the last "
                f"{one.prior.covered} days before {one.prior.start}"
            )
            yield Hit(message, one.where, (brand("truth", "prices"),))


RULE = Rule(
    slug="prior-price-unknown",
    group="truth",
    severity=WARNING,
    needs=frozenset({"facts"}),
    about="A price history tells what a product cost in the thirty days before it was reduced.",
    why="Without one nobody can say whether an old price may be shown.",
    source="Directive 98/6/EC art. 6a(1)–(2) (EU); 16 CFR 233.1(a) (US)",
    remedy="Keep a file of prices (sku, from, price) and name it in brand.yaml: truth: {prices: prices.csv}.",
    check=check,
)
