"""Text and what is behind it. Enters: a page and a view; leaves: every stretch of text with its two colours.

Grounds are laid over each other with their alpha, from the window's white up (CSS Color 4 section 14).
A picture behind the text is named, not looked at: its solid colour counts here, its pixels elsewhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from handbill.base.frozen import dataclass
from handbill.colour.srgb import Rgb, Rgba, contrast, needed, over
from handbill.dom.cascade import Styler
from handbill.dom.css import View, declarations
from handbill.dom.style import Style
from handbill.dom.tree import Document, Element

WHITE: Rgb = (255, 255, 255)
_UNSEEN = re.compile(r"[\s\u00a0\u034f\u200b-\u200f\u2060\u2066-\u2069\ufeff]*")
_NO_SIZE = "0 0"
_URL = re.compile(r"url\(\s*['\"]?([^'\")]*)['\"]?\s*\)")


@dataclass(frozen=True, slots=True)
class Ground:
    """What lies behind an element: its colour, the element whose colour it is, and a picture above that.

    `owner` is None where nothing sets a colour and the window's white shows. `size` is the picture's
    `background-size` where it lies there in several layers, of which one has a size.
    """

    colour: Rgb = WHITE
    owner: Element | None = None
    picture: str = ""
    holder: Element | None = None
    size: str = ""


@dataclass(frozen=True, slots=True)
class Ink:
    """A stretch of text: its colour, its ground, its size in px, its weight and its font stack."""

    text: str
    element: Element
    colour: Rgb
    ground: Ground
    size: float
    weight: int
    family: str

    @property
    def ratio(self) -> float:
        """The contrast that it has."""
        return contrast(self.colour, self.ground.colour)

    @property
    def needed(self) -> float:
        """The contrast that level AA asks for (SC 1.4.3)."""
        return needed(self.size, self.weight)


class Inks:
    """All visible text of a document in one view, and the ground behind any element."""

    def __init__(self, document: Document, view: View) -> None:
        self.styler = Styler(document, view)
        self.grounds: dict[Element, Ground] = {}
        self.texts: tuple[Ink, ...] = tuple(self._walk(document.body, Ground(), 1.0))

    def _walk(self, element: Element, behind: Ground, opacity: float) -> Iterator[Ink]:
        style = self.styler.of(element)
        if style.display == "none" or element.tag in ("style", "script", "title"):
            return
        opacity *= style.opacity
        if opacity == 0:
            return
        ground = self.grounds[element] = self._on(behind, element, style)
        for child in element.children:
            if isinstance(child, Element):
                yield from self._walk(child, ground, opacity)
            elif style.visible and style.font_size > 1 and not _UNSEEN.fullmatch(child):
                red, green, blue, alpha = style.color
                ink: Rgba = (red, green, blue, alpha * opacity)
                yield Ink(
                    " ".join(child.split()), element, over(ink, ground.colour), ground, style.font_size,
                    style.font_weight, style.font_family,
                )  # fmt: skip

    def _on(self, behind: Ground, element: Element, style: Style) -> Ground:
        colour, image = style.background_color, style.background_image or element.get("background")
        if colour[3] == 0 and not image:
            return behind
        ground = over(colour, behind.colour)
        owner = element if colour[3] else behind.owner
        if image:
            found = _URL.search(image)
            picture, size = self._layer(element) or (found[1] if found else image, "")
            return Ground(ground, owner, picture, element, size)
        if colour[3] == 1:
            return Ground(ground, owner)
        return Ground(ground, owner, behind.picture, behind.holder, behind.size)

    def _layer(self, element: Element) -> tuple[str, str] | None:
        """The one of several pictures behind an element that has a size, and that size (CSS Backgrounds 3,
        2.9)."""
        given = dict(declarations(element.get("style")).normal)
        pictures = _URL.findall(given.get("background-image", ""))
        if len(pictures) < 2:
            return None
        size = given.get("background-size", "auto")
        for body in self.styler.sheet.matching(element):
            size = dict(body.important).get("background-size", size)
        sizes = [one.strip() for one in size.split(",")]
        layers = ((picture, sizes[at % len(sizes)]) for at, picture in enumerate(pictures))
        return next((layer for layer in layers if layer[1] != _NO_SIZE), None)


def grouped(inks: Iterable[Ink]) -> Iterator[tuple[Ink, int]]:
    """One ink for each pair of colours and kind of size, and how many it stands for."""
    first: dict[tuple[object, ...], list[Ink]] = {}
    for ink in inks:
        first.setdefault((ink.colour, ink.ground.colour, ink.needed), []).append(ink)
    for same in first.values():
        yield same[0], len(same)
