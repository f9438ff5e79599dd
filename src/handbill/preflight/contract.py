"""What a rule is. Enters: nothing; leaves: the types that a rule file fills in and the runner works with.

A rule reads facets of a mail, says what is wrong and where in its own terms (a field, a stretch of HTML), and
never handles lines of a file. A facet that a mail lacks means "not run", never a pass.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from enum import IntEnum
from typing import TYPE_CHECKING, Literal

from handbill.base.errors import Place
from handbill.base.frozen import dataclass

if TYPE_CHECKING:
    from handbill.dom.tree import Element
    from handbill.preflight.part import Part
    from handbill.preflight.specimen import Specimen

#: What a rule can ask for: the campaign's values; the offer, catalogue and reviews; the rendered HTML; the
#: text part; the header fields; measured boxes.
Facet = Literal["source", "facts", "html", "text", "headers", "layout"]
Group = Literal["copy", "links", "access", "readers", "delivery", "brand", "practice", "truth"]
GROUPS: tuple[Group, ...] = (
    "truth", "delivery", "access", "links", "copy", "readers", "brand", "practice",
)  # fmt: skip
Way = tuple[str | int, ...]


class Severity(IntEnum):
    """How much a finding weighs. Errors fail a run, warnings fail a strict one, notes never do."""

    NOTE = 1
    WARNING = 2
    ERROR = 3

    @property
    def word(self) -> str:
        """`note`, `warning` or `error`."""
        return self.name.lower()

    @classmethod
    def of(cls, word: str) -> Severity:
        """The severity called `word`."""
        return cls[word.upper()]


NOTE, WARNING, ERROR = Severity.NOTE, Severity.WARNING, Severity.ERROR


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a rule's terms.

    `file` is campaign, brand or workspace; `section` an id, when the place is in a section; `way` leads from
    there to a field. `span` counts bytes of the HTML from 0 (first, end). `near` are words that stand in
    the field at fault: the runner looks for them to get from a section to a line. `row` is a row of the
    shop's own files (catalogue, reviews, prices), which knows its place.
    """

    file: Literal["campaign", "brand", "workspace", "html"] = "campaign"
    section: str = ""
    way: Way = ()
    span: tuple[int, int] | None = None
    near: str = ""
    row: Place | None = None


@dataclass(frozen=True, slots=True)
class Hit:
    """What a rule found. `also` are other places that the message speaks of.

    `remedy` takes the place of the rule's own where the case allows better advice.
    """

    message: str
    where: Where = Where()
    also: tuple[Where, ...] = ()
    remedy: str = ""


def head(*way: str | int) -> Where:
    """A field of the campaign outside its stack."""
    return Where(way=way)


def brand(*way: str | int) -> Where:
    """A field of brand.yaml."""
    return Where(file="brand", way=way)


def workspace(*way: str | int) -> Where:
    """A field of handbill.yaml."""
    return Where(file="workspace", way=way)


def section(id: str, *way: str | int, near: str = "") -> Where:
    """A section of the stack, or a field of it."""
    return Where(section=id, way=way, near=near)


def span(element: Element, near: str = "") -> Where:
    """An element of the HTML."""
    return Where(file="html", span=(element.start, element.end), near=near)


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule.

    `slug` names it everywhere; `about` says in a sentence what holds when it is content; `source` is a
    standard's section, a law, or `common practice`; `remedy` says what to do; `arm` names the practice that a
    variant breaks to test it (`handbill.vary.practice`). `check` looks at the mail, or with `each` at one
    section, and yields what it finds.
    """

    slug: str
    group: Group
    severity: Severity
    needs: frozenset[Facet]
    about: str
    why: str
    source: str
    remedy: str
    check: Callable[[Specimen], Iterable[Hit]] | None = None
    each: Callable[[Part], Iterable[Hit]] | None = None
    arm: str = ""

    @property
    def cheap(self) -> bool:
        """Whether `handbill compile` runs it: it looks at one section, at its source and HTML alone."""
        return self.each is not None and self.needs <= {"source", "html"}


@dataclass(frozen=True, slots=True)
class Finding:
    """Something to look at, with its place in the author's file.

    `section` is the section's id, empty for the mail as a whole; `also` are other places it speaks of;
    `variants` the ids of the variants it was found in.
    """

    rule: str
    severity: Severity
    place: Place
    section: str
    message: str
    remedy: str = ""
    also: tuple[Place, ...] = ()
    variants: tuple[str, ...] = ()

    @property
    def key(self) -> tuple[object, ...]:
        """The same for one and the same finding in several variants."""
        return self.rule, self.severity, self.place, self.section, self.message, self.also


@dataclass(frozen=True, slots=True)
class NotRun:
    """A rule that could not look: the facet it needs is missing, for the reason given."""

    rule: str
    facet: str
    reason: str
