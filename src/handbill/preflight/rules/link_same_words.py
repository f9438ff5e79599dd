"""One text that leads to two places."""

from collections.abc import Iterator
from urllib.parse import parse_qsl, urlencode, urlsplit, urlunsplit

from handbill.preflight.contract import WARNING, Hit, Rule, span
from handbill.preflight.page import Link
from handbill.preflight.specimen import Specimen


def untagged(href: str, tags: frozenset[str]) -> str:
    """An address without the shop's link tags, since they differ from section to section."""
    parts = urlsplit(href)
    query = [(name, value) for name, value in parse_qsl(parts.query, True) if name not in tags]
    return urlunsplit(parts._replace(query=urlencode(query), fragment=parts.fragment)).rstrip("/")


def check(mail: Specimen) -> Iterator[Hit]:
    """Links with the same name and different addresses."""
    tags = frozenset(mail.mail.shop.brand.link_tags)
    first: dict[str, Link] = {}
    for link in mail.page.links:
        name = link.name.casefold()
        if not name or _is_picture(link):
            continue
        before = first.setdefault(name, link)
        if untagged(before.href, tags) != untagged(link.href, tags):
            here, there = untagged(link.href, tags), untagged(before.href, tags)
            message = f"“{link.name}” leads to {here}, and before to {there}"
            yield Hit(message, span(link.element, link.name), (span(before.element, before.name),))


def _is_picture(link: Link) -> bool:
    return any(True for _one in link.element.iter("img"))


RULE = Rule(
    slug="link-same-words",
    group="links",
    severity=WARNING,
    needs=frozenset({"html"}),
    about="Links that say the same lead to the same place.",
    why="A screen reader lists links by their words alone: three links “Shop now” to three pages cannot "
    "be told apart there, and neither can they in a report of clicks.",
    source="WCAG 2.2 SC 2.4.4 (level A, where nothing around the link tells), SC 2.4.9 (level AAA)",
    remedy='Name the thing: `label: "Choose ${product.name}"`.',
    check=check,
)
