"""The tree of a mail. Nodes are made by the parser and read by everyone else; texts are plain strings.

White space alone is kept as one space, and not at all between a table's rows and cells.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from functools import lru_cache
from typing import Union

from handbill.base.frozen import dataclass

Child = Union["Element", str]

VOID = frozenset(
    [
        "area",
        "base",
        "br",
        "col",
        "embed",
        "hr",
        "img",
        "input",
        "link",
        "meta",
        "param",
        "source",
        "track",
        "wbr",
    ]
)
RAW = frozenset(("style", "script", "title", "textarea"))
_ATTRIBUTE = re.compile(r"""\s+([^\s"'<>/=]+)(?:\s*=\s*(?:"([^"]*)"|'([^']*)'|([^\s"'=<>`]+)))?""")
_PLAIN_NAME = frozenset("abcdefghijklmnopqrstuvwxyz-:")
_NAME = re.compile(r"[a-zA-Z][^\s/>]*")
# Attributes that say how something looks (HTML standard, section 15.3), and the two that say how it reads.
HINTS = (
    "align", "valign", "width", "height", "bgcolor", "background", "border", "cellpadding", "cellspacing",
    "color", "face", "size", "dir", "lang", "hidden", "nowrap", "type", "start", "bordercolor",
)  # fmt: skip


class Look:
    """All that styles an element by itself: its tag, classes, `style` and hints; one object for equal
    ones."""

    __slots__ = ("attributes", "classes", "hints", "id", "style", "tag")

    def __init__(self, tag: str, attributes: dict[str, str]) -> None:
        self.tag = tag
        self.classes = tuple(dict.fromkeys(attributes.get("class", "").split()))
        self.id = attributes.get("id", "")
        self.style = attributes.get("style", "")
        self.hints = {name: attributes[name] for name in HINTS if name in attributes}
        self.attributes = attributes


class Head:
    """A start tag as written; `attributes` have lower-case names and decoded values."""

    __slots__ = ("attributes", "fits", "kind", "length", "look", "tag")

    def __init__(self, tag: str, attributes: dict[str, str], length: int, kind: int, look: Look) -> None:
        self.fits: set[str] = set()  # tags that it was found in, with nothing to repair
        self.tag = tag
        self.attributes = attributes
        self.length = length
        self.kind = kind
        self.look = look


class Element:
    """One element.

    `start` is the byte offset of its `<`, `inner` that after its start tag, `end` that after its end tag (for
    a tag left open, of where its content ends). An element that the standard implies has the place of what
    made it appear.
    """

    __slots__ = ("children", "end", "head", "parent", "start", "tag")

    def __init__(self, head: Head, parent: Element | None, start: int) -> None:
        self.head = head
        self.tag = head.tag
        self.parent = parent
        self.start = start
        self.end = start
        self.children: list[Child] = []

    @property
    def attributes(self) -> dict[str, str]:
        return self.head.attributes

    @property
    def inner(self) -> int:
        return self.start + self.head.length

    @property
    def look(self) -> Look:
        return self.head.look

    @property
    def elements(self) -> list[Element]:
        return [child for child in self.children if child.__class__ is Element]

    def get(self, name: str, default: str = "") -> str:
        return self.head.attributes.get(name, default)

    def iter(self, *tags: str) -> Iterator[Element]:
        """This element and all below it in the order of the file, of these tags if any are given."""
        waiting: list[Child] = [self]
        while waiting:
            node = waiting.pop()
            if isinstance(node, Element):
                if not tags or node.tag in tags:
                    yield node
                waiting.extend(reversed(node.children))

    def ancestors(self) -> Iterator[Element]:
        node = self.parent
        while node is not None:
            yield node
            node = node.parent

    def __repr__(self) -> str:
        return f"<{self.tag} at {self.start}>"


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the mail: `start` up to `end` are bytes of the HTML."""

    id: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Document:
    """A mail read back.

    `sections` are those the caller gave, or else the rows of the table that carries the mail. `notes` say
    where the markup needed the standard's repairs. `styles` are the texts of the head's `<style>` elements.
    """

    html: bytes
    root: Element
    sections: tuple[Section, ...]
    styles: tuple[str, ...]
    notes: tuple[str, ...] = ()

    @property
    def body(self) -> Element:
        return next((one for one in self.root.elements if one.tag == "body"), self.root)

    @property
    def title(self) -> str:
        found = next(self.root.iter("title"), None)
        return " ".join(text_of(found).split()) if found is not None else ""

    @property
    def language(self) -> str:
        return self.root.get("lang")

    def section_of(self, element: Element) -> Section | None:
        """The section whose bytes hold the element's start."""
        at = element.start
        return next((one for one in self.sections if one.start <= at < one.end), None)


def text_of(element: Element) -> str:
    """The text of an element and all below it, white space as in the file."""
    return "".join(
        child if isinstance(child, str) else "\n" if child.tag == "br" else text_of(child)
        for child in element.children
    )


_LOOKS: dict[tuple[object, ...], Look] = {}
_MOST_LOOKS = 20_000
NORMAL, EMPTY, END = 0, 1, 2


def look_for(tag: str, attributes: dict[str, str]) -> Look:
    """The one `Look` of equal looks; attributes that style nothing do not count, so that links share one."""
    key: tuple[object, ...] = (
        tag,
        attributes.get("style"),
        attributes.get("class"),
        attributes.get("id"),
        *[(name, attributes[name]) for name in attributes if name in _HINT_NAMES or name.startswith("data-")],
    )
    found = _LOOKS.get(key)
    if found is None:
        if len(_LOOKS) >= _MOST_LOOKS:
            _LOOKS.clear()
        found = _LOOKS[key] = Look(tag, attributes)
    return found


_HINT_NAMES = frozenset(HINTS)


def head_from(written: str) -> Head | None:
    """What stands between `<` and `>` of a start tag (Latin-1 characters for bytes); None if it is not
    plain."""
    name = _NAME.match(written)
    if name is None:
        return None
    end = len(written)
    tag = name.group()
    if "'" not in written and tag.islower() and (quick := _quoted(written[name.end() :])) is not None:
        return make_head(tag, quick, end + 2)
    attributes: dict[str, str] = {}
    at = name.end()
    while found := _ATTRIBUTE.match(written, at):
        key, double, single, bare = found.groups()
        value = double if double is not None else single if single is not None else bare or ""
        attributes.setdefault(key.lower(), decoded(value))
        at = found.end()
    if written[at:].strip() not in ("", "/"):
        return None
    return make_head(tag.lower(), attributes, end + 2)


def _quoted(written: str) -> dict[str, str] | None:
    """Attributes all written ` name="value"`; None if they are not."""
    parts = written.split('"')
    if parts.pop() or len(parts) % 2:
        return None
    found: dict[str, str] = {}
    for at in range(0, len(parts), 2):
        name = parts[at]
        key = name[1:-1]
        if name[:1] != " " or name[-1:] != "=" or key in found or not _PLAIN_NAME.issuperset(key) or not key:
            return None
        value = parts[at + 1]
        found[key] = decoded(value) if "&" in value or not value.isascii() else value
    return found


def make_head(tag: str, attributes: dict[str, str], length: int) -> Head:
    return Head(tag, attributes, length, EMPTY if tag in VOID else NORMAL, look_for(tag, attributes))


@lru_cache(maxsize=8192)
def decoded(text: str) -> str:
    """Latin-1 characters for bytes as UTF-8, character references resolved."""
    if not text.isascii():
        text = text.encode("latin-1").decode("utf-8", "replace")
    return html.unescape(text) if "&" in text else text
