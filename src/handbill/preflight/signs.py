"""Signs that are no text: swatches, stars, icons. Enters: a mail in a view; leaves: each with its colours and
ground."""

from __future__ import annotations

from collections.abc import Iterator

from handbill.base.frozen import dataclass
from handbill.colour.srgb import Rgb, over
from handbill.dom.css import View
from handbill.dom.tree import Element
from handbill.preflight.inks import Ground
from handbill.preflight.page import Picture
from handbill.preflight.pixels import STRAY, colours
from handbill.preflight.specimen import Specimen

MOST = 48  # CSS px: what is larger is a picture, not a sign


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign, what is behind it, and the colours it is drawn in.

    `pixels` says that they are a picture's, which no reader changes.
    """

    element: Element
    ground: Ground
    colours: tuple[Rgb, ...]
    pixels: bool

    @property
    def name(self) -> str:
        """What it says, or its file, or what the row of signs says that it is one of."""
        given = self.element
        own = given.get("aria-label") or given.get("alt") or given.get("src").rpartition("/")[2]
        around = None if own else _sign(given)
        return around.get("aria-label") if around is not None else own

    @property
    def own(self) -> str:
        """What it says itself."""
        return self.element.get("alt") or self.element.get("aria-label")


def signs(mail: Specimen, view: View) -> Iterator[Sign]:
    """Every sign that shows in a view."""
    yield from _drawn(mail, view)
    yield from _pictures(mail, view)


def _drawn(mail: Specimen, view: View) -> Iterator[Sign]:
    """Elements that are a sign by themselves."""
    inks = mail.page.inks(view)
    for element in mail.page.body.iter("td", "span", "div"):
        behind = inks.grounds.get(element.parent) if element.parent is not None else None
        if behind is None or element not in inks.grounds or _sign(element) is None:
            continue  # a row of swatches is one sign, and each of them has to be seen
        style, ground = inks.styler.of(element), inks.grounds[element]
        inside = set(element.iter()) if element.get("role") == "img" else set()
        found = [ground.colour] if ground.owner is element else []
        found += [
            over(colour, ground.colour)
            for width, colour in zip(style.border, style.border_colors, strict=True)
            if width
        ]
        found += [ink.colour for ink in inks.texts if ink.element in inside]
        yield Sign(element, behind, tuple(found), False)


def _sign(element: Element) -> Element | None:
    """The sign that an element is, or is a part of."""
    return next((one for one in (element, *element.ancestors()) if one.get("role") == "img"), None)


def _pictures(mail: Specimen, view: View) -> Iterator[Sign]:
    """Small pictures that are shown, with the colours that make up more than stray pixels of them."""
    grounds = mail.page.inks(view).grounds
    for picture in mail.page.pictures:
        ground, plan = grounds.get(picture.element), mail.picture(picture.src)
        if ground is None or plan is None or max(plan.width, plan.height) > MOST or _beside(picture):
            continue
        found = [colour for colour, share in colours(mail.bytes_of(plan)) if share > STRAY]
        yield Sign(picture.element, ground, tuple(found), True)


def _beside(picture: Picture) -> bool:
    """Whether the picture is decoration that says nothing: empty alternative, in no link and no sign."""
    named = any(one.get("role") == "img" or one.tag == "a" for one in picture.element.ancestors())
    return not picture.alt and not named
