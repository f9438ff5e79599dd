"""The reviews that a mail quotes. Enters: a specimen; leaves: each with its row and the way to it."""

from __future__ import annotations

from collections.abc import Iterator

from handbill.catalogue.rows import ReviewRow
from handbill.preflight.contract import Way
from handbill.preflight.part import Part
from handbill.preflight.specimen import Specimen
from handbill.resolve.values import Fields


def quoted(mail: Specimen) -> Iterator[tuple[Part, Way, Fields, ReviewRow]]:
    """Every review shown: its section, the way to it, its fields and the shop's row."""
    for part in mail.parts:
        rows = part.mail.shop.reviews
        for way, value in part.values():
            if rows is not None and isinstance(value, Fields) and hasattr(value, "quoted"):
                row = rows.get(value.id)
                if row is not None:
                    yield part, way, value, row
