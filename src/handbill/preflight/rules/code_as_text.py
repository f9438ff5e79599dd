"""A code that can be copied."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, head, section
from handbill.preflight.specimen import Specimen

LATEST = 1 / 3  # of the sections


def check(mail: Specimen) -> Iterator[Hit]:
    """A code that no text shows, or that shows late."""
    offer = mail.mail.campaign.offer
    if offer is None or offer.kind != "code":
        return
    code = offer.code.casefold()
    holding = (at for at, part in enumerate(mail.parts) if code in part.text.casefold())
    first = next(holding, None)
    if first is None:
        yield Hit(f"the code {offer.code} stands nowhere in the mail", head("offer", "code"))
    elif first > max(1, len(mail.parts) * LATEST):
        message = f"the code {offer.code} first stands in section {first + 1} of {len(mail.parts)}"
        yield Hit(message, section(mail.parts[first].id))


RULE = Rule(
    slug="code-as-text",
    group="practice",
    severity=NOTE,
    needs=frozenset({"facts"}),
    about="A code stands near the top, as text that can be copied.",
    why="In a picture it cannot be copied, nor read out, nor seen while pictures are blocked.",
    source="common practice; for a code in a picture alone WCAG 2.2 SC 1.4.5 (level AA)",
    remedy="Put the block offer-code second, after the masthead.",
    check=check,
    arm="code-near-top",
)
