"""Contrast of what is no text."""

from collections.abc import Iterator, Sequence

from handbill.colour.srgb import GRAPHIC, Rgb, as_ratio, contrast, over, written
from handbill.dom.css import View
from handbill.dom.tree import Element
from handbill.preflight.contract import WARNING, Hit, Rule, span
from handbill.preflight.inks import Ground
from handbill.preflight.page import PHONE, PHONE_DARK, Picture
from handbill.preflight.pixels import STRAY, colours
from handbill.preflight.specimen import Specimen

MOST = 48  # CSS px: what is larger is a picture, not a sign


def check(mail: Specimen) -> Iterator[Hit]:
    """Swatches by fill and border, stars and icons by their pixels, in the light and in the dark."""
    said: set[Element] = set()
    for view in (PHONE, PHONE_DARK):
        dark = " on dark screens" if view.scheme == "dark" else ""
        for element, ground, found in (*_drawn(mail, view), *_pictures(mail, view)):
            best = max((contrast(colour, ground.colour) for colour in found), default=GRAPHIC)
            if best < GRAPHIC and element not in said:
                said.add(element)
                name, own = _name(element), element.get("alt") or element.get("aria-label")
                message = f"“{name}” has a contrast of {as_ratio(best)} with its ground{dark}"
                pair = f"{written(found[0])} on {written(ground.colour)}"
                yield Hit(f"{message}, {pair}; {GRAPHIC:g}:1 is needed", span(element, own))


def _drawn(mail: Specimen, view: View) -> Iterator[tuple[Element, Ground, Sequence[Rgb]]]:
    """Elements that are a sign by themselves, what is behind them, and the colours they are drawn in."""
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
        yield element, behind, found


def _sign(element: Element) -> Element | None:
    """The sign that an element is, or is a part of."""
    return next((one for one in (element, *element.ancestors()) if one.get("role") == "img"), None)


def _name(element: Element) -> str:
    own = element.get("aria-label") or element.get("alt") or element.get("src").rpartition("/")[2]
    sign = None if own else _sign(element)
    return sign.get("aria-label") if sign is not None else own


def _pictures(mail: Specimen, view: View) -> Iterator[tuple[Element, Ground, Sequence[Rgb]]]:
    """Small pictures that are shown, with the colours that make up more than stray pixels of them."""
    grounds = mail.page.inks(view).grounds
    for picture in mail.page.pictures:
        ground, plan = grounds.get(picture.element), mail.picture(picture.src)
        if ground is None or plan is None or max(plan.width, plan.height) > MOST or _beside(picture):
            continue
        found = [colour for colour, share in colours(mail.bytes_of(plan)) if share > STRAY]
        yield picture.element, ground, found


def _beside(picture: Picture) -> bool:
    """Whether the picture is decoration that says nothing: empty alternative, in no link and no sign."""
    named = any(one.get("role") == "img" or one.tag == "a" for one in picture.element.ancestors())
    return not picture.alt and not named


RULE = Rule(
    slug="contrast-graphic",
    group="access",
    severity=WARNING,
    needs=frozenset({"html"}),
    about="Swatches, stars and icons stand out from their ground.",
    why="A sign that says something has to be seen; its outline counts.",
    source="WCAG 2.2 SC 1.4.11 (level AA): 3:1, not rounded",
    remedy="Change `ring`, `stars` or the icon's colour in the tone.",
    check=check,
)
