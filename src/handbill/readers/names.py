"""Which feature of the support data a piece of a mail uses. Enters: elements, attributes, CSS; leaves: names.

A name is the data's slug where they have one ("css-padding"), otherwise a name of our own with a colon
("css:color", "html:s", "attr:bgcolor", "css-value:inherit"): of those the data say nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from handbill.readers.support import features

_SIDES = re.compile(r"-(?:top|right|bottom|left)(?=-|$)")
_BORDER_PART = re.compile(r"border(?:-(?:top|right|bottom|left))?(?:-(?:width|style|color))?")
_RADIUS = re.compile(r"border-(?:top|bottom)-(?:left|right)-radius")
_PROPERTIES = {
    **dict.fromkeys(("left", "right", "top", "bottom"), "css-left-right-top-bottom"),
    **dict.fromkeys(("gap", "row-gap", "column-gap"), "css-gap"),
    **dict.fromkeys(("word-wrap",), "css-word-wrap"),
}
_ELEMENTS = {
    **dict.fromkeys(("table", "caption", "thead", "tbody", "tfoot", "tr", "td", "th"), "html-table"),
    **dict.fromkeys(("h1", "h2", "h3", "h4", "h5", "h6"), "html-h1-h6"),
    **dict.fromkeys(("ul", "ol", "li", "dl", "dt", "dd"), "html-lists"),
    **dict.fromkeys(
        ("article", "aside", "details", "figcaption", "figure", "footer", "header", "main", "mark", "nav",
         "section", "summary", "time"), "html-semantics"),
    "map": "html-image-maps",
    "area": "html-image-maps",
}  # fmt: skip
_ATTRIBUTES = {"sizes": "html-srcset", "loading": "html-loading-attribute"}
_VALUES = {  # words of a value that the data list by themselves
    ("display", "none"): "css-display-none",
    **{("display", word): "css-display-flex" for word in ("flex", "inline-flex")},
    **{("display", word): "css-display-grid" for word in ("grid", "inline-grid")},
}
_FUNCTIONS = {
    "calc": "css-unit-calc",
    "var": "css-variables",
    "url": "",  # says no more than its property does
    **{
        name: f"css-{name}"
        for name in ("rgb", "rgba", "linear-gradient", "radial-gradient", "conic-gradient")
    },
    **{name: f"css-function-{name}" for name in ("clamp", "max", "min", "light-dark")},
    **dict.fromkeys(("lab", "lch", "oklab", "oklch"), "css-modern-color"),
}
_WIDE = ("inherit", "initial", "unset", "revert")  # CSS-wide words, CSS Cascade 5 section 7.3
_SELECTORS = {
    "type": "css-selector-type",
    "class": "css-selector-class",
    "id": "css-selector-id",
    "attribute": "css-selector-attribute",
    "universal": "css-selector-universal",
    "descendant": "css-selector-descendant",
    "child": "css-selector-child",
    "adjacent": "css-selector-adjacent-sibling",
    "sibling": "css-selector-general-sibling",
    "grouping": "css-selector-grouping",
    "chaining": "css-selector-chaining",
}
_FORMATS = ("jpg", "png", "gif", "webp", "avif", "svg", "apng", "bmp")
_IMAGES = {**{end: f"image-{end}" for end in _FORMATS}, "jpeg": "image-jpg"}


def property_name(name: str) -> str:
    """`padding-left` → css-padding, `color` → css:color."""
    if name in _PROPERTIES:
        return _PROPERTIES[name]
    if _RADIUS.fullmatch(name):
        return "css-border-radius"
    if _BORDER_PART.fullmatch(name):
        return "css-border"
    return _known(f"css-{name}") or _known(f"css-{_SIDES.sub('', name)}") or f"css:{name}"


def value_names(property_: str, words: Iterable[str]) -> Iterator[str]:
    """What a value's words use beyond the property: `12px`, `40%`, `none`, `rgb(`, `!important`."""
    for word in words:
        if word == "!important":
            yield "css-important"
        elif word in _WIDE:
            yield _known(f"css-unit-{word}") or f"css-value:{word}"
        elif word.endswith("("):
            name = _FUNCTIONS.get(word[:-1], f"css-function:{word[:-1]}")
            if name:
                yield name
        elif found := re.fullmatch(r"[-+.\d]+(%|[a-z]+)", word):
            unit = "percent" if found[1] == "%" else found[1]
            yield _known(f"css-unit-{unit}") or f"css-unit:{unit}"
        elif (property_, word) in _VALUES:
            yield _VALUES[property_, word]


def selector_name(kind: str, word: str = "") -> str:
    """A kind of selector (`class`, `descendant`, …), or `pseudo` with its word (`hover`, `root`)."""
    if kind == "pseudo":
        return (
            _known(f"css-pseudo-class-{word}") or _known(f"css-pseudo-element-{word}") or f"css-pseudo:{word}"
        )
    return _SELECTORS[kind]


def at_rule_names(name: str, features_: Iterable[str] = ()) -> Iterator[str]:
    """An at-rule and the media features it asks for (`prefers-color-scheme`, `min-width`)."""
    yield _known(f"css-at-{name}") or f"css-at:{name}"
    for feature in features_:
        if not re.fullmatch(r"(?:min-|max-)?(?:width|height)", feature):  # css-at-media was tested with these
            yield _known(f"css-at-{name}-{feature}") or f"css-at:{name} {feature}"


def element_name(tag: str) -> str:
    return _ELEMENTS.get(tag) or _known(f"html-{tag}") or f"html:{tag}"


def attribute_names(tag: str, name: str, value: str) -> Iterator[str]:
    """An attribute; of links where they lead, of pictures their format, of `meta` what it asks for."""
    if tag == "meta":
        said = f"meta:{value}" if name == "name" else f"attr:{name}"
        yield "html-meta-color-scheme" if said == "meta:color-scheme" else said
        return
    yield _ATTRIBUTES.get(name) or _known(f"html-{name}") or f"attr:{name}"
    if name == "href":
        if value.startswith("mailto:"):
            yield "html-mailto-links"
        elif value.startswith("#"):
            yield "html-anchor-links"
        elif value.startswith("tel:"):
            yield "link:tel"
    elif name in ("src", "background"):
        yield image_name(value)


def image_name(source: str) -> str:
    """The format by the name's end; a picture inside the document counts by that."""
    if source.startswith("data:"):
        return "image-base64"
    end = source.partition("?")[0].rpartition(".")[2].lower()
    return _IMAGES.get(end, f"image:{end}")


def _known(slug: str) -> str:
    return slug if slug in features() else ""
