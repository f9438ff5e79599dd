"""What two mails have in common. Enters: HTML or a message; leaves: plain data that compares.

Left out, for both sides alike: class attributes and the head's style elements (short classes serve phones and
dark screens), the bgcolor and valign attributes that repeat a style, white space between words, declarations
that say the default, and styles inside conditional comments (no inliner looks there).
"""

from __future__ import annotations

import re
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from typing import Any

import html5lib

_LEFT_OUT = ("class", "bgcolor", "valign", "style")
_NEUTRAL = {
    ("text-transform", "none"),
    ("letter-spacing", "normal"),
    ("font-style", "normal"),
    ("border-radius", "0"),
    ("border-radius", "0px"),
}
_STYLED = re.compile(r'\s(?:class|style|bgcolor|valign)="[^"]*"')
_SIDES = ("top", "right", "bottom", "left")


def page(html: str) -> list[Any]:
    """The document as a list of what opens, what closes and what stands between."""
    html = re.sub(r' xmlns:\w+="[^"]*"', "", html)  # not names in HTML
    tree = html5lib.parse(html, treebuilder="lxml", namespaceHTMLElements=False)
    found: list[Any] = []
    _walk(tree.getroot(), found)
    return [one for one in found if one]


def _walk(element: Any, found: list[Any]) -> None:
    if not isinstance(element.tag, str):
        if "<style" not in element.text:
            found.append(("comment", _comment(element.text)))
    elif element.tag != "style":
        attributes = {str(name): value for name, value in element.attrib.items() if name not in _LEFT_OUT}
        found.append((element.tag, attributes, style(element.get("style", ""))))
        found.append(_words(element.text))
        for child in element:
            _walk(child, found)
        found.append(f"/{element.tag}")
    found.append(_words(element.tail))


def style(text: str) -> dict[str, str]:
    """Declarations by name, the last of a name counting, paddings side by side."""
    made: dict[str, str] = {}
    for one in re.split(r";(?![^(]*\))", text):
        name, colon, value = one.partition(":")
        name, value = name.strip(), " ".join(value.split())
        if not colon or (name, value) in _NEUTRAL:
            continue
        value = re.sub(r",\s+", ",", value).replace('"', "'")
        value = re.sub(r"url\(['\"]?(.*?)['\"]?\)", r"url(\1)", value)
        if name == "padding":
            parts = value.split()
            four = [parts[0], parts[1 % len(parts)], parts[2 % len(parts)], parts[-1]]
            if len(parts) == 2:
                four = [parts[0], parts[1], parts[0], parts[1]]
            if len(parts) == 3:
                four = [parts[0], parts[1], parts[2], parts[1]]
            made |= {f"padding-{side}": _zero(part) for side, part in zip(_SIDES, four, strict=True)}
        else:
            made[name] = _zero(value)
    return made


def _zero(value: str) -> str:
    return "0" if value == "0px" else value


def _comment(text: str) -> str:
    return " ".join(_STYLED.sub("", text).split()).replace(" >", ">")


def _words(text: str | None) -> str:
    return " ".join((text or "").split(" ")).strip("\n ") if text else ""


def text(data: str) -> list[str]:
    """Lines without the blank ones."""
    return [line for line in (line.rstrip() for line in data.splitlines()) if line]


def message(eml: bytes) -> dict[str, Any]:
    """The parts, and the headers that do not derive from the bytes, as the standard library reads them."""
    parsed = message_from_bytes(eml, policy=default)
    assert isinstance(parsed, EmailMessage)
    html, plain = parsed.get_body(("html",)), parsed.get_body(("plain",))
    assert html is not None
    assert plain is not None
    names = ("Date", "From", "Reply-To", "To", "Subject", "List-Unsubscribe-Post", "List-Id")
    return {
        **{name: str(parsed[name]) for name in names},
        "structure": [part.get_content_type() for part in parsed.walk()],
        "encoding": [part["Content-Transfer-Encoding"] for part in (plain, html)],
        "html": page(html.get_content()),
        "text": text(plain.get_content()),
    }
