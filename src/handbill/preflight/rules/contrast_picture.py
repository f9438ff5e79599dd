"""Contrast of text over pictures."""

from collections.abc import Iterator

from handbill.colour.srgb import Rgb, as_ratio, contrast, written
from handbill.dom.css import View
from handbill.dom.tree import Element
from handbill.measure.layout import Screen
from handbill.preflight.backdrop import region
from handbill.preflight.contract import ERROR, Hit, Rule, span
from handbill.preflight.contrasts import cut
from handbill.preflight.inks import Ink
from handbill.preflight.page import SCHEMES
from handbill.preflight.pixels import STRAY, colours
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Every text over a picture, against that part of the picture which lies under it, on every screen."""
    said: set[Element] = set()
    for screen in mail.screens:
        for scheme in SCHEMES:
            view = View(screen.width, screen.height, scheme)
            for ink in mail.page.inks_like(view).texts:
                if not ink.ground.picture or ink.element in said:
                    continue
                worst = _worst(mail, ink, screen, view)
                if worst is not None and contrast(ink.colour, worst) < ink.needed:
                    said.add(ink.element)
                    ratio = as_ratio(contrast(ink.colour, worst))
                    how = ", dark screens" if scheme == "dark" else ""
                    message = f"“{cut(ink.text)}” has a contrast of {ratio} with the picture under it"
                    pair = f"{written(ink.colour)} on {written(worst)} at {screen.width} px{how}"
                    yield Hit(f"{message}, {pair}; {ink.needed:g}:1 is needed", span(ink.element, ink.text))


def _worst(mail: Specimen, ink: Ink, screen: Screen, view: View) -> Rgb | None:
    """The colour under a text that stands out least, once stray pixels are left out."""
    plan = mail.picture(ink.ground.picture)
    holder = ink.ground.holder
    if plan is None or holder is None:
        return None
    part = region(mail.laid_out(screen), ink, holder, plan)
    if part is None:
        return None
    allowed = STRAY
    for _ratio, colour, share in sorted(
        (contrast(ink.colour, colour), colour, share) for colour, share in colours(mail.bytes_of(plan), part)
    ):
        allowed -= share
        if allowed < 0:
            return colour
    return None


RULE = Rule(
    slug="contrast-picture",
    group="access",
    severity=ERROR,
    needs=frozenset({"html", "layout"}),
    about="Text over a picture stands out from the part of it that lies underneath.",
    why="Words that are clear over a dark sky are lost over the moon in it. On dark screens text may "
    "change its colour while the picture does not.",
    source="WCAG 2.2 SC 1.4.3 (level AA); single stray pixels are left out (2 per cent, common practice)",
    remedy="Give the picture `shade: auto`, or move its `focus:` to a calmer part. Where only dark screens "
    "lose the words: a `dark:` picture, or `ink: light` or `dark`, which stay the same there.",
    check=check,
)
