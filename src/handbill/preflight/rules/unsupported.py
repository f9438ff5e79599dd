"""What main readers do not know."""

import re
from collections.abc import Iterator
from functools import cache

from handbill.dom.css import declarations
from handbill.dom.tree import Element
from handbill.preflight.contract import WARNING, Hit, Rule
from handbill.preflight.part import Part
from handbill.readers.names import attribute_names, element_name, property_name, value_names
from handbill.readers.recorded import recorded
from handbill.readers.support import MAIN, features

_WORD = re.compile(r"[a-z-]+\(|!important|[-+]?[\d.]+(?:%|[a-z]+)|[a-z-]+", re.IGNORECASE)
_NAMED = 4  # readers that a finding lists


def each(part: Part) -> Iterator[Hit]:
    """Elements, attributes and styles that some main reader lacks, and of which no record speaks."""
    used: dict[str, Element] = {}
    for element in part.page.body.iter():
        for name in _uses(element):
            used.setdefault(name, element)
    for name in used:
        if lack := lacking(name):
            more = f" and {len(lack) - _NAMED} more" if len(lack) > _NAMED else ""
            feature = features()[name]
            readers = ", ".join(lack[:_NAMED])
            message = f"{feature.title} (tested {feature.tested}) is unknown to {readers}{more}"
            yield Hit(f"{message}; here in <{used[name].tag}>")


def _uses(element: Element) -> Iterator[str]:
    yield element_name(element.tag)
    for name, value in element.attributes.items():
        if name == "style":
            yield from _styles(value)
        elif name not in ("class", "id"):
            yield from attribute_names(element.tag, name, value)


@cache
def _styles(style: str) -> frozenset[str]:
    body = declarations(style)
    names: set[str] = set()
    for name, value in (*body.normal, *body.important):
        if not name.startswith("mso-"):
            names.add(property_name(name))
            names.update(value_names(name, _WORD.findall(value)))
    return frozenset(names)


@cache
def lacking(name: str) -> tuple[str, ...]:
    """The main readers known not to have a feature at all, unless the lack is on record."""
    feature = features().get(name)
    if feature is None or name in recorded():
        return ()
    return tuple(reader.name for reader in MAIN if feature.verdict(reader).mark == "n")


RULE = Rule(
    slug="unsupported",
    group="readers",
    severity=WARNING,
    needs=frozenset({"html"}),
    about="Blocks use what the main mail readers know, or degrade on purpose.",
    why="What a reader does not know it leaves out, or shows in a way nobody looked at. The data are "
    "people's tests of single features, many of them years old; the date is given.",
    source='the open data "Can I email", file of 2025-09-09; which readers are the main ones: common '
    "practice",
    remedy="Write the block without it; docs/readers.md says what the built-in blocks do instead.",
    each=each,
)
