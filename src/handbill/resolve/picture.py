"""Pictures in fields. Enters: a picture as written and its field's spec; leaves: `Fields` with its plan.

A name without a dot is a built-in icon, which takes a colour role of the section's tone. Widths are CSS px at
600 px; nothing is read but the file's size, and nothing is made yet.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from handbill.base.errors import Fault
from handbill.library.block import look_up
from handbill.models.limits import MAX_ALT
from handbill.pictures.plan import Plan
from handbill.pictures.plan import plan as measured
from handbill.resolve.icons import LARGEST, is_icon
from handbill.resolve.shop import CID
from handbill.resolve.text import Text
from handbill.resolve.values import Fields, whole_number, words

if TYPE_CHECKING:
    from handbill.library.fields import PictureIn
    from handbill.library.spec import FieldSpec
    from handbill.resolve.section import SectionResolver, Way

TINT = "accent"  # the colour role of what is tinted, where the field names none


def picture_field(
    at: SectionResolver,
    value: PictureIn,
    spec: FieldSpec,
    given: Mapping[str, Any],
    chosen: Mapping[str, str],
    way: Way,
    tone: str,
) -> Fields | None:
    """A picture as templates take it, or None and a mistake at its place.

    A built-in icon that leads nowhere is taken for decoration unless it has an alt text.
    """
    link = at.address(value.link, (*way, "link")) if value.link else None
    decorative = value.decorative or (is_icon(value.file) and link is None)
    if value.alt is None and not decorative:
        expected = "alt: what the picture shows, or decorative: true"
        if link is not None:
            expected = "alt: where the link leads"
        at.refuse(way, f"{value.file} has no alt text", expected)
    if link is not None and value.decorative:
        at.refuse(way, "a linked picture cannot be decorative", "alt: where the link leads")
    alt = at.text(value.alt, (*way, "alt"), MAX_ALT) if value.alt else words("", at.voice)
    overlap = _overlap(at, spec, given)
    return at.attempt(way, lambda: planned(at, value, spec, chosen, alt, link, way, tone, overlap), None)


def planned(
    at: SectionResolver,
    value: PictureIn,
    spec: FieldSpec,
    chosen: Mapping[str, str],
    alt: Text,
    link: Text | None,
    way: Way,
    tone: str,
    overlap: int = 0,
) -> Fields:
    """Plans for a picture, its dark twin and the part of it that lies under copy. Raises Fault."""
    pictures = at.shop.pictures
    width = slot_width(at, spec, chosen)
    if is_icon(value.file) and pictures.source(value.file) and width > LARGEST:
        message = (
            f"{value.file} is a built-in icon, drawn for {LARGEST} px at most: it would be {width} px wide"
        )
        raise Fault(message, expected="a picture file with its ending")
    across, down = _focus(value.focus)
    how: dict[str, Any] = {"focus": (across, down), "density": spec.density, "asked": at.spot(way)}
    position = f"{across * 100:g}% {down * 100:g}%"  # of a picture that fills its cell
    ratio = _case(spec.ratio, chosen)
    if ratio:
        how["ratio"] = _ratio(str(ratio))

    def fields(made: Plan, said: Text, to: Text | None, **more: Any) -> Fields:
        return at.shop.picture_fields(made, said, to, at.voice, position=position, **more)

    light, night = (_tint(at, value, spec, tone, dark=dark) for dark in (False, True))
    dark = None
    if dark_file := value.dark or (value.file if light != night else None):
        dark = fields(pictures.plan(dark_file, width, tint=night, **how), alt, link)
    how["tint"] = light
    if overlap and chosen.get("layout") == "above" and pictures.mode != CID:
        whole = pictures.source(value.file)
        height = round(width * whole.height / whole.width)
        if not 0 < overlap < height:
            message = f"an overlap of {overlap} px in a picture {height} px high"
            raise Fault(message, expected="less than its height")
        upper = fields(pictures.plan(value.file, width, part=(0, overlap), **how), words("", at.voice), None)
        rest = pictures.plan(value.file, width, part=(overlap, height), **how)
        return fields(rest, alt, link, dark=dark, over=upper)
    lower = _pixels(at, spec.lower, chosen) if pictures.mode != CID else 0
    height = measured(pictures.source(value.file), width=width, ratio=how.get("ratio")).height
    if 0 < lower < height:
        cut = height - lower
        last = pictures.plan(value.file, width, part=(cut, height), **how)
        under = fields(last, words("", at.voice), None)
        first = pictures.plan(value.file, width, part=(0, cut), **how)
        return fields(first, alt, link, dark=dark, under=under)
    return fields(pictures.plan(value.file, width, **how), alt, link, dark=dark)


def slot_width(at: SectionResolver, spec: FieldSpec, chosen: Mapping[str, str]) -> int:
    """px of the slot that the field names for the choices made. Raises Fault."""
    return _pixels(at, spec.slot or "full", chosen) or at.widths["full"]


def _tint(at: SectionResolver, value: PictureIn, spec: FieldSpec, tone: str, *, dark: bool) -> str | None:
    """The colour that a built-in icon, or a file that asks for it, is drawn in; None: its own colours."""
    file = value.dark or value.file if dark else value.file
    if not (value.tint or is_icon(file)):
        return None
    return at.shop.library.house.colour(spec.tint or TINT, tone, dark=dark)


def _pixels(at: SectionResolver, value: Any, chosen: Mapping[str, str]) -> int:
    """px of a slot's name, a measure or a number, by choice; 0 where the choices name none. Raises Fault."""
    name = str(_case(value, chosen) or "0")
    if name.startswith("var("):
        return at.valid.block.pixels(name, at.shop.library.house)
    return look_up(name, at.widths, "slot")


def _case(value: Any, chosen: Mapping[str, str]) -> Any:
    """A value that hangs on choices: `{layout: {above: full, else: inset}}`, one inside another."""
    while isinstance(value, Mapping):
        choice, cases = next(iter(value.items()))
        value = cases.get(chosen.get(choice), cases.get("else"))
    return value


def _overlap(at: SectionResolver, spec: FieldSpec, given: Mapping[str, Any]) -> int:
    if not spec.overlap:
        return 0
    field = at.valid.block.spec.fields.get(spec.overlap)
    try:
        return whole_number(given.get(spec.overlap) or (field.default if field else None))
    except Fault:  # reported at the number itself
        return 0


def _focus(text: str | None) -> tuple[float, float]:
    if text is None:
        return (0.5, 0.5)
    try:
        across, down = (float(part) for part in text.replace(",", " ").split())
    except ValueError:
        raise Fault(
            f"{text!r} is not a focal point", expected="two fractions from 0 to 1, such as '0.5 0.3'"
        ) from None
    return (across, down)


def _ratio(text: str) -> tuple[int, int]:
    across, colon, down = text.partition(":")
    if not colon or not across.isdecimal() or not down.isdecimal():
        raise Fault(f"{text!r} is not a ratio", expected="such as 5:4")
    return (int(across), int(down))
