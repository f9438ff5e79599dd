"""A mail laid out, as rules ask for it. Enters: a layout; leaves: places of elements and their text, px."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

from handbill.base.frozen import dataclass
from handbill.dom.tree import Element
from handbill.measure.layout import Layout


@dataclass(frozen=True, slots=True)
class Spot:
    """A rectangle in px from the mail's upper left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.x + self.width

    @property
    def bottom(self) -> float:
        return self.y + self.height


class Laid:
    """Boxes of one mail on one screen."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.screen = layout.screen

    @cached_property
    def places(self) -> Mapping[Element, Spot]:
        """The border box of every element that shows."""
        return {element: Spot(*place) for element, place in self.layout.places.items()}

    @cached_property
    def texts(self) -> Mapping[Element, Spot]:
        """The rectangle around the lines of text that stand straight in an element."""
        return {element: _around(lines) for element, lines in self.layout.lined if lines}

    def text_of(self, element: Element) -> Spot | None:
        """Where the text of an element stands: its own lines, or those of what it stands in."""
        if element in self.texts:
            return self.texts[element]
        if element in self.places and element.tag != "td":
            return self.places[element]
        return next((self.texts[one] for one in element.ancestors() if one in self.texts), None)


def _around(lines: Sequence[tuple[float, float, float, float]]) -> Spot:
    left, top = min(line[0] for line in lines), min(line[1] for line in lines)
    right, bottom = max(line[0] + line[2] for line in lines), max(line[1] + line[3] for line in lines)
    return Spot(left, top, right - left, bottom - top)
