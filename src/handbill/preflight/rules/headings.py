"""The order of headings."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, head, span
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """More than one first heading, steps left out, headings without words."""
    headings = [one for one in mail.page.headings if one.element.get("aria-hidden") != "true"]
    tops = [one for one in headings if one.level == 1]
    for more in tops[1:]:
        yield Hit(
            f"“{more.text}” is a second heading of the first level",
            span(more.element, more.text),
            (span(tops[0].element, tops[0].text),),
        )
    if headings and not tops:
        yield Hit("no heading is of the first level", span(headings[0].element, headings[0].text))
    before = 0
    for one in headings:
        if not one.text:
            yield Hit("a heading has no words", span(one.element))
        if before and one.level > before + 1:
            message = f"“{one.text}” is of level {one.level}, right after one of level {before}"
            yield Hit(message, span(one.element, one.text))
        before = one.level
    if not headings and len(mail.page.text.split()) > LONG:
        yield Hit(f"a mail of more than {LONG} words has no heading at all", head("stack"))


LONG = 200  # words: a letter needs no heading

RULE = Rule(
    slug="headings",
    group="access",
    severity=WARNING,
    needs=frozenset({"html"}),
    about="Headings make an outline: one of the first level, no step left out.",
    why="Screen readers walk through a mail by its headings.",
    source="WCAG 2.2 SC 1.3.1 (level A), technique H42; no step left out: common practice",
    remedy="Take the level in a block's template from {{ level }} and {{ inner }}, never from the size "
    "wanted.",
    check=check,
)
