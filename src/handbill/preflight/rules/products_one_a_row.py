"""Products side by side."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, section
from handbill.preflight.products import shown
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Blocks that set several products in one row on a phone."""
    for part, products in shown(mail):
        if part.spoken.block == "product-strip" and len(products) > 1:
            yield Hit(f"{len(products)} products share one row", section(part.id, "products"))


RULE = Rule(
    slug="products-one-a-row",
    group="practice",
    severity=NOTE,
    needs=frozenset({"facts"}),
    about="Products stand one a row.",
    why="Side by side on a phone, pictures and words become small, and buttons hard to tell apart.",
    source="common practice",
    remedy="Use the block product-stack.",
    check=check,
    arm="one-product-a-row",
)
