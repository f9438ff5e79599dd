"""Enters: a mail's HTML; leaves: what word-processor-based readers read of it, and what all others read.

The first take `<!--[if mso]>…<![endif]-->` as markup and drop `<!--[if !mso]><!-->…<!--<![endif]-->`; to the
others both are comments. Trees are strict: a tag that is not nested well is an error, where browsers mend it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from html.parser import HTMLParser
from typing import Any
from xml.etree import ElementTree

import tinycss2

_THEIRS = re.compile(r"<!--\[if mso\]>(.*?)<!\[endif\]-->", re.DOTALL)
_OTHERS = re.compile(r"<!--\[if !mso\]><!-->(.*?)<!--<!\[endif\]-->", re.DOTALL)
_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
_VOID = frozenset("area base br col embed hr img input link meta source track wbr".split())  # noqa: SIM905
INHERITED = frozenset({"font-family", "font-size", "font-weight", "font-style", "line-height", "color",
                       "letter-spacing", "text-transform", "text-align", "mso-line-height-rule"})  # fmt: skip


def word_processor(html: str) -> str:
    """Comments and the others' branch gone, their own branch in its place."""
    kept = _THEIRS.sub(r"\1", _OTHERS.sub("", html))
    assert "[endif]" not in kept, "a conditional comment is left open"
    return _COMMENT.sub("", kept)


def others(html: str) -> str:
    return _COMMENT.sub("", html)


class _Strict(HTMLParser):
    """Builds a tree, and fails where an end tag does not close what was opened last."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.builder = ElementTree.TreeBuilder()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag != "tr" or self.open[-1] in ("table", "tbody"), f"tr in {self.open[-1]}, {self.getpos()}"
        assert tag not in ("td", "th") or self.open[-1] == "tr", f"{tag} in {self.open[-1]}, {self.getpos()}"
        self.builder.start(tag, {name: value or "" for name, value in attrs})  # type: ignore[arg-type]
        if tag in _VOID:
            self.builder.end(tag)
        else:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.builder.start(tag, {name: value or "" for name, value in attrs})  # type: ignore[arg-type]
        self.builder.end(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing, {self.getpos()}"
        last = self.open.pop()
        assert tag == last, f"</{tag}> closes {last}, {self.getpos()}"
        self.builder.end(tag)

    def handle_data(self, data: str) -> None:
        if self.open:
            self.builder.data(data)


def tree(html: str) -> Any:
    """The root element. Fails where tags are not nested well."""
    parser = _Strict()
    parser.feed(html)
    parser.close()
    assert parser.open == [], f"never closed: {parser.open}"
    return parser.builder.close()


def declarations(style: str) -> dict[str, str]:
    """Property → value, the last one of a pair winning."""
    found = {}
    for one in tinycss2.parse_declaration_list(style, skip_comments=True, skip_whitespace=True):
        assert one.type == "declaration", f"{style}: {one.message}"
        found[one.lower_name] = tinycss2.serialize(one.value).strip()
    return found


def px(value: str) -> float:
    """`12px`, `12` or `0` as a number of px. Fails for any other unit."""
    found = re.fullmatch(r"(-?[\d.]+)(px)?", value)
    assert found, f"{value} is no number of px"
    return float(found[1])


def sides(style: Mapping[str, str], name: str) -> tuple[float, float, float, float]:
    """Top, right, bottom, left of a padding or margin, in px; `auto` counts as 0."""

    def number(word: str) -> float:
        return 0.0 if word == "auto" else px(word)

    words = style.get(name, "0").split()
    top, right, bottom, left = {
        1: words * 4,
        2: words * 2,
        3: [*words, *words[1:2]],
        4: words,
    }[len(words)]
    whole = {"top": top, "right": right, "bottom": bottom, "left": left}
    one = {side: number(style.get(f"{name}-{side}", value)) for side, value in whole.items()}
    return one["top"], one["right"], one["bottom"], one["left"]


@dataclass(frozen=True)
class Page:
    """What a word-processor-based reader makes of a mail: its tree, and styles by its own `<style>` rules."""

    html: str

    @cached_property
    def root(self) -> Any:
        return tree(word_processor(self.html))

    @cached_property
    def body(self) -> Any:
        return self.root.find("body")

    @cached_property
    def parents(self) -> dict[Any, Any]:
        return {child: parent for parent in self.root.iter() for child in parent}

    @cached_property
    def rules(self) -> list[tuple[str, dict[str, str], set[str]]]:
        """Selectors of one type or one class, with declarations and the names of those that are important.

        The engine reads neither media queries nor attribute selectors (support data: css-at-media,
        css-selector-attribute), and `!important` only after a space (css-important).
        """
        found = []
        for element in self.root.iter("style"):
            for rule in tinycss2.parse_stylesheet(
                element.text or "", skip_comments=True, skip_whitespace=True
            ):
                if rule.type != "qualified-rule":
                    continue
                text = tinycss2.serialize(rule.content)
                important = {one.partition(":")[0].strip() for one in text.split(";") if " !important" in one}
                plain = re.sub(r"\s*!important", "", text)
                for selector in tinycss2.serialize(rule.prelude).split(","):
                    found.append((selector.strip(), declarations(plain), important))
        return found

    def own(self, element: Any) -> dict[str, str]:
        """Declarations that hold for the element itself: rules, its style, then what is important."""
        names = {element.tag, *(f".{name}" for name in element.get("class", "").split())}
        matching = [(style, important) for selector, style, important in self.rules if selector in names]
        result: dict[str, str] = {}
        for style, _important in matching:
            _set(result, style)
        _set(result, declarations(element.get("style", "")))
        for style, important in matching:
            _set(result, {name: value for name, value in style.items() if name in important})
        return result

    def up(self, element: Any) -> Iterator[Any]:
        """Its parents, the nearest first."""
        while (element := self.parents.get(element)) is not None:
            yield element

    def computed(self, element: Any) -> dict[str, str]:
        """With what it inherits."""
        result: dict[str, str] = {}
        for one in (*reversed(list(self.up(element))), element):
            own = self.own(one)
            kept = {name: value for name, value in result.items() if name in INHERITED}
            result = {**kept, **own}
        return result

    def room(self, element: Any) -> float:
        """Width in px that the element's table cell gives it: the nearest stated width less the paddings."""
        taken = 0.0
        for one in self.up(element):
            if one.tag in ("td", "th"):
                padding = sides(self.own(one), "padding")
                taken += padding[1] + padding[3]
                if one.get("width", "").isdigit():
                    return float(one.get("width")) - taken
            elif one.tag == "table" and one.get("width", "").isdigit() and len(one.findall("tr/td")) == 1:
                return float(one.get("width")) - taken
            elif one.tag in ("div", "p"):
                margin = sides(self.own(one), "margin")
                taken += margin[1] + margin[3]
        raise AssertionError("nothing states a width")


def _set(result: dict[str, str], style: Mapping[str, str]) -> None:
    """A shorthand takes back its sides."""
    for name, value in style.items():
        for side in ("top", "right", "bottom", "left"):
            result.pop(f"{name}-{side}", None)
        result[name] = value
