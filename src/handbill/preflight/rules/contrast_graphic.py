"""Contrast of what is no text."""

from collections.abc import Iterator

from handbill.colour.srgb import GRAPHIC, Rgb, as_ratio, contrast, over, rgb, written
from handbill.dom.css import View
from handbill.dom.tree import Element
from handbill.preflight.contract import WARNING, Hit, Rule, span
from handbill.preflight.inks import Ground
from handbill.preflight.page import PHONE, PHONE_DARK
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Swatches and other drawn signs by fill and border; icons by their tint."""
    tints = {plan.name: plan.tint for plan in mail.mail.plans if plan.tint}
    for view in (PHONE, PHONE_DARK):
        inks = mail.page.inks(view)
        dark = " on dark screens" if view.scheme == "dark" else ""
        for element, behind in _signs(mail, view):
            best = max(contrast(colour, behind.colour) for colour in _colours(mail, view, element))
            if best < GRAPHIC:
                name = element.get("aria-label") or "a sign"
                message = f"“{name}” has a contrast of {as_ratio(best)} with its ground{dark}"
                yield Hit(f"{message}; {GRAPHIC:g}:1 is needed", span(element, name))
        for picture in mail.page.pictures:
            tint = tints.get(picture.src.rpartition("/")[2])
            ground = inks.grounds.get(picture.element)
            if tint is None or ground is None:
                continue
            ratio = contrast(rgb(tint), ground.colour)
            if ratio < GRAPHIC:
                pair = f"{tint} on {written(ground.colour)}"
                message = f"the icon {picture.alt or picture.src.rpartition('/')[2]} has a contrast of"
                yield Hit(
                    f"{message} {as_ratio(ratio)}{dark}, {pair}; {GRAPHIC:g}:1 is needed",
                    span(picture.element),
                )


def _signs(mail: Specimen, view: View) -> Iterator[tuple[Element, Ground]]:
    """Elements that are a picture by themselves, with what is behind them."""
    grounds = mail.page.inks(view).grounds
    for element in mail.page.body.iter("td", "span", "div"):
        if element.get("role") == "img" and element.parent is not None and element.parent in grounds:
            yield element, grounds[element.parent]


def _colours(mail: Specimen, view: View, element: Element) -> Iterator[Rgb]:
    style, ground = mail.page.inks(view).styler.of(element), mail.page.inks(view).grounds[element]
    yield ground.colour
    for width, colour in zip(style.border, style.border_colors, strict=True):
        if width:
            yield over(colour, ground.colour)
    inside = set(element.iter())
    for ink in mail.page.inks(view).texts:
        if ink.element in inside:
            yield ink.colour


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
