"""Reviews that are marked verified and do not say how."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, Where, section
from handbill.preflight.reviews import quoted
from handbill.preflight.specimen import Specimen

_SAYS_NOTHING = frozenset(
    ("yes", "y", "true", "1", "x", "ok", "verified", "verified buyer", "ja", "j", "wahr", "verifiziert")
)


def check(mail: Specimen) -> Iterator[Hit]:
    """A `verified` column that says yes where it should say how."""
    for part, way, _review, row in quoted(mail):
        if row.verified.strip().casefold() in _SAYS_NOTHING:
            message = f"the review {row.id} is marked verified, and “{row.verified.strip()}” does not say how"
            yield Hit(message, section(part.id, *way), (Where(row=row.place),))


RULE = Rule(
    slug="verified-how",
    group="truth",
    severity=WARNING,
    needs=frozenset({"facts"}),
    about="“Verified” says how a review was matched to a buyer.",
    why="A shop that calls reviews those of buyers must have checked it, and say how.",
    source="Directive 2005/29/EC Annex I no. 23b and art. 7(6) (EU, from memory)",
    remedy="Write how into the column: “matched to an order”; or leave it empty.",
    check=check,
)
