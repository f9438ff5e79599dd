"""Copy, a small Markdown subset. Enters: an author's text; leaves: a `Tree` with its references in place.

Paragraphs, strong, em, links, hard breaks, bullet and ordered lists nested two deep, as in CommonMark; all
else, HTML and images among it, shows as text. `${…}` is opaque while the parser runs.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.resolve.facts import Ref, parse
from handbill.resolve.text import Send

if TYPE_CHECKING:
    from markdown_it import MarkdownIt
    from markdown_it.rules_inline import StateInline
    from markdown_it.token import Token

#: Text between marks: references before filling, send-time parts after.
Run = tuple[str | Ref | Send, ...]


@dataclass(frozen=True, slots=True)
class Break:
    """A hard line break."""


@dataclass(frozen=True, slots=True)
class Mark:
    """`tag` is strong or em."""

    tag: str
    children: tuple[Inline, ...]


@dataclass(frozen=True, slots=True)
class Link:
    """A link with its words."""

    children: tuple[Inline, ...]
    href: Run


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Never empty."""

    children: tuple[Inline, ...]


@dataclass(frozen=True, slots=True)
class Items:
    """A list; `start` is the first number, None for bullets."""

    start: int | None
    items: tuple[tuple[Block, ...], ...]


Inline = Run | Break | Mark | Link
Block = Paragraph | Items


@dataclass(frozen=True, slots=True)
class Tree:
    """Parsed copy. `fixed` when nothing in it is to be filled or judged."""

    blocks: tuple[Block, ...]
    fixed: bool = False


# A reference becomes these noncharacters around its number; the source can hold none (see text.py). To the
# parser they are letters: `**${offer.best}**off` is strong, a link target may hold a fallback's space.
_OPEN, _CLOSE = "\ufdd0", "\ufdd1"
_TOKEN = re.compile(f"{_OPEN}(\\d+){_CLOSE}")

# Whatever could make the parser see more than paragraphs; the tests hold the fast way to the parser's result.
_MARKDOWN = re.compile(r"[*_\[\\\t]|  \n|^ *(?:[-+]|\d{1,9}[.)])(?: |$)", re.MULTILINE)
_BLANK_LINES = re.compile(r"\n *(?:\n *)+")


def parse_copy(source: str) -> Tree:
    """The tree of `source`.

    Raises a Fault for a malformed `${…}`, for control characters, and for lists nested three deep and links
    without words, without target or with a title, none of which a mail can show well.
    """
    parts = parse(source)
    refs = [part for part in parts if isinstance(part, Ref)]
    if refs:
        numbers = iter(range(len(refs)))
        parts = tuple(p if isinstance(p, str) else f"{_OPEN}{next(numbers)}{_CLOSE}" for p in parts)
    marked = "".join(str(part) for part in parts)
    if _MARKDOWN.search(marked):
        blocks = parse_marked(marked, refs)
        return Tree(blocks, fixed=not refs and not any(True for _ in links_of(blocks)))
    return Tree(paragraphs(marked, refs), fixed=not refs)


def paragraphs(marked: str, refs: Sequence[Ref]) -> tuple[Block, ...]:
    """What the parser makes of text without any mark: CommonMark's blank lines, soft breaks and trimming."""
    found: list[Block] = []
    for piece in _BLANK_LINES.split(marked) if "\n" in marked else (marked,):
        text = " ".join([line.strip(" ") for line in piece.split("\n")]).strip()
        if text:
            found.append(Paragraph((_run(text, refs),)))
    return tuple(found)


def _run(text: str, refs: Sequence[Ref]) -> Run:
    """`text` with its reference marks turned back into references."""
    if _OPEN not in text:
        return (text,)
    pieces = _TOKEN.split(text)
    return tuple(refs[int(piece)] if at % 2 else piece for at, piece in enumerate(pieces) if piece)


@lru_cache(maxsize=1)
def _parser() -> MarkdownIt:
    """The CommonMark parser with the subset's rules only; imported when the first copy needs it."""
    from markdown_it import MarkdownIt
    from markdown_it.rules_inline import image

    class Subset(MarkdownIt):
        """Link targets go through as they are: the caller's callback judges them."""

        def normalizeLink(self, url: str) -> str:  # noqa: N802 - the parser's name
            return url

        def validateLink(self, url: str) -> bool:  # noqa: N802 - the parser's name
            return True

    def image_as_text(state: StateInline, silent: bool) -> bool:
        start = state.pos
        if not image(state, True):
            return False
        if not silent:
            state.pending += state.src[start : state.pos]
        return True

    parser = Subset("zero").enable(["list", "emphasis", "link", "newline", "escape"])
    parser.inline.ruler.before("link", "image_as_text", image_as_text)
    return parser


def parse_marked(marked: str, refs: Sequence[Ref]) -> tuple[Block, ...]:
    """The blocks that the CommonMark parser finds."""
    return _blocks(iter(_parser().parse(marked)), refs, 0)


def _blocks(tokens: Iterator[Token], refs: Sequence[Ref], depth: int) -> tuple[Block, ...]:
    """Blocks up to the end of the list item they stand in, or of all tokens."""
    found: list[Block] = []
    for token in tokens:
        if token.type == "list_item_close":
            break
        if token.type == "inline":
            children = _inlines(iter(token.children or ()), refs)
            if children:
                found.append(Paragraph(children))
        elif token.type in ("bullet_list_open", "ordered_list_open"):
            if depth == 2:
                raise Fault("a list stands in a list in a list", expected="lists nested two deep at most")
            start = int(token.attrs.get("start", 1)) if token.type == "ordered_list_open" else None
            found.append(Items(start, _items(tokens, refs, depth + 1)))
    return tuple(found)


def _items(tokens: Iterator[Token], refs: Sequence[Ref], depth: int) -> tuple[tuple[Block, ...], ...]:
    found: list[tuple[Block, ...]] = []
    for token in tokens:
        if token.type != "list_item_open":
            break
        found.append(_blocks(tokens, refs, depth))
    return tuple(found)


def _inlines(tokens: Iterator[Token], refs: Sequence[Ref]) -> tuple[Inline, ...]:
    """Inline content up to the end of the mark it stands in."""
    found: list[Inline] = []
    text = ""
    for token in tokens:
        if token.type == "text":
            text += token.content
            continue
        if token.type == "softbreak":
            text += " "
            continue
        if text:
            found.append(_run(text, refs))
            text = ""
        if token.nesting < 0:
            return tuple(found)
        if token.type == "hardbreak":
            found.append(Break())
        elif token.type == "link_open":
            found.append(_link(token, _inlines(tokens, refs), refs))
        else:
            found.append(Mark(token.tag, _inlines(tokens, refs)))
    if text:
        found.append(_run(text, refs))
    return tuple(found)


def _link(token: Token, children: tuple[Inline, ...], refs: Sequence[Ref]) -> Link:
    href = str(token.attrs["href"])
    shown = _TOKEN.sub(lambda found: str(refs[int(found[1])]), href)
    if not href:
        raise Fault("a link in the copy leads nowhere", expected="[words](/where)")
    if not _has_words(children):
        raise Fault(f"the link to {shown} has no words", expected="[words](/where)")
    if "title" in token.attrs:
        raise Fault(f"the link to {shown} has a title, which mail readers hide", expected="[words](/where)")
    return Link(children, _run(href, refs))


def _has_words(children: tuple[Inline, ...]) -> bool:
    for child in children:
        if isinstance(child, tuple):
            if any(not isinstance(part, str) or part.strip() for part in child):
                return True
        elif not isinstance(child, Break) and _has_words(child.children):
            return True
    return False


def links_of(found: Sequence[Block | Inline]) -> Iterator[Link]:
    for node in found:
        if isinstance(node, Link):
            yield node
        elif isinstance(node, Paragraph | Mark):
            yield from links_of(node.children)
        elif isinstance(node, Items):
            for item in node.items:
                yield from links_of(item)
