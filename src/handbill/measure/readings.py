"""Numbers a mail is talked about in. Enters: a `Layout`; leaves: `Readings`, all places in px from the mail's
top.

Nothing here is a grade. What counts as a button: a link that stands alone in a cell with a fill or border of
its own, or that is painted or well padded itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from urllib.parse import urldefrag

from handbill.base.frozen import dataclass
from handbill.dom.style import Style
from handbill.dom.tree import Element
from handbill.dom.values import Colour
from handbill.measure.layout import Layout
from handbill.measure.words import count_words

# WCAG 2.2 SC 2.5.8 Target Size (Minimum) and SC 2.5.5 Target Size (Enhanced), CSS px.
LEAST_TARGET, GOOD_TARGET = 24, 44
Place = tuple[float, float, float, float]  # x, y, width, height
# px on every side that make a link without fill or border a button (our own bound).
_PADDED = 8
_NEVER = ("script", "style", "title", "head")


@dataclass(frozen=True, slots=True)
class Link:
    """A link that shows; the place is what can be tapped."""

    element: Element
    address: str
    text: str
    section: str | None
    x: float
    y: float
    width: float
    height: float

    def at_least(self, px: float) -> bool:
        """Whether it can be tapped over `px` by `px`, to the nearest half px."""
        return min(self.width, self.height) >= px - 0.5


@dataclass(frozen=True, slots=True)
class Button:
    """`link` is what can be tapped, `painted` the whole button as it shows, `fill` its colour if it has
    one."""

    link: Link
    painted: Place
    fill: Colour | None

    @property
    def label(self) -> str:
        return self.link.text

    @property
    def section(self) -> str | None:
        return self.link.section

    @property
    def y(self) -> float:
        return self.painted[1]

    @property
    def bottom(self) -> float:
        return self.painted[1] + self.painted[3]


@dataclass(frozen=True, slots=True)
class Text:
    """Text that stands straight in one box, with the inline elements in it; `lines` is how many it takes."""

    element: Element
    text: str
    section: str | None
    style: Style
    x: float
    y: float
    width: float
    height: float
    lines: int


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture that shows; backgrounds are not among them."""

    element: Element
    address: str
    alt: str | None
    section: str | None
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Sighting:
    """Where a string is first read: the text it stands in, and that text's y and section."""

    said: str
    text: Text
    y: float
    section: str | None


@dataclass(frozen=True, slots=True)
class Readings:
    """What was measured on one screen.

    `main` is the first filled button, or the first one if none is filled. `first_screen` px show before
    scrolling, by assumption. Shares are fractions of the mail's whole area. `destinations` counts distinct
    addresses of links without their fragments, `destinations_before_main` those that come before the main
    button, itself not counted. `words` counts what shows; characters in Chinese and Japanese.
    """

    width: float
    height: float
    first_screen: int
    screens: float
    buttons: tuple[Button, ...]
    main: Button | None
    links: tuple[Link, ...]
    texts: tuple[Text, ...]
    pictures: tuple[Picture, ...]
    picture_share: float
    text_share: float
    amount: Sighting | None
    code: Sighting | None
    destinations: int
    destinations_before_main: int
    words: int
    notes: tuple[str, ...]

    @property
    def main_in_first_screen(self) -> bool:
        """Whether the whole main button shows before anyone scrolls."""
        return self.main is not None and self.main.bottom <= self.first_screen


def readings(layout: Layout, *, amounts: Iterable[str] = (), codes: Iterable[str] = ()) -> Readings:
    """Take the readings. `amounts` are strings that say how much is off ("60%"), `codes` are offer codes."""
    return _Reader(layout).read(list(amounts), list(codes))


class _Reader:
    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.of = layout.styler.of
        self.places = layout.places
        self.sections = layout.document.sections
        self.links: list[Link] = []
        self.texts: list[Text] = []
        self.pictures: list[Picture] = []
        self.buttons: list[Button] = []

    def read(self, amounts: Sequence[str], codes: Sequence[str]) -> Readings:
        layout = self.layout
        for element in self.places:
            tag = element.tag
            if tag == "img":
                self.picture(element)
            elif tag == "a" and "href" in element.attributes:
                self.link(element)
        self.texts = [self.text(element, lines) for element, lines in layout.lined]
        area = layout.screen.width * layout.height or 1.0
        main = next((one for one in self.buttons if one.fill), next(iter(self.buttons), None))
        addresses = [urldefrag(one.address).url for one in self.links]
        before = set()
        if main is not None:
            before = {
                address
                for address, link in zip(addresses, self.links, strict=True)
                if link.element.start < main.link.element.start
            } - {urldefrag(main.link.address).url}
        return Readings(
            width=layout.width,
            height=layout.height,
            first_screen=layout.screen.first_screen,
            screens=layout.height / layout.screen.height,
            buttons=tuple(self.buttons),
            main=main,
            links=tuple(self.links),
            texts=tuple(self.texts),
            pictures=tuple(self.pictures),
            picture_share=sum(one.width * one.height for one in self.pictures) / area,
            text_share=layout.text_area / area,
            amount=self.sighting(amounts),
            code=self.sighting(codes),
            destinations=len(set(addresses)),
            destinations_before_main=len(before),
            words=sum(count_words(one.text) for one in self.texts),
            notes=layout.notes,
        )

    def section(self, element: Element) -> str | None:
        at = element.start
        for one in self.sections:
            if one.start <= at < one.end:
                return one.id
        return None

    def picture(self, element: Element) -> None:
        x, y, width, height = self.places[element]
        given = element.attributes
        self.pictures.append(
            Picture(
                element, given.get("src", ""), given.get("alt"), self.section(element), x, y, width, height
            )
        )

    def link(self, element: Element) -> None:
        x, y, width, height = self.places[element]
        text = " ".join(self.shown(element).split())
        link = Link(element, element.get("href"), text, self.section(element), x, y, width, height)
        self.links.append(link)
        if not text or next(element.iter("img"), None) is not None:
            return
        style = self.of(element)
        holder = self.holder(element)
        own = _drawn(style)
        if holder is not None and (own or _drawn(self.of(holder))):
            fill = style.background_color if style.background_color[3] else self.of(holder).background_color
            place = self.places.get(holder, (x, y, width, height))
            if _drawn(self.of(holder)):
                self.buttons.append(Button(link, place, fill if fill[3] else None))
                return
        if own or min(style.padding) >= _PADDED:
            fill = style.background_color
            self.buttons.append(Button(link, (x, y, width, height), fill if fill[3] else None))

    def holder(self, element: Element) -> Element | None:
        """The cell that holds nothing but this link."""
        node = element.parent
        while node is not None:
            if len(node.elements) != 1 or any(isinstance(one, str) and one.strip() for one in node.children):
                return None
            if node.tag in ("td", "th"):
                style = self.of(node)
                behind = self.behind(node)
                if any(style.border) or (style.background_color[3] and style.background_color != behind):
                    return node
                return None
            node = node.parent
        return None

    def behind(self, element: Element) -> Colour | None:
        for one in element.ancestors():
            colour = self.of(one).background_color
            if colour[3]:
                return colour
        return None

    def shown(self, element: Element) -> str:
        """The text of an element that shows."""
        parts: list[str] = []
        for child in element.children:
            if isinstance(child, str):
                parts.append(child)
            elif child.tag == "br":
                parts.append(" ")
            elif child.tag not in _NEVER and self.of(child).display != "none":
                inner = self.shown(child)
                parts.append(inner if self.of(child).display == "inline" else f" {inner} ")
        return "".join(parts)

    def text(self, element: Element, lines: Sequence[Place]) -> Text:
        x, y = min(one[0] for one in lines), min(one[1] for one in lines)
        right, bottom = max(one[0] + one[2] for one in lines), max(one[1] + one[3] for one in lines)
        return Text(
            element, " ".join(self.straight(element).split()), self.section(element), self.of(element),
            x, y, right - x, bottom - y, len(lines),
        )  # fmt: skip

    def straight(self, element: Element) -> str:
        """The text on an element's own lines: what stands in boxes of its own inside it is theirs."""
        parts: list[str] = []
        for child in element.children:
            if isinstance(child, str):
                parts.append(child)
            elif child.tag == "br":
                parts.append("\n")
            elif self.of(child).display == "inline":
                parts.append(self.straight(child))
        return "".join(parts)

    def sighting(self, wanted: Sequence[str]) -> Sighting | None:
        plain = [" ".join(one.split()).casefold() for one in wanted if one.strip()]
        for text in sorted(self.texts, key=lambda one: one.y):
            said = text.text.casefold()
            for one, written in zip(plain, wanted, strict=False):
                if one in said:
                    return Sighting(written, text, text.y, text.section)
        return None


def _drawn(style: Style) -> bool:
    """Whether a box paints a fill or a border around itself."""
    return bool(style.background_color[3] or (style.border[0] and style.border[2]))
