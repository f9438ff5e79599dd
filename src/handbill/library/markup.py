"""What a block's markup may hold. Enters: a lexed template; leaves: mistakes with line and column.

Elements and attributes by allow-list, so that no script, form or address of a block's own can be in it; only
the shared macros may use vector elements and `url()`. Addresses come from fields the compiler has checked.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from handbill.base.errors import Mistake, Place, nearest
from handbill.library.lexer import URL_ATTRIBUTES, Attribute, Lexed, Out, Raw, Tag

_TAGS = frozenset({
    "table", "tr", "td", "th", "thead", "tbody", "caption", "p", "a", "img", "span", "div", "strong", "em",
    "b", "i", "u", "s", "br", "hr", "ul", "ol", "li", "blockquote", "q", "cite", "sup", "sub", "small",
    "abbr", "code", "center",
})  # fmt: skip
_ATTRIBUTES = frozenset({
    "class", "style", "width", "height", "align", "valign", "bgcolor", "href", "target", "src", "alt",
    "title", "dir", "lang", "role", "colspan", "rowspan", "nowrap", "border", "cellpadding", "cellspacing",
    "scope", "aria-hidden", "aria-label", "aria-level", "start",
})  # fmt: skip
_VECTOR = re.compile(r"(?:v|w|o):[a-z]+$")
_SHARED = frozenset({
    "background", "xmlns:v", "xmlns:w", "xmlns:o", "arcsize", "stroke", "strokecolor", "strokeweight",
    "fillcolor", "fill", "type", "color", "inset", "size", "aspect", "origin", "position",
})  # fmt: skip
_ADDRESS = re.compile(r"link\.[a-z_]+|(?:[a-z]\w*\.)+(?:link|src)")


def check_markup(lexed: Lexed, shared: bool) -> Iterator[Mistake]:
    """Everything in a template's markup that a block may not write."""
    for token in lexed.tokens:
        if isinstance(token, Tag):
            yield from _tag(token, lexed.file, shared)


def _tag(tag: Tag, file: str, shared: bool) -> Iterator[Mistake]:
    where = Place(file, tag.line, tag.column)
    if re.fullmatch(r"h[1-6]", tag.name):
        yield Mistake(
            where, "", f"<{tag.name}> fixes the level of a heading", "<h{{ level }}> or <h{{ inner }}>"
        )
    elif (
        tag.name not in _TAGS and not tag.name.startswith("h{{") and not (shared and _VECTOR.match(tag.name))
    ):
        yield Mistake(where, "", f"<{tag.name}> is not allowed in a block", nearest=nearest(tag.name, _TAGS))
    for part in tag.parts:
        if isinstance(part, Attribute):
            yield from _attribute(part, Place(file, part.line, part.column), shared)


def _attribute(part: Attribute, where: Place, shared: bool) -> Iterator[Mistake]:
    known = _ATTRIBUTES | _SHARED if shared else _ATTRIBUTES
    if part.name.startswith("on"):
        yield Mistake(where, "", f"{part.name} is not allowed: mail runs no script")
    elif part.name not in known:
        yield Mistake(
            where, "", f"the attribute {part.name} is not allowed", nearest=nearest(part.name, known)
        )
    elif part.name in URL_ATTRIBUTES:
        yield from _address(part, where)
    elif part.name == "style" and not shared:
        text = "".join(piece.text if isinstance(piece, Raw) else "" for piece in part.value or ())
        if "(" in text:
            yield Mistake(where, "", "an address in style", "the shared background macro")


def _address(part: Attribute, where: Place) -> Iterator[Mistake]:
    """One expression that leads to a link or a picture, and nothing else."""
    value = part.value or []
    if len(value) == 1 and isinstance(value[0], Out) and _ADDRESS.fullmatch(value[0].expression):
        return
    if any(isinstance(piece, Raw) for piece in value) or not value:
        yield Mistake(where, "", f"{part.name} holds a fixed address", "a field, such as {{ button.link }}")
        return
    given = " ".join(piece.expression for piece in value if isinstance(piece, Out))
    yield Mistake(
        where, "", f"{part.name} takes no {given}", "the link of a field, such as {{ button.link }}"
    )
