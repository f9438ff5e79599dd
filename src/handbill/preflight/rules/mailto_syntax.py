"""Addresses that open a new mail."""

import re
from collections.abc import Iterator
from urllib.parse import unquote

from handbill.preflight.contract import ERROR, Hit, Rule
from handbill.preflight.part import Part

# RFC 6068 section 2: what may stand unencoded in an address, a field's name and its value.
_ADDRESS = re.compile(r"(?:[A-Za-z0-9\-._~!$'*+/^{}|`#&?=]|%[0-9A-Fa-f]{2})+@[A-Za-z0-9\-._~%\[\]:]+")
_FIELD = re.compile(r"(?:[A-Za-z0-9\-._~!$'()*+,;:@/?]|%[0-9A-Fa-f]{2})*")
_RISKY = frozenset(
    ("from", "sender", "bcc", "date", "message-id", "received")
)  # section 4: readers drop them


def fault(href: str) -> str:
    """What is wrong with a mailto address, or nothing."""
    rest = href[len("mailto:") :]
    to, question, query = rest.partition("?")
    if "?" in query:
        return "a second `?` stands where `&` is meant"
    fields = [part.partition("=") for part in query.split("&")] if question else []
    if any(not equals for _name, equals, _value in fields):
        return "a field has no `=`" if query else "nothing follows the `?`"
    for name, _equals, value in fields:
        if not _FIELD.fullmatch(name) or not _FIELD.fullmatch(value):
            return f"{name} holds a character that must be percent-encoded"
        if re.search(r"%0[AD]", value, re.IGNORECASE) and not _breaks(value):
            return f"a line break in {name} is %0D%0A"
        if name.lower() in _RISKY:
            return f"readers leave out {name}"
    named = [unquote(value) for name, _equals, value in fields if name.lower() == "to"]
    if not to and not named:
        return "nobody is named"
    wrong = next((one for one in to.split(",") if to and not _ADDRESS.fullmatch(one)), None)
    return f"{wrong} is not an address" if wrong is not None else ""


def _breaks(value: str) -> bool:
    return re.search(r"%0[AD]", re.sub(r"(?i)%0D%0A", "", value), re.IGNORECASE) is None


def each(part: Part) -> Iterator[Hit]:
    """Every mailto link."""
    for link in part.page.links:
        mailto = link.href.lower().startswith("mailto:") and link.href not in part.system_links
        if mailto and (wrong := fault(link.href)):
            yield Hit(f"{link.href}: {wrong}", part.at(link.href))


RULE = Rule(
    slug="mailto-syntax",
    group="links",
    severity=ERROR,
    needs=frozenset({"html"}),
    about="Every mailto link is one that mail programs read.",
    why="A slip in it loses the subject or the address, and nobody notices until an answer is missing.",
    source="RFC 6068 sections 2, 5 and 6",
    remedy="mailto:hello@shop.example?subject=A%20question&body=Hello, everything but letters "
    "percent-encoded.",
    each=each,
)
