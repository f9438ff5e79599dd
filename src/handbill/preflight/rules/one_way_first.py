"""How many ways lead out before the first button."""

from collections.abc import Iterator
from urllib.parse import urlsplit

from handbill.preflight.contract import NOTE, Hit, Rule, span
from handbill.preflight.rules.link_same_words import untagged
from handbill.preflight.specimen import Specimen

MOST = 1  # beside the shop's own front page, where the logo leads


def check(mail: Specimen) -> Iterator[Hit]:
    """Places that links lead to before the first button, other than where it leads itself."""
    main = mail.readings.main
    if main is None:
        return
    first = main.link
    tags = frozenset(mail.mail.shop.brand.link_tags)
    aim = untagged(first.address, tags)
    before = [link for link in mail.page.links if link.element.start < first.element.start]
    others = dict.fromkeys(
        untagged(link.href, tags)
        for link in before
        if link.href not in mail.system_links and urlsplit(link.href).path.strip("/")
    )
    ways = [one for one in others if one != aim]
    if len(ways) > MOST:
        message = f"{len(ways)} other places can be reached before the first button, “{first.text}”"
        yield Hit(message, span(first.element, first.text))


RULE = Rule(
    slug="one-way-first",
    group="practice",
    severity=NOTE,
    needs=frozenset({"html", "layout"}),
    about="Up to the first button there is one clear thing to do.",
    why="The time to choose grows with the number of choices.",
    source="common practice; Hick 1952 and Hyman 1953 for the time to choose",
    remedy="Move the other links below the first button.",
    check=check,
    arm="navigation-at-foot",
)
