"""Pictures in fields. Enters: a picture as written and its field's spec; leaves: `Fields` with its plan.

A name without a dot is a built-in icon, which takes a colour role of the section's tone. Widths are CSS px at
600 px; nothing is read but the file's size, and nothing is made yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from handbill.base.errors import Fault
from handbill.base.source import find
from handbill.library.block import look_up
from handbill.models.limits import MAX_ALT
from handbill.pictures.plan import Plan, cut
from handbill.resolve.icons import LARGEST, is_icon
from handbill.resolve.shop import CID
from handbill.resolve.slots import OVERLAP, Slot, by_choice, focus_of, shape_of
from handbill.resolve.text import Text
from handbill.resolve.values import Fields, whole_number, words
from handbill.resolve.wishes import Wishes

if TYPE_CHECKING:
    from handbill.library.spec import FieldSpec
    from handbill.models.picture import PictureIn
    from handbill.resolve.section import SectionResolver, Way
    from handbill.resolve.shop import Pictures

TINT = "accent"  # the colour role of what is tinted, where the field names none
NARROW = 430  # CSS px a phone's own picture is made for: the widest phones (check value H10)


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
    found = [_there(at, name, (*way, *rest)) for name, rest in _files(value)]  # each, so that each is named
    if not all(found):
        return None
    return at.attempt(way, lambda: planned(at, value, spec, chosen, alt, link, way, tone, overlap), None)


def _files(value: PictureIn) -> Iterator[tuple[str, Way]]:
    """The files a picture names, each with the way to its name."""
    yield value.file, ("file",)
    if value.dark is not None:
        yield value.dark, ("dark",)
    if value.phone is not None and value.phone.file is not None:
        yield value.phone.file, ("phone", "file")


def _there(at: SectionResolver, name: str, way: Way) -> bool:
    """Whether a file can be a picture; a mistake where its name is written, if not."""
    while not find(at.node, way)[1]:
        way = way[:-1]  # written short
    return at.attempt(way, lambda: bool(at.shop.pictures.source(name)), False)


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
    """Plans for a picture, its dark twin, its phone picture and the part of it under copy. Raises Fault."""
    pictures, spot = at.shop.pictures, at.spot(way)
    width = slot_width(at, spec, chosen)
    if is_icon(value.file) and pictures.source(value.file) and width > LARGEST:
        message = (
            f"{value.file} is a built-in icon, drawn for {LARGEST} px at most: it would be {width} px wide"
        )
        raise Fault(message, expected="a picture file with its ending")
    across, down = focus_of(value.focus)
    slot = _slot(spec, chosen, width, overlap)
    wishes = Wishes(at, value, slot, tone, way)
    light, night = (_tint(at, value, spec, tone, dark=dark) for dark in (False, True))

    def fields(made: Plan, said: Text, to: Text | None, **more: Any) -> Fields:
        return at.shop.picture_fields(pictures.use(made, spot), said, to, at.voice, **more)

    def narrow(file: str, dark: bool, tint: str | None) -> dict[str, Any]:
        phone = value.phone
        if phone is None:
            return {}

        def made() -> Plan:
            other = phone.file or file
            if other == file and not (phone.crop or phone.focus or phone.extend):
                raise Fault("it says nothing that differs", expected="a file, a crop or a focus of its own")
            return wishes.phone(other, phone, min(width, NARROW), dark=dark, tint=tint)

        plan = at.attempt((*way, "phone"), made, None)
        return {} if plan is None else {"phone": fields(plan, alt, link)}

    drawn_anew = light != night or (light is not None and wishes.rim(False) != wishes.rim(True))
    twin = value.dark or (value.file if drawn_anew or wishes.schemes_differ else None)
    overlapped = bool(overlap) and chosen.get("layout") == "above" and pictures.mode != CID
    lower = _pixels(at, spec.lower, chosen) if pictures.mode != CID else 0
    if value.phone is not None and (overlapped or lower or slot.area):
        at.refuse((*way, "phone"), "copy stands on this picture: it has no other for phones", "crop or focus")
    out = wishes.outcome(value.file, dark=False, tint=light)
    more: dict[str, Any] = {
        "position": f"{across * 100:g}% {down * 100:g}%",  # of a picture that fills its cell
        **_below_copy(out.plan, slot, across, value.focus is not None),
        "ink": out.ink,
        "own_ground": out.ground,
        "radius": value.corners.radius if value.corners and not value.corners.drawn else None,
    }
    if twin is None and overlapped and wishes.behind(False) != wishes.behind(True):
        twin = value.file  # its strip comes out of another ground there
    dark = wishes.outcome(twin, dark=True, tint=night, ink=out.ink).plan if twin else None
    covered = overlap if overlapped else 0
    parts = _parted(pictures, out.plan, covered, lower)
    if parts is not None:
        twins = parts if dark is None else _parted(pictures, dark, covered, lower) or parts
        radius = more["radius"]

        def part(at_part: int, said: Text, to: Text | None, **more: Any) -> Fields:
            if twins[at_part].name != parts[at_part].name:
                more["dark"] = fields(twins[at_part], said, to, radius=radius)
            return fields(parts[at_part], said, to, **more)

        under_copy = part(0 if covered else 1, words("", at.voice), None)
        return part(1 if covered else 0, alt, link, **more, **{"over" if covered else "under": under_copy})
    if dark is not None and twin is not None:
        more["dark"] = fields(dark, alt, link, radius=more["radius"], **narrow(twin, True, night))
    return fields(out.plan, alt, link, **more, **narrow(value.file, False, light))


def _below_copy(plan: Plan, slot: Slot, across: float, aimed: bool) -> dict[str, Any]:
    """Of a picture that was extended upwards for copy: the room that copy leaves it, as a share of its width
    and in px, so that all of the picture itself shows below; unless `aimed` elsewhere, it is held there."""
    if slot.area in (None, OVERLAP) or plan.inner is None or plan.asked is None or plan.asked.extend is None:
        return {}
    above = round(plan.inner[1] / plan.whole[1] * plan.height)
    if not above:
        return {}
    free = plan.height - above
    held = {} if aimed else {"position": f"{across * 100:g}% 100%"}
    return {"free": f"{free / plan.width * 100:.4g}%", "free_px": free, **held}


def _parted(pictures: Pictures, whole: Plan, overlap: int, lower: int) -> tuple[Plan, Plan] | None:
    """A picture in two, where one part of it lies under copy; what copy comes to stays with that part.

    Raises Fault for an overlap that leaves nothing of it.
    """
    if overlap:
        if not 0 < overlap < whole.height:
            message = f"an overlap of {overlap} px in a picture {whole.height} px high"
            raise Fault(message, expected="less than its height")
        parts = cut(whole, overlap)
        if (found := pictures.copy_on.pop(whole.name, None)) is not None:
            pictures.copy_on[parts[0].name] = found
        return parts
    return cut(whole, whole.height - lower) if 0 < lower < whole.height else None


def _slot(spec: FieldSpec, chosen: Mapping[str, str], width: int, overlap: int) -> Slot:
    """What the field's spec says for the choices made. Raises Fault."""
    ratio, copy = by_choice(spec.ratio, chosen), spec.under_copy
    slot = Slot(
        width, shape_of(str(ratio)) if ratio else None, spec.density, by_choice(spec.fit, chosen),
        on=by_choice(spec.on, chosen),
    )  # fmt: skip
    area = by_choice(copy.area, chosen) if copy is not None else None
    if copy is None or not area or (area == OVERLAP and not overlap):
        return slot
    ink = "house" if area == OVERLAP else chosen.get(copy.ink or "", "house")  # copy begins off the picture
    role = str(by_choice(copy.role, chosen))
    return replace(slot, area=str(area), overlap=overlap, role=role, ink=ink)


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
    name = str(by_choice(value, chosen) or "0")
    if name.startswith("var("):
        return at.valid.block.pixels(name, at.shop.library.house)
    return look_up(name, at.widths, "slot")


def _overlap(at: SectionResolver, spec: FieldSpec, given: Mapping[str, Any]) -> int:
    if not spec.overlap:
        return 0
    field = at.valid.block.spec.fields.get(spec.overlap)
    try:
        return whole_number(given.get(spec.overlap) or (field.default if field else None))
    except Fault:  # reported at the number itself
        return 0
