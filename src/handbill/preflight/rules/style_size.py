"""Styles that a webmail drops."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, head
from handbill.preflight.specimen import Specimen
from handbill.render.shell import MAX_STYLE

NEAR = 0.95  # of the limit


def check(mail: Specimen) -> Iterator[Hit]:
    """Styles from nineteen twentieths of the limit on; over it, compile refuses."""
    size = mail.rendered.style_size
    if size > MAX_STYLE * NEAR:
        yield Hit(
            f"the styles have {size:,} characters; past {MAX_STYLE:,} a webmail drops all", head("stack")
        )


RULE = Rule(
    slug="style-size",
    group="readers",
    severity=WARNING,
    needs=frozenset({"source"}),
    about="The phone and dark rules are few enough that every reader keeps them.",
    why="One webmail drops every rule past 8,192 characters of style elements, and the mail's phone and "
    "dark layouts with them. The next tone or block in this mail may be the one.",
    source="common practice",
    remedy="Use fewer kinds of blocks and tones in one mail.",
    check=check,
)
