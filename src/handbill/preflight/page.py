"""The HTML as rules ask for it. Enters: a mail's HTML; leaves: its links, pictures, headings and words.

A link's name is what a screen reader says (Accessible Name and Description Computation 1.2, as far as mails
need it): a label, or else the words and alternative texts inside, without what is hidden from it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from handbill.base.frozen import dataclass
from handbill.dom.cascade import Sheet, sheet_for
from handbill.dom.css import View
from handbill.dom.parse import parse
from handbill.dom.tree import Element

if TYPE_CHECKING:
    from handbill.preflight.inks import Inks

Scheme = Literal["light", "dark"]
SCHEMES: tuple[Scheme, ...] = ("light", "dark")
PHONE, PHONE_DARK = View(390, 844), View(390, 844, "dark")
WIDTHS = (390, 600, 320, 360, 412, 430)  # CSS px: the commonest first, for messages name the first that fails
_SILENT = frozenset(("style", "script", "title", "head"))


@dataclass(frozen=True, slots=True)
class Link:
    """A link: where it leads, what a screen reader calls it, and its element."""

    href: str
    name: str
    element: Element


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture; `alt` is None where the attribute is missing, `link` the link around it."""

    src: str
    alt: str | None
    element: Element
    link: Element | None


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading of level 1 to 6."""

    level: int
    text: str
    element: Element


class Page:
    """A mail's HTML read back; each list in the order of the file. Places are bytes of the HTML."""

    def __init__(self, html: str, sections: Iterable[tuple[str, int, int]] = ()) -> None:
        self.document = parse(html.encode(), sections)
        self.body = self.document.body
        self._inks: dict[View, Inks] = {}
        self._like: dict[tuple[Sheet, Scheme], View] = {}

    @cached_property
    def links(self) -> tuple[Link, ...]:
        return tuple(
            Link(one.get("href").strip(), name_of(one), one)
            for one in self.body.iter("a")
            if "href" in one.attributes
        )

    @cached_property
    def pictures(self) -> tuple[Picture, ...]:
        return tuple(
            Picture(
                one.get("src"),
                one.attributes.get("alt"),
                one,
                next((above for above in one.ancestors() if above.tag == "a"), None),
            )
            for one in self.body.iter("img")
        )

    @cached_property
    def headings(self) -> tuple[Heading, ...]:
        return tuple(
            Heading(int(one.tag[1]), said(one), one)
            for one in self.body.iter("h1", "h2", "h3", "h4", "h5", "h6")
        )

    def inks_like(self, view: View) -> Inks:
        """The same as `inks`, taken from a view in which the same rules apply, if one was asked for."""
        sheet = sheet_for(self.document, view)
        like = self._like.setdefault((sheet, view.scheme), view)
        return self.inks(like)

    def views(self, scheme: Scheme) -> tuple[View, ...]:
        """The widths that are looked at, one for each set of the mail's rules that applies at some."""
        found: dict[Sheet, View] = {}
        for width in WIDTHS:
            view = View(width, 844, scheme)
            found.setdefault(sheet_for(self.document, view), view)
        return tuple(found.values())

    def inks(self, view: View) -> Inks:
        """All visible text in one view, with its colours."""
        from handbill.preflight.inks import Inks

        if view not in self._inks:
            self._inks[view] = Inks(self.document, view)
        return self._inks[view]

    @cached_property
    def text(self) -> str:
        """All words of the body, alternative texts left out."""
        return " ".join(" ".join(_words(self.body, alt=False)).split())


def name_of(element: Element) -> str:
    """What a screen reader calls an element."""
    return element.get("aria-label").strip() or said(element)


def said(element: Element) -> str:
    """The words and alternative texts inside an element, on one line."""
    return " ".join("".join(_words(element, alt=True)).split())


def _words(element: Element, alt: bool) -> Iterator[str]:
    for child in element.children:
        if isinstance(child, str):
            yield child
        elif child.tag in _SILENT or (alt and child.get("aria-hidden") == "true"):
            continue
        elif child.tag == "br":
            yield " "
        elif alt and child.get("aria-label"):
            yield f" {child.get('aria-label')} "
        elif child.tag == "img":
            if alt:
                yield f" {child.get('alt')} "
        else:
            inline = child.tag in ("a", "b", "em", "i", "s", "span", "strong", "u", "sub", "sup", "font")
            yield "" if inline else " "
            yield from _words(child, alt)
            yield "" if inline else " "
