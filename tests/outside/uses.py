"""Enters: a mail's HTML; leaves: the names of all it uses, as the support data know them.

HTML is read by html5lib, CSS by tinycss2: rules of the head, styles of elements, nothing in comments. What
word-processor-based readers read instead of the others is collected for them alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import html5lib
import tinycss2

from handbill.readers.names import (
    at_rule_names,
    attribute_names,
    element_name,
    property_name,
    selector_name,
    value_names,
)

from .branches import others, tree, word_processor

_COMBINATORS = {">": "child", "+": "adjacent", "~": "sibling"}
_SIMPLE = re.compile(
    r"(?P<attribute>\[[^\]]*\])|(?P<pseudo>::?[a-z-]+(?:\([^)]*\))?)|(?P<class>\.[\w-]+)|(?P<id>#[\w-]+)"
    r"|(?P<universal>\*)|(?P<type>[a-z][\w-]*)"
)


def used_by_most(html: str) -> set[str]:
    """What readers with a browser's engine meet."""
    found = {"html-doctype"} if html.lower().startswith("<!doctype html>") else set()
    if "<!--" in html:
        found.add("html-comments")
    return found.union(in_tree(html5lib.parse(others(html), namespaceHTMLElements=False)))


def used_by_word_processors(html: str) -> set[str]:
    """What the other branch adds and leaves out; vector markup is not of the data's list."""
    return {"html-doctype", "html-comments"}.union(in_tree(tree(word_processor(html))))


def in_tree(root: Any) -> Iterator[str]:
    for element in root.iter():
        if not isinstance(element.tag, str) or ":" in element.tag or element.tag == "xml":
            continue
        yield element_name(element.tag)
        for name, value in element.attrib.items():
            if name.startswith(("xmlns", "{")):
                continue
            yield from attribute_names(element.tag, name, value)
        yield from in_style(element.get("style", ""))
        if element.tag == "style":
            yield from in_rules(tinycss2.parse_stylesheet(element.text or ""))


def in_rules(rules: list[Any]) -> Iterator[str]:
    for rule in rules:
        if rule.type == "comment":
            yield "css-comments"
        elif rule.type == "at-rule":
            prelude = tinycss2.serialize(rule.prelude)
            yield from at_rule_names(rule.lower_at_keyword, re.findall(r"\(\s*([a-z-]+)", prelude))
            if rule.lower_at_keyword == "media":
                yield from in_rules(tinycss2.parse_rule_list(rule.content, skip_whitespace=True))
            elif rule.content is not None:
                yield from in_style(tinycss2.serialize(rule.content))
        elif rule.type == "qualified-rule":
            yield from in_selector(tinycss2.serialize(rule.prelude).strip())
            yield from in_style(tinycss2.serialize(rule.content))
        elif rule.type == "error":
            raise AssertionError(f"tinycss2 cannot read a rule: {rule.message}")


def in_selector(prelude: str) -> Iterator[str]:
    one_by_one = prelude.split(",")
    if len(one_by_one) > 1:
        yield selector_name("grouping")
    for selector in one_by_one:
        parts = re.split(r"\s*([>+~])\s*|\s+", selector.strip())
        for part in parts:
            if part in _COMBINATORS:
                yield selector_name(_COMBINATORS[part])
            elif part:
                yield from _in_compound(part)
        compounds = [part for part in parts if part and part not in _COMBINATORS]
        if len(compounds) - 1 > sum(part in _COMBINATORS for part in parts if part):
            yield selector_name("descendant")


def _in_compound(compound: str) -> Iterator[str]:
    found = list(_SIMPLE.finditer(compound))
    assert "".join(one[0] for one in found) == compound, f"{compound} is no selector that is known here"
    for one in found:
        kind = one.lastgroup or ""
        yield selector_name(kind, one[0].strip(":").partition("(")[0] if kind == "pseudo" else "")
    if sum(one.lastgroup == "class" for one in found) > 1:
        yield selector_name("chaining")


def in_style(style: str) -> Iterator[str]:
    for one in tinycss2.parse_declaration_list(style, skip_comments=True, skip_whitespace=True):
        assert one.type == "declaration", f"tinycss2 cannot read {style}: {one.message}"
        yield property_name(one.lower_name)
        words = list(_words(one.value))
        yield from value_names(one.lower_name, [*words, "!important"] if one.important else words)


def _words(tokens: list[Any]) -> Iterator[str]:
    for token in tokens:
        if token.type == "ident":
            yield token.lower_value
        elif token.type == "dimension":
            yield f"{token.representation}{token.lower_unit}"
        elif token.type == "percentage":
            yield f"{token.representation}%"
        elif token.type == "function":
            yield f"{token.lower_name}("
            yield from _words(token.arguments)
        elif token.type == "url":
            yield "url("
