"""What an author asks of a picture, as a plan takes it. Enters: `PictureIn`, the slot's spec, a tone and a
scheme; leaves: a plan whose edge is calm enough, whose shade is dark enough, and what copy on it comes to.

Colours are roles of the house style in the section's tone, or values. What has to be looked at in the picture
itself is known from its content, so a warm run looks at nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from handbill.base.errors import Fault, nearest
from handbill.base.frozen import dataclass
from handbill.pictures import study
from handbill.pictures.asked import Asked, Blend, Border, Corners, Extend, Fit, Shade
from handbill.pictures.lighter import much_lighter, within
from handbill.pictures.moving import MAX_KB, Reel, moving
from handbill.pictures.plan import Plan
from handbill.pictures.plan import plan as planned
from handbill.pictures.source import Source
from handbill.resolve.shop import CopyOn
from handbill.resolve.slots import OVERLAP, Area, Slot, area_of, focus_of, shape_of

if TYPE_CHECKING:
    from handbill.models.picture import PhoneIn, PictureIn
    from handbill.resolve.section import SectionResolver, Way

AUTO, NONE, SQUARE = "auto", "none", "square"
INKS = {"light": "ink-light", "dark": "ink-dark"}  # colour roles
DARK = 0.18  # relative luminance below which a ground is dark: white on it contrasts more than black
SEEN = 3.0  # OKLab difference times 100 from which a strip's upper edge is seen as a line (by eye)
STRONG = 7.0  # contrast from which the section's ground is taken for a shade (WCAG 2.2, 1.4.6)


@dataclass(frozen=True, slots=True)
class Outcome:
    """A plan, and which ink suits copy on it (None: the house's), with the mean colour that lies under it."""

    plan: Plan
    ink: str | None
    ground: str | None


class Wishes:
    """One picture's wishes, in one section."""

    def __init__(self, at: SectionResolver, value: PictureIn, slot: Slot, tone: str, way: Way) -> None:
        self.at, self.value, self.slot, self.tone, self.way = at, value, slot, tone, way
        self.pictures = at.shop.pictures
        self.house = at.shop.library.house

    def outcome(self, file: str, *, dark: bool, tint: str | None = None, ink: str | None = None) -> Outcome:
        """The picture as it is to be in one scheme; `ink`: that of its twin, where copy has the same on both.
        Raises Fault.

        Worked out once for all sections that ask in the same way, whatever their words.
        """
        asked = (self.value, self.slot, self.tone, file, dark, tint, ink, self.at.shop.library.digest)
        try:
            made, copy = self.pictures.outcomes.by(asked, lambda: self._outcome(file, dark, tint, ink))
        except TypeError:  # a value that is no key
            made, copy = self._outcome(file, dark, tint, ink)
        outcome: Outcome = made
        if copy is not None:
            self.pictures.stand(outcome.plan.name, copy)
        return outcome

    def _outcome(
        self, file: str, dark: bool, tint: str | None, like: str | None
    ) -> tuple[Outcome, CopyOn | None]:
        said = self.value.shade
        made = self.plan(file, dark=dark, tint=tint, shade=None, whole=said is None)
        rtl, area = self.at.shop.rtl, None
        if self.slot.area:
            area = area_of(self.slot.area, self.slot.overlap, made.height, rtl=rtl)
        if area is None:
            if said is not None and said.strength == AUTO:
                raise Fault(
                    "no copy stands on this picture: a shade needs its strength", expected="shade: 0.4"
                )
            if said is not None:
                made = self.plan(file, dark=dark, tint=tint, shade=self.shade(made, "", None, dark))
            return Outcome(made, None, None), None
        colours = {name: self.house.colour(role, self.tone) for name, role in INKS.items()}
        ink = like or self.slot.ink
        if ink == AUTO:
            seen = study.under(made, area, self.pictures.cache)
            ink = max(colours, key=lambda name: seen.contrast(colours[name])[0])
        over = colours.get(ink) or self.house.colour(self.slot.role, self.tone, dark=dark)
        shade = None
        if said is not None:  # copy whose ink is the same on dark screens has the same veil there
            shade = self.shade(made, over, area, dark and ink not in INKS)
            made = self.plan(file, dark=dark, tint=tint, shade=shade)
        if self.slot.area == OVERLAP and self.stepped(made, dark):
            blend = Blend(self.behind(dark), self.slot.overlap)
            made = self.plan(file, dark=dark, tint=tint, shade=shade, blend=blend)
        seen = study.under(made, area, self.pictures.cache)
        least, low = seen.contrast(over)
        outcome = Outcome(made, ink if ink in INKS else None, seen.colour if ink in INKS else None)
        return outcome, CopyOn(over, round(least, 2), round(low, 2))

    def stepped(self, made: Plan, dark: bool) -> bool:
        """Whether a picture's upper edge would cut through the copy that stands half on it."""
        if made.source.alpha or made.source.animated or self.value.border is not None:
            return False
        return study.step(made, self.behind(dark), self.pictures.cache) > SEEN

    def phone(self, file: str, said: PhoneIn, width: int, *, dark: bool, tint: str | None) -> Plan:
        """The picture for narrow screens. Raises Fault."""
        slot = replace(self.slot, width=width, ratio=None if said.crop else self.slot.ratio)
        value: Any = _Merged(self.value, said)
        return Wishes(self.at, value, slot, self.tone, (*self.way, "phone")).plan(
            file, dark=dark, tint=tint, shade=None
        )

    def plan(
        self, file: str, *, dark: bool, tint: str | None, shade: Shade | None, whole: bool = True,
        blend: Blend | None = None,
    ) -> Plan:  # fmt: skip
        """One plan, its edges judged; `whole`: light enough, and not just to be looked at. Raises Fault."""
        if self.value.frames and file == self.value.file:
            return self.moving(dark=dark, tint=tint)
        if not self.value.frames and (self.value.first or self.value.fade or self.value.rounds != 1):
            raise Fault("first, fade and rounds are of moving pictures", expected="frames: [a.jpg, b.jpg]")
        source = self.pictures.source(file)
        value, slot = self.value, self.slot
        if source.animated and value.format not in (AUTO, "gif"):
            raise Fault(f"{file} moves: it stays a GIF", expected="format: gif, or auto")
        ground = self.behind(dark) if self.flattened(source) else None
        asked = Asked(
            self.extend(dark), self.fit(dark), shade, self.border(dark), self.corners(dark),
            form=None if source.animated or value.format == AUTO else value.format,
            mat=self.behind(dark) if value.format == "gif" and not source.animated else None,
            rim=self.rim(dark) if tint is not None else None, blend=blend,
        )  # fmt: skip
        subject = None
        if asked.fit is not None and asked.fit.how == "trim" and not source.animated:
            subject = study.subject(source, self.pictures.cache)

        def at(density: float, form: str | None = asked.form, ground: str | None = ground) -> Plan:
            return planned(
                source, width=slot.width, density=density, ratio=slot.ratio,
                focus=focus_of(value.crop.focus if value.crop and value.crop.focus else value.focus),
                crop=shape_of(value.crop.ratio) if value.crop else None, ground=ground, tint=tint,
                asked=replace(asked, form=form), subject=subject,
            )  # fmt: skip

        density = float(value.density or slot.density)
        made = at(density)
        if made.inner is not None and asked.extend is not None and not asked.extend.cut and not source.alpha:
            grown = {"top": made.inner[1], "bottom": made.whole[1] - made.inner[1] - made.inner[3]}
            for side in (side for side, rows in grown.items() if rows):
                study.refuse_busy(study.edge(source, made.box, side, self.pictures.cache), side, file)
        if not whole:
            return made
        if self.may_be_flat(made):
            flat = at(density, "jpeg", self.behind(dark))
            if much_lighter(made, flat, self.pictures.cache) is flat:
                made, ground, form = flat, self.behind(dark), "jpeg"
                return self.light(lambda sharp: at(sharp, form, ground), made, density)
        return self.light(at, made, density)

    def light(self, at: Callable[[float], Plan], made: Plan, density: float) -> Plan:
        """`made`, or one with fewer pixels that keeps to its budget. Raises Fault."""
        most = self.value.max_kb or (None if made.source.animated else self.pictures.most_kb)
        if most is None:
            return made
        return within(at, density, most * 1024, self.pictures.cache)

    def behind(self, dark: bool) -> str:
        """The colour behind the picture."""
        return self.house.colour(self.slot.on or "ground", self.tone, dark=dark)

    def flattened(self, source: Source) -> bool:
        """Whether a picture is put on what lies behind it, for the author's format has no transparency."""
        return self.value.format == "jpeg" and source.alpha and not source.animated

    def may_be_flat(self, made: Plan) -> bool:
        """Whether a picture with holes would look the same as a JPEG: what is behind it is known, it is the
        same on dark screens, and dark, so that no reader darkens it by itself."""
        return (
            self.value.format == AUTO
            and made.source.alpha and not made.source.animated
            and made.content_type == "image/png" and made.tint is None
            and self.slot.on is not None and self.slot.area is None
            and self.behind(False) == self.behind(True)
            and study.luminance(self.behind(True)) < DARK
            and (made.asked is None or (made.asked.fit is None and made.asked.corners is None))
        )  # fmt: skip

    def moving(self, *, dark: bool, tint: str | None) -> Plan:
        """The plan of a picture of several frames. Raises Fault."""
        value, slot = self.value, self.slot
        assert value.frames
        if value.format not in (AUTO, "gif"):
            raise Fault(f"what moves is a GIF, not {value.format.upper()}", expected="format: gif, or auto")
        if slot.area:
            raise Fault("copy stands on this picture: it cannot move", expected="a still picture")
        if tint or value.extend is not None or value.shade is not None or self.fit(dark) is not None:
            expected = "crop, border, corners, density and phone"
            raise Fault("what moves is neither extended, fitted, shaded nor tinted", expected=expected)
        if value.corners is not None and value.corners.drawn and value.corners.on == NONE:
            raise Fault("corners of a moving picture cannot be transparent", expected="corners: {on: ground}")
        first = (value.first or 1) - 1
        if first >= len(value.frames):
            raise Fault(f"first: there is no frame {first + 1}", expected=f"1 to {len(value.frames)}")
        frames = (*value.frames[first:], *value.frames[:first])
        shown = tuple((self.pictures.source(one.file), round(one.seconds * 100)) for one in frames)
        most = (value.max_kb or MAX_KB) * 1024
        return moving(
            Reel(shown, round(value.fade * 100), value.rounds, most), width=slot.width,
            density=int(value.density or slot.density), ratio=slot.ratio,
            focus=focus_of(value.crop.focus if value.crop and value.crop.focus else value.focus),
            crop=shape_of(value.crop.ratio) if value.crop else None, border=self.border(dark),
            corners=self.corners(dark), cache=self.pictures.cache,
        )  # fmt: skip

    # -- parts

    def extend(self, dark: bool) -> Extend | None:
        said = self.value.extend
        if said is None:
            return None
        given = {side: getattr(said, side) for side in ("top", "bottom", "both") if getattr(said, side)}
        if not given:
            raise Fault("extend says no side", expected="extend: {top: 180}, bottom or both")
        if "both" in given and len(given) > 1:
            raise Fault("extend says a side twice", expected="both, or top and bottom")
        shapes = {side: shape_of(one) for side, one in given.items() if ":" in one}
        colour = None if said.colour == AUTO else self.colour(said.colour, dark, "extend")
        cut = said.join == "cut"
        if cut and colour is None:
            raise Fault(
                "a plain band needs its colour", expected="extend: {top: 180, join: cut, colour: ground}"
            )
        if shapes:
            if len(given) > 1:
                raise Fault("extend has a shape and px", expected="one of them")
            ((side, shape),) = shapes.items()
            return Extend(int(side in ("top", "both")), int(side in ("bottom", "both")), shape, colour, cut)
        both = int(given.get("both", 0))
        return Extend(int(given.get("top", both)), int(given.get("bottom", both)), None, colour, cut)

    def fit(self, dark: bool) -> Fit | None:
        said = self.value.fit
        how = said.how if said is not None else self.slot.fit
        if how in (None, "cover"):
            return None
        if how == SQUARE:
            return self.squared(dark)
        colour = said.colour if said is not None else "tile"
        shape = shape_of(said.shape) if said is not None and said.shape else None
        opaque = self.value.format == "jpeg" and colour == NONE
        ground = self.behind(dark) if opaque else None
        return Fit(str(how), ground if colour == NONE else self.colour(colour, dark, "fit"), shape)

    def squared(self, dark: bool) -> Fit | None:
        """A cut-out that is taller than wide goes whole into a square: there is no ground to be cut off."""
        source = self.pictures.source(self.value.file)
        if not source.alpha or source.animated or self.value.frames or self.value.crop or self.value.extend:
            return None
        ground = self.behind(dark) if self.value.format == "jpeg" else None
        return Fit("contain", ground, (1, 1)) if source.height > source.width else None

    def border(self, dark: bool) -> Border | None:
        said = self.value.border
        return Border(said.width, self.colour(said.colour, dark, "border")) if said and said.width else None

    def corners(self, dark: bool) -> Corners | None:
        said = self.value.corners
        if said is None or not (said.drawn or self.value.border):
            return None
        on = None if said.on == NONE or not said.drawn else self.colour(said.on, dark, "corners")
        if said.drawn and on is None and self.value.format == "jpeg":
            on = self.behind(dark)
        return Corners(said.radius, on, said.drawn)

    def shade(self, bare: Plan, ink: str, area: Area | None, dark: bool) -> Shade | None:
        """The veil, as strong as was asked or as the copy needs."""
        said = self.value.shade
        assert said is not None
        where = area if said.over == "copy" else None
        colour = self.veil(ink, dark)
        strength = (
            study.shade(bare, area or (0, 0, 1, 1), ink, colour, self.pictures.cache)
            if said.strength == AUTO
            else float(said.strength)
        )
        if not strength:
            return None
        return Shade(colour, strength, *((where[1], where[3]) if where else (0.0, 1.0)))

    def veil(self, ink: str, dark: bool) -> str:
        """The colour of a shade under copy in `ink`, or under none."""
        said = self.value.shade
        assert said is not None
        if said.colour != AUTO:
            return self.colour(said.colour, dark, "shade")
        colour = self.house.colour("ground", self.tone, dark=dark)
        if ink and _contrast(colour, ink) >= STRONG:
            return colour
        return "#ffffff" if ink and study.luminance(ink) < DARK else "#000000"

    def colour(self, name: str, dark: bool, part: str) -> str:
        """A colour by value or by role. Raises Fault with the nearest role."""
        if name.startswith("#"):
            return name
        roles = self.house.colours[self.tone]
        if name not in roles:
            message = f"{part}: no colour role {name}"
            raise Fault(
                message, expected="a role of the house style, or '#1a2335'", nearest=nearest(name, roles)
            )
        return self.house.colour(name, self.tone, dark=dark)

    def rim(self, dark: bool) -> str:
        """The colour around what is tinted: its ground's, so that it is unseen there and outlines the drawing
        where a reader turns the ground (readers leave pictures as they are)."""
        return self.house.colour("ground", self.tone, dark=dark)

    @property
    def schemes_differ(self) -> bool:
        """Whether dark screens need a picture of their own for its colours."""
        value, mixed = self.value, False
        if not value.frames and value.format in ("jpeg", "gif"):
            source = self.pictures.source(value.file)
            mixed = source.alpha and not source.animated and self.behind(False) != self.behind(True)
        light, dark = (
            (self.extend(dark), self.fit(dark), self.border(dark), self.corners(dark), self.under_copy(dark))
            for dark in (False, True)
        )
        return mixed or light != dark

    def under_copy(self, dark: bool) -> tuple[str, str] | None:
        """The colours of copy in the house's ink and of the shade under it, where there is one."""
        if self.value.shade is None or (self.slot.area and self.slot.ink != "house"):
            return None
        ink = self.house.colour(self.slot.role, self.tone, dark=dark) if self.slot.area else ""
        return ink, self.veil(ink, dark)


class _Merged:
    """A phone picture's wishes: its own, else the desktop picture's."""

    def __init__(self, value: PictureIn, phone: PhoneIn) -> None:
        self.crop = phone.crop or (None if phone.file else value.crop)
        self.focus = phone.focus or (None if phone.file else value.focus)
        self.extend = phone.extend or (None if phone.file or phone.crop else value.extend)
        self.fit, self.border, self.corners = value.fit, value.border, value.corners
        self.shade, self.density, self.format = None, value.density, value.format
        self.frames = None if phone.file else value.frames
        self.file, self.first, self.fade = value.file, value.first, value.fade
        self.rounds, self.max_kb = value.rounds, value.max_kb


def _contrast(one: str, other: str) -> float:
    first, second = study.luminance(one), study.luminance(other)
    return (max(first, second) + 0.05) / (min(first, second) + 0.05)
