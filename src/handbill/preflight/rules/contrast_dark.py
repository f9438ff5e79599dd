"""Contrast of text under the mail's own dark rules."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule
from handbill.preflight.contrasts import faint
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Every text as a reader shows it that follows the mail's dark rules."""
    yield from faint(mail, mail.page.views("dark"), how=" on dark screens")


RULE = Rule(
    slug="contrast-dark",
    group="access",
    severity=ERROR,
    needs=frozenset({"html"}),
    about="Text stands out from its ground on dark screens too, where readers follow the mail's rules.",
    why="A dark scheme is a second set of colours, and has to be read like the first.",
    source="WCAG 2.2 SC 1.4.3 (level AA); Media Queries 5, prefers-color-scheme",
    remedy="Change the tone's `dark:` colours in brand.yaml.",
    check=check,
)
