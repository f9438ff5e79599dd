"""HTML that a webmail cuts off."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule, workspace
from handbill.preflight.specimen import Specimen

KB = 1024


def check(mail: Specimen) -> Iterator[Hit]:
    """More HTML than the budget; it says which sections weigh most."""
    size = len("".join(mail.rendered.html).encode())
    most = mail.workspace.budgets.html_kb * KB
    if size > most:
        heavy = sorted(mail.parts, key=lambda part: -len(part.piece.html.encode()))[:3]
        named = ", ".join(f"{part.id} {len(part.piece.html.encode()) / KB:.1f}" for part in heavy)
        yield Hit(
            f"the HTML has {size / KB:.1f} KB, more than {most // KB}; the most is in {named}",
            workspace("budgets", "html_kb"),
        )


RULE = Rule(
    slug="clip",
    group="readers",
    severity=ERROR,
    needs=frozenset({"source"}),
    about="The HTML is small enough that no reader cuts it off.",
    why="One large webmail shows about 102 KB of HTML and hides the rest behind a link, the unsubscribe "
    "first of all. The size counts before links are rewritten for counting clicks, which adds to it.",
    source="common practice; the limit is `budgets: html_kb` in handbill.yaml",
    remedy="Take a section out, or show fewer products.",
    check=check,
)
