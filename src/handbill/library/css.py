"""block.css, parsed. Enters: CSS by class; leaves: rules of plain declarations with their places.

Syntax by CSS Syntax 3 (tinycss2), logical properties by CSS Logical Properties 1, `@media (--phone)` and
`(--narrow)` as in custom media queries (Media Queries 5). Selectors are classes of one element: a mail
reader that rewrites markup breaks descendant selectors, and styles that depend on neighbours could not be
resolved in advance.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import tinycss2

from handbill.base.errors import Mistake, Place
from handbill.library.tokens import ALL, DARK, NARROW, PHONE, TYPE, Declaration, Rule, split_values, unsafe

_MEDIA = {"(--phone)": PHONE, "(--narrow)": NARROW, "(prefers-color-scheme:dark)": DARK}
_PROPERTY = re.compile(r"-?[a-z][a-z0-9-]*")
_REFUSED = frozenset({"position", "float", "z-index", "content", "behavior", "-moz-binding"})

_TYPE_PARTS = (
    ("font-family", "face"),
    ("font-size", "size"),
    ("line-height", "line"),
    ("mso-line-height-rule", ""),
    ("font-weight", "weight"),
    ("font-style", "style"),
    ("letter-spacing", "tracking"),
    ("text-decoration", "underline"),
    ("text-transform", "capitals"),
)


def parse_css(text: str, file: str) -> tuple[tuple[Rule, ...], tuple[Mistake, ...]]:
    """All rules of a style sheet and everything wrong with it."""
    parser = _Parser(file)
    rules = tuple(parser.sheet(text))
    return rules, tuple(parser.mistakes)


class _Parser:
    def __init__(self, file: str) -> None:
        self.file = file
        self.mistakes: list[Mistake] = []

    def wrong(self, node: Any, message: str, expected: str = "") -> None:
        place = Place(self.file, node.source_line, node.source_column)
        self.mistakes.append(Mistake(place, "", message, expected))

    def sheet(self, text: str) -> Iterator[Rule]:
        for node in tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True):
            if node.type == "error":
                self.wrong(node, f"CSS: {node.message}")
            elif node.type == "qualified-rule":
                yield from self.rule(node, ALL)
            elif node.type == "at-rule":
                yield from self.media(node)

    def media(self, node: Any) -> Iterator[Rule]:
        query = re.sub(r"\s+", "", tinycss2.serialize(node.prelude)).lower()
        if node.lower_at_keyword != "media" or query not in _MEDIA or node.content is None:
            self.wrong(
                node,
                f"@{node.at_keyword} {tinycss2.serialize(node.prelude).strip()} is not allowed",
                "@media (--phone), (--narrow) or (prefers-color-scheme: dark)",
            )
            return
        for inner in tinycss2.parse_rule_list(node.content, skip_comments=True, skip_whitespace=True):
            if inner.type == "qualified-rule":
                yield from self.rule(inner, _MEDIA[query])
            else:
                self.wrong(inner, "only rules may stand inside @media")

    def rule(self, node: Any, media: str) -> Iterator[Rule]:
        declarations = tuple(self.declarations(node.content))
        for selector in self.selectors(node):
            yield Rule(media, selector, declarations)

    def selectors(self, node: Any) -> Iterator[frozenset[str]]:
        text = tinycss2.serialize(node.prelude).strip()
        for part in text.split(","):
            one = part.strip()
            if re.fullmatch(r"(?:\.[a-z][a-z0-9-]*)+", one):
                yield frozenset(one[1:].split("."))
            else:
                self.wrong(
                    node, f"selector {one!r} is not allowed", "classes of one element, such as .title.large"
                )

    def declarations(self, content: Any) -> Iterator[Declaration]:
        for node in tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True):
            if node.type != "declaration":
                message = node.message if node.type == "error" else "rules do not nest"
                self.wrong(node, f"CSS: {message}")
                continue
            name = node.name.strip().lower() if not node.name.startswith("--") else node.name.strip()
            value = _single_quotes(" ".join(tinycss2.serialize(node.value).split()))
            problem = unsafe(value)
            place = Place(self.file, node.source_line, node.source_column)
            if node.important:
                self.wrong(
                    node, "!important is not allowed", "nothing: phone and dark rules get it by themselves"
                )
            elif name == TYPE:
                yield from self.type_role(node, value, place)
            elif not _PROPERTY.fullmatch(name):
                self.wrong(
                    node, f"{name} cannot be set here", "house values come from brand.yaml and block.yaml"
                )
            elif name in _REFUSED:
                self.wrong(node, f"{name} is not allowed: mail readers drop it")
            elif problem:
                expected = "pictures through the shared macros" if "url()" in problem else ""
                self.wrong(node, f"{name}: {problem}", expected)
            elif not value:
                self.wrong(node, f"{name} has no value")
            elif _odd_logical(name, value):
                self.wrong(node, f"{name} cannot be said in physical terms", _odd_logical(name, value))
            else:
                yield Declaration(name, value, place)

    def type_role(self, node: Any, role: str, place: Place) -> Iterator[Declaration]:
        if not re.fullmatch(r"[a-z][a-z0-9-]*", role):
            self.wrong(node, f"{TYPE}: {role} is not a type role", "the name of one, such as title")
            return
        for name, part in _TYPE_PARTS:
            yield Declaration(name, f"var(--{role}-{part})" if part else "exactly", place, role)


def _single_quotes(value: str) -> str:
    """Strings in single quotes, since styles stand in double-quoted attributes."""
    return re.sub(r'"([^"\\\']*)"', r"'\1'", value)


_LOGICAL = re.compile(r"(?:^|-)(?:inline|block)(?:-|$)|^inset")
_MAPPED = re.compile(r"(padding|margin|border)-(?:inline|block)(?:-start|-end)?(-(?:width|style|color))?")


def _odd_logical(name: str, value: str) -> str:
    """What to write instead of a logical property, or of a count of values, that `physical` does not know."""
    if _LOGICAL.search(name) and not _MAPPED.fullmatch(name):
        return "width, height, or padding, margin and border by side"
    if name in ("padding", "margin") and not 1 <= len(split_values(value)) <= 4:
        return "one to four values"
    return ""


def physical(declaration: Declaration, rtl: bool) -> tuple[Declaration, ...]:
    """The declaration in physical terms for a direction: readers know no logical properties."""
    name, value = declaration.name, declaration.value
    start, end = ("right", "left") if rtl else ("left", "right")
    if name in ("text-align", "clear") or name.endswith("-align"):
        value = {"start": start, "end": end}.get(value, value)
        return (replace(declaration, value=value),)
    for word, sides in (
        ("inline-start", (start,)),
        ("inline-end", (end,)),
        ("block-start", ("top",)),
        ("block-end", ("bottom",)),
        ("inline", (start, end)),
        ("block", ("top", "bottom")),
    ):
        match = re.fullmatch(rf"(padding|margin|border)-{word}(-(?:width|style|color))?", name)
        if match:
            suffix = match.group(2) or ""
            whole = match.group(1) == "border" and not suffix  # `1px solid #000` is one value
            parts = [value] if whole or len(sides) == 1 else split_values(value)
            values = parts if len(parts) == len(sides) else [value] * len(sides)
            return tuple(
                replace(declaration, name=f"{match.group(1)}-{side}{suffix}", value=one)
                for side, one in zip(sides, values, strict=True)
            )
    corner = re.fullmatch(r"border-(start|end)-(start|end)-radius", name)
    if corner:
        row = "top" if corner.group(1) == "start" else "bottom"
        side = start if corner.group(2) == "start" else end
        return (replace(declaration, name=f"border-{row}-{side}-radius"),)
    if name == "padding":
        return _four(declaration, start, end)
    if rtl and name in ("margin", "border-radius") and len(parts := split_values(value)) == 4:
        first, second, third, fourth = parts
        mirrored = (first, fourth, third, second) if name == "margin" else (second, first, fourth, third)
        return (replace(declaration, value=" ".join(mirrored)),)
    return (declaration,)


def _four(declaration: Declaration, start: str, end: str) -> tuple[Declaration, ...]:
    """`padding` as its four sides, the second and fourth value read as end and start of the line."""
    values = split_values(declaration.value)
    top = values[0]
    after = values[1] if len(values) > 1 else top
    bottom = values[2] if len(values) > 2 else top
    before = values[3] if len(values) > 3 else after
    sides = (("top", top), (end, after), ("bottom", bottom), (start, before))
    return tuple(replace(declaration, name=f"padding-{side}", value=value) for side, value in sides)
