"""Links before the offer."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, span
from handbill.preflight.specimen import Specimen

MOST = 1  # links in words before the first heading: one to read the mail in a browser


def check(mail: Specimen) -> Iterator[Hit]:
    """Links in words above the first heading."""
    first = next((one.element.start for one in mail.page.headings), None)
    if first is None:
        return
    above = [
        link
        for link in mail.page.links
        if link.element.start < first
        and not any(True for _ in link.element.iter("img"))
        and link.href not in mail.system_links
    ]
    if len(above) > MOST:
        names = ", ".join(f"“{link.name}”" for link in above)
        yield Hit(f"{names} stand before the first heading", span(above[0].element, above[0].name))


RULE = Rule(
    slug="navigation-at-foot",
    group="practice",
    severity=NOTE,
    needs=frozenset({"html"}),
    about="Navigation waits at the foot.",
    why="Each link before the offer is a way out before the reader has seen it.",
    source="common practice; the time to choose grows with the number of choices (Hick 1952, Hyman 1953)",
    remedy="Leave the masthead to the logo, and keep the links in the footer.",
    check=check,
    arm="navigation-at-foot",
)
