"""The quick way through HTML whose tags are nested as written. Enters: bytes; leaves: a tree, or None.

None means that the HTML standard would move, close or imply something; `repair` then does it by the standard.
It cuts at `<` and looks tags up by their text, since the same tags come again in every mail.
"""

from __future__ import annotations

from handbill.dom.tree import EMPTY, END, RAW, Element, Head, decoded, head_from, look_for

_ROWS = frozenset(("table", "tbody", "thead", "tfoot"))
_TABLE = _ROWS | {"tr", "colgroup", "html", "head"}
_TABLE_PARTS = frozenset(("tbody", "thead", "tfoot", "tr", "td", "th", "caption", "colgroup", "col"))
_HOLDS = {
    **dict.fromkeys(_ROWS - {"table"}, frozenset(("table",))),
    "tr": _ROWS,
    **dict.fromkeys(("td", "th"), frozenset(("tr",))),
    **dict.fromkeys(("caption", "colgroup"), frozenset(("table",))),
    "col": frozenset(("colgroup", "table")),
}
_HEADINGS = frozenset(("h1", "h2", "h3", "h4", "h5", "h6"))
# HTML standard, section 13.2.6.4.7: these close an open paragraph.
_CLOSES_P = _HEADINGS | frozenset(
    [
        "address",
        "article",
        "aside",
        "blockquote",
        "center",
        "details",
        "dialog",
        "dir",
        "div",
        "dl",
        "fieldset",
        "figcaption",
        "figure",
        "footer",
        "form",
        "header",
        "hgroup",
        "hr",
        "main",
        "menu",
        "nav",
        "ol",
        "p",
        "pre",
        "search",
        "section",
        "summary",
        "table",
        "ul",
        "li",
        "dt",
        "dd",
    ]
)
_INLINE = frozenset(
    [
        "a",
        "abbr",
        "b",
        "bdi",
        "bdo",
        "big",
        "br",
        "code",
        "em",
        "font",
        "i",
        "img",
        "s",
        "small",
        "span",
        "strike",
        "strong",
        "sub",
        "sup",
        "u",
        "wbr",
    ]
)
# Kinds of markup with rules of their own, left to the standard's parser.
_SPECIAL = frozenset(
    [
        "form",
        "button",
        "nobr",
        "select",
        "option",
        "svg",
        "math",
        "template",
        "frameset",
        "object",
        "iframe",
        "plaintext",
        "noscript",
        "xmp",
        "applet",
        "marquee",
        "noembed",
        "noframes",
        "body",
        "html",
        "head",
        "input",
        "textarea",
        "pre",
        "listing",
        "image",
        "isindex",
        "dt",
        "dd",
    ]
)
_IN_HEAD = frozenset(("meta", "title", "style", "link", "base", "script"))

_HEADS: dict[str, Head] = {}
_MOST_HEADS = 50_000
_DEEPEST = 150  # levels, so that walking the tree stays far from Python's own limit
# What stands between two `<`, where no text does: its tag, and whether white space follows.
_ALONE: dict[str, tuple[Head, bool]] = {}


def scan(html: bytes) -> tuple[Element, list[str]] | None:
    """The `html` element and the texts of `<style>` elements that a browser applies."""
    pieces = html.decode("latin-1").split("<")
    if pieces[0].strip() not in ("", "\xef\xbb\xbf"):
        return None
    heads, alone = _HEADS, _ALONE
    if len(heads) > _MOST_HEADS:
        heads.clear()
        alone.clear()
    at = len(pieces[0])
    outside = node = Element(Head("", {}, 0, 0, look_for("", {})), None, 0)
    paragraph = link = False
    comment = False
    depth = 0
    styles: list[str] = []
    for piece in pieces[1:]:
        start = at
        at += len(piece) + 1
        known = None if comment else alone.get(piece)
        if known is not None:
            head, spaced = known
            rest = " " if spaced else ""
        elif comment:
            _, found, rest = piece.partition("-->")
            if not found:
                continue
            comment = False
            head = None
        else:
            written, found, rest = piece.partition(">")
            head = heads.get(written)
            if head is None:
                if piece[:3] == "!--":
                    if piece[3:4] == ">" or piece[3:5] == "->":
                        return None
                    _, found, rest = piece[3:].partition("-->")
                    if not found:
                        comment = True
                        continue
                elif not found:
                    return None
                elif piece[:1] == "!":
                    if node is not outside or written.lower() != "!doctype html":
                        return None
                    continue
                else:
                    head = _made(written)
                    if head is None:
                        return None
                    heads[written] = head
            if head is not None and (not rest or rest.isspace()):
                alone[piece] = head, bool(rest)
        if head is not None:
            tag = head.tag
            if head.kind == END:
                if node.tag != tag:
                    return None
                node.end = start + head.length
                if tag == "p":
                    paragraph = False
                elif tag == "a":
                    link = False
                node = node.parent or outside
                depth -= 1
            else:
                if node.tag not in head.fits:
                    if not _fit(node.tag, tag):
                        return None
                    head.fits.add(node.tag)
                if paragraph and tag in _CLOSES_P:
                    return None
                element = Element(head, node, start)
                node.children.append(element)
                if head.kind == EMPTY:
                    element.end = start + head.length
                else:
                    if tag == "p":
                        paragraph = True
                    elif tag == "a":
                        if link:
                            return None
                        link = True
                    elif tag == "style":
                        styles.append(rest)
                    node = element
                    depth += 1
                    if depth > _DEEPEST:
                        return None
        if rest:
            if rest.isspace():
                if node.tag not in _TABLE:
                    node.children.append(" ")
            elif node.tag in _TABLE or node.parent is None or node.tag in ("html", "head"):
                return None
            elif not rest.isascii() or "&" in rest:
                node.children.append(rest if node.tag == "style" else decoded(rest))
            else:
                node.children.append(rest)
    roots = outside.elements
    if comment or node is not outside or len(roots) != 1 or roots[0].tag != "html":
        return None
    if [one.tag for one in roots[0].elements] != ["head", "body"]:
        return None
    roots[0].parent = None
    return roots[0], styles


def _made(written: str) -> Head | None:
    if written[:1] == "/":
        tag = written[1:].rstrip().lower()
        return Head(tag, {}, len(written) + 2, END, look_for(tag, {})) if tag else None
    return head_from(written)


def _fit(parent: str, tag: str) -> bool:
    """Whether a tag may stand in a parent without the standard's parser moving or closing anything."""
    if parent in ("", "html"):
        return tag in (("html",) if parent == "" else ("head", "body"))
    if parent == "head":
        return tag in _IN_HEAD
    if parent in RAW or tag in _SPECIAL:
        return False
    if tag in _TABLE_PARTS:
        return parent in _HOLDS[tag]
    if parent in _TABLE or (tag == "li") != (parent in ("ul", "ol") and tag == "li"):
        return False
    if parent in ("ul", "ol"):
        return tag == "li"
    return not (parent in _HEADINGS and tag in _HEADINGS)
