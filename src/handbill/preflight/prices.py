"""Old prices against the shop's price history. Enters: a specimen; leaves: prior prices of products."""

from __future__ import annotations

from collections.abc import Iterator

from handbill.base.frozen import dataclass
from handbill.catalogue.rows import ProductRow
from handbill.preflight.contract import Where, section
from handbill.preflight.products import shown
from handbill.preflight.specimen import Specimen
from handbill.truth.history import Prior, prior, reduced_on


@dataclass(frozen=True, slots=True)
class Reduced:
    """A product that shows an old price; `prior` is None where the history does not tell of it."""

    where: Where
    row: ProductRow
    prior: Prior | None


def reduced(mail: Specimen) -> Iterator[Reduced]:
    """Every product shown with an old price, once.

    The reduction begins on the history's first day at the price now, else with the offer, else when the mail
    is sent.
    """
    campaign, history = mail.mail.campaign, mail.history
    products = mail.mail.shop.products
    seen = set()
    for part, items in shown(mail):
        for way, item in items:
            row = products.get(item.sku) if products is not None else None
            if row is None or row.was is None or row.sku in seen:
                continue
            seen.add(row.sku)
            prices = history.get(row.sku, ()) if history is not None else ()
            send = campaign.send.date()
            start = reduced_on(prices, row.price, send)
            if start is None:
                offer = campaign.offer
                start = offer.starts.date() if offer is not None and offer.starts is not None else send
            yield Reduced(section(part.id, *way), row, prior(prices, start))
