"""A way on for readers who reached the end."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, section
from handbill.preflight.products import shown
from handbill.preflight.rules.link_same_words import untagged
from handbill.preflight.specimen import Specimen
from handbill.resolve.text import Text


def check(mail: Specimen) -> Iterator[Hit]:
    """Mails with products, after which no button leads to anything else."""
    listed = [(part, products) for part, products in shown(mail) if len(products) > 1]
    if not listed:
        return
    tags = frozenset(mail.mail.shop.brand.link_tags)
    own = {untagged(one.link.plain_url, tags) for _part, products in listed for _way, one in products}
    last = max(mail.parts.index(part) for part, _products in listed)
    for part in mail.parts[last:]:
        for way, value in part.values():
            link = getattr(value, "link", None) if way[-1] == "button" else None
            if isinstance(link, Text) and untagged(link.plain_url, tags) not in own:
                return
    yield Hit("after the products no button leads to the rest", section(mail.parts[last].id))


RULE = Rule(
    slug="closing-button",
    group="practice",
    severity=NOTE,
    needs=frozenset({"facts"}),
    about="After the products a button leads to everything else.",
    why="Who looked at all of them and pressed none has shown interest, and finds nothing more to press.",
    source="common practice",
    remedy="End with the block closing: a few words and one button to the whole sale.",
    check=check,
    arm="closing-button",
)
