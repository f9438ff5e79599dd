"""The products that a mail shows. Enters: a specimen; leaves: each section's rows, with the ways to them."""

from __future__ import annotations

from collections.abc import Iterator

from handbill.preflight.contract import Way
from handbill.preflight.part import Part
from handbill.preflight.specimen import Specimen
from handbill.resolve.values import Fields


def shown(mail: Specimen) -> Iterator[tuple[Part, list[tuple[Way, Fields]]]]:
    """Every section that shows products: for each the way to it and its fields (`name`, `price`, …)."""
    for part in mail.parts:
        found = [
            (way, value)
            for way, value in part.values()
            if isinstance(value, Fields) and hasattr(value, "sku") and hasattr(value, "price")
        ]
        if found:
            yield part, found
