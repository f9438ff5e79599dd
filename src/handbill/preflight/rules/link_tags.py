"""Link tags that are missing or doubled."""

from collections import Counter
from collections.abc import Iterator
from urllib.parse import parse_qsl, urlsplit

from handbill.preflight.contract import WARNING, Hit, Rule
from handbill.preflight.part import Part


def each(part: Part) -> Iterator[Hit]:
    """A query with one name twice, and links to the shop that lack a tag."""
    tags = list(part.mail.shop.brand.link_tags)
    site = urlsplit(part.mail.shop.site).hostname
    for link in part.page.links:
        address = urlsplit(link.href)
        if address.scheme not in ("http", "https") or link.href in part.system_links:
            continue
        names = Counter(name for name, _value in parse_qsl(address.query, keep_blank_values=True))
        where = part.at(link.name or link.href)
        twice = [name for name, count in names.items() if count > 1 and not name.endswith("[]")]
        if twice:
            yield Hit(f"“{link.name}” says {' and '.join(twice)} twice: {link.href}", where)
        lacking = [name for name in tags if name not in names] if address.hostname == site else []
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
    each=each,
)
