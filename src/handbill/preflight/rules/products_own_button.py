"""Products that are shown without a way to them."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, section
from handbill.preflight.products import shown
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Products without a button of their own, once in each section."""
    for part, products in shown(mail):
        bare = [(way, one) for way, one in products if one.button is None]
        if bare:
            names = ", ".join(one.name.plain for _way, one in bare[:3])
            more = f" and {len(bare) - 3} more" if len(bare) > 3 else ""
            yield Hit(f"{names}{more} have no button of their own", section(part.id, *bare[0][0]))


RULE = Rule(
    slug="products-own-button",
    group="practice",
    severity=NOTE,
    needs=frozenset({"facts"}),
    about="Each product has its own button.",
    why="A reader who likes one thing presses there, instead of looking for it in the shop.",
    source="common practice",
    remedy='Give the section `button: {label: "Choose ${product.name}"}`; each product inherits it.',
    check=check,
    arm="one-product-a-row",
)
