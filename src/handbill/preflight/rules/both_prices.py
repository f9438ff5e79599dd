"""A sale whose products do not show what they were."""

from collections.abc import Iterator
from html import unescape

from handbill.preflight.contract import NOTE, Hit, Rule, section
from handbill.preflight.products import shown
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Products of a sale that have no earlier price, or whose section leaves it out."""
    offer = mail.mail.campaign.offer
    if offer is None or offer.kind != "markdown":
        return
    for part, products in shown(mail):
        for way, one in products:
            if one.was is None or one.was.plain not in unescape(part.html):
                yield Hit(f"{one.name.plain} is in a sale and shows no earlier price", section(part.id, *way))


RULE = Rule(
    slug="both-prices",
    group="practice",
    severity=NOTE,
    needs=frozenset({"facts", "html"}),
    about="In a sale each product shows what it was and what it is.",
    why="A reader sees at a glance what is saved. The earlier price is a matter of law: see the rules of "
    "truth.",
    source="common practice",
    remedy="Fill the catalogue's `was`, show it, or leave the product out of the sale.",
    check=check,
    arm="old-price-beside-new",
)
