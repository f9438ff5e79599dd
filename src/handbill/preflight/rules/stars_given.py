"""Stars that a customer did not give."""

import re
from collections.abc import Iterator

from handbill.preflight.claims import typed_texts
from handbill.preflight.contract import ERROR, Hit, Rule, Where, section
from handbill.preflight.reviews import quoted
from handbill.preflight.specimen import Specimen

_TYPED = re.compile("[★⭐🌟]{2,}")
_SHOWN = re.compile("[★⭐][★⭐☆]*")


def check(mail: Specimen) -> Iterator[Hit]:
    """Stars in a section of reviews other than those given: typed, or shown by its block."""
    rows: dict[str, list[int]] = {}
    for part, way, review, row in quoted(mail):
        rows.setdefault(part.id, []).append(row.stars or 0)
        shown = _SHOWN.search(review.stars.plain) if review.stars is not None else None
        count = len(re.findall("[★⭐]", shown[0])) if shown else 0
        if count != (row.stars or 0):
            message = f"the review {row.id} gave {row.stars or 0} stars and shows {count}"
            yield Hit(message, section(part.id, *way), (Where(row=row.place),))
    for typed in typed_texts(mail):
        given = rows.get(typed.where.section)
        for found in _TYPED.finditer(typed.text) if given else ():
            if any(stars != len(found[0]) for stars in given or ()):
                few = min(given or [0])
                message = f"“{found[0]}” is typed over reviews of which one gave {few or 'no'} stars"
                yield Hit(message, typed.where)


RULE = Rule(
    slug="stars-given",
    group="truth",
    severity=ERROR,
    needs=frozenset({"source", "facts"}),
    about="The stars shown are the stars given.",
    why="A rating that nobody gave is an invented endorsement. Averages typed as a number are not "
    "checked, and claim-unread lists them.",
    source="16 CFR 465.2 (US); Directive 2005/29/EC Annex I no. 23c (EU, from memory)",
    remedy="Leave the stars to the block, which takes them from the shop's file.",
    check=check,
)
