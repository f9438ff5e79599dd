"""HTML that is nearly too large."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, workspace
from handbill.preflight.rules.clip import KB
from handbill.preflight.specimen import Specimen

SHARE = 90 / 102  # of the budget


def check(mail: Specimen) -> Iterator[Hit]:
    """HTML from nine tenths of the budget on."""
    size = len("".join(mail.rendered.html).encode())
    most = mail.workspace.budgets.html_kb * KB
    if most * SHARE < size <= most:
        message = f"the HTML has {size / KB:.1f} KB of {most // KB}"
        yield Hit(message, workspace("budgets", "html_kb"))


RULE = Rule(
    slug="clip-near",
    group="readers",
    severity=NOTE,
    needs=frozenset({"source"}),
    about="The HTML leaves room for what a sending program adds.",
    why="Links rewritten for counting clicks grow by some hundred bytes each.",
    source="common practice",
    remedy="Keep some twelve per cent of the budget free.",
    check=check,
)
