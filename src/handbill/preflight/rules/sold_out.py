"""Products that are sold out."""

from collections.abc import Iterator

from handbill.models.catalogue import GONE
from handbill.preflight.contract import WARNING, Hit, Rule, Where, section
from handbill.preflight.products import shown
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Products whose stock is 0, or says so in words."""
    products = mail.mail.shop.products
    for part, items in shown(mail):
        for way, item in items:
            row = products.get(item.sku) if products is not None else None
            stock = row.stock.strip() if row is not None else ""
            if row is not None and (stock.casefold() in GONE or (stock.isdecimal() and int(stock) == 0)):
                message = f"{row.name} is sold out (stock: {stock})"
                yield Hit(message, section(part.id, *way), (Where(row=row.place),))


RULE = Rule(
    slug="sold-out",
    group="truth",
    severity=WARNING,
    needs=frozenset({"facts"}),
    about="No product shown is sold out.",
    why="A product that cannot be had sends readers away, and as a lure for others it is unlawful in many "
    "places.",
    source="Directive 2005/29/EC Annex I no. 5 (EU, from memory); 16 CFR 238 (US, from memory)",
    remedy="Show another product.",
    check=check,
)
