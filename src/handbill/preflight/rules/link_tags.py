"""Link tags that are missing or doubled."""

from collections import Counter
from collections.abc import Iterator
from urllib.parse import parse_qsl, urlsplit

from handbill.preflight.contract import WARNING, Hit, Rule, span
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """A query with one name twice, and links to the shop that lack a tag."""
    tags = list(mail.mail.shop.brand.link_tags)
    site = urlsplit(mail.mail.shop.site).hostname
    for link in mail.page.links:
        parts = urlsplit(link.href)
        if parts.scheme not in ("http", "https") or link.href in mail.system_links:
            continue
        names = Counter(name for name, _value in parse_qsl(parts.query, keep_blank_values=True))
        where = span(link.element, link.name or link.href)
        twice = [name for name, count in names.items() if count > 1 and not name.endswith("[]")]
        if twice:
            yield Hit(f"“{link.name}” says {' and '.join(twice)} twice: {link.href}", where)
        lacking = [name for name in tags if name not in names] if parts.hostname == site else []
        if lacking:
            yield Hit(f"“{link.name}” lacks the tag {' and '.join(lacking)}: {link.href}", where)


RULE = Rule(
    slug="link-tags",
    group="links",
    severity=WARNING,
    needs=frozenset({"html"}),
    about="Every link to the shop carries the shop's tags, once.",
    why="A click without its tag is not counted, and what a shop does with a doubled one is its own affair.",
    source="common practice; which of two equal names counts, no standard says",
    remedy="Leave the tags to `link_tags:` in brand.yaml, and write the address without them.",
    check=check,
)
