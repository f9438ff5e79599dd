"""A mail laid out. Enters: a document and a screen; leaves: a frozen tree of boxes in CSS px.

No browser takes part. Boxes lie where Chromium puts them when it has the shipped fonts; what lies outside the
markup that is understood is laid out as a plain block, and `Layout.notes` say so.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Literal

from handbill.base.frozen import dataclass
from handbill.dom.cascade import Styler
from handbill.dom.css import View
from handbill.dom.style import Style
from handbill.dom.tree import Document, Element, Section
from handbill.measure.core import Edge, Floats, Frag
from handbill.measure.flow import Flow
from handbill.measure.inline import Inline
from handbill.measure.intrinsic import Intrinsic
from handbill.measure.known import Known
from handbill.measure.platforms import PLATFORMS, remembered
from handbill.measure.table import Tables

Scheme = Literal["light", "dark"]
# What a phone's mail reader leaves of its 844 px for the mail when it opens: the bars of the system, of the
# reader, and the sender and subject above take the rest. An assumption (common practice), not a measurement.
FIRST_SHARE = 0.7


@dataclass(frozen=True, slots=True)
class Screen:
    """A reader's window in CSS px.

    `first` is the height that shows before anyone scrolls; by default 0.7 of `height`, which is an
    assumption. `platform` names the fonts: `twins` (as if the fonts named were there), ios, android, windows,
    macos.
    """

    width: int = 390
    height: int = 844
    scheme: Scheme = "light"
    platform: str = "twins"
    first: int | None = None

    @property
    def first_screen(self) -> int:
        return self.first if self.first is not None else round(self.height * FIRST_SHARE)


PHONE = Screen()
DESKTOP = Screen(width=800, height=900)
PHONES = (Screen(320, 568), Screen(360, 780), PHONE, Screen(412, 915), Screen(430, 932))
PANE = Screen(width=600, height=844)  # what a desktop's reading pane gives the mail


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text: its corner and size in the mail, px."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Box:
    """An element's border box in px from the mail's upper left corner; an inline element's spans all its
    lines.

    `element` is None for boxes that the standard puts around loose content. `lines` are the lines of text
    that stand straight in it.
    """

    element: Element | None
    style: Style
    x: float
    y: float
    width: float
    height: float
    children: tuple[Box, ...]
    lines: tuple[Line, ...]

    def iter(self) -> Iterator[Box]:
        """This box and all in it, in the order of the file."""
        yield self
        for child in self.children:
            yield from child.iter()


@dataclass(frozen=True, slots=True)
class SectionBox:
    """A section's place, px."""

    id: str
    y: float
    height: float
    section: Section


@dataclass(frozen=True, slots=True)
class Layout:
    """`width` is what the mail needs (more than the screen's: it scrolls sideways), `height` its whole
    height, px.

    `approximate` says that something was measured outside what is exact; `notes` say what. `banded` says that
    the platform has no metric twin of a font, so that the widths lie in a band; `band` gives both ends of it.
    """

    document: Document
    screen: Screen
    styler: Styler
    frag: Frag
    height: float
    notes: tuple[str, ...]
    banded: bool

    @property
    def width(self) -> float:
        """What the mail needs: the screen's width, or more if something sticks out of it."""
        rtl = self.frag.kids[0].style.direction == "rtl"
        left, right = _reach(self.frag, 0.0)
        return max(self.frag.w, self.frag.w - left if rtl else right)

    @property
    def remembered(self) -> tuple[str, ...]:
        """Names of fonts whose band of widths is from memory, in the order of the alphabet."""
        stacks = {self.styler.of(element).font_family for element, _ in self.lined}
        return tuple(sorted({remembered(one, self.screen.platform) for one in stacks} - {""}))

    @property
    def approximate(self) -> bool:
        return bool(self.notes)

    @property
    def box(self) -> Box:
        """The tree of boxes, made when asked for."""
        return _box(self.frag, 0.0, 0.0)

    @property
    def places(self) -> dict[Element, tuple[float, float, float, float]]:
        """x, y, width, height of every element that shows, px."""
        found: dict[Element, tuple[float, float, float, float]] = {}
        _place(self.frag, 0.0, 0.0, found)
        return found

    @property
    def lined(self) -> list[tuple[Element, list[tuple[float, float, float, float]]]]:
        """Elements that text stands straight in, with the places of its lines, px, in the order of the
        file."""
        found: list[tuple[Element, list[tuple[float, float, float, float]]]] = []
        _lined(self.frag, 0.0, 0.0, None, found)
        return found

    @property
    def text_area(self) -> float:
        """px² of all lines of text: their widths by their heights."""
        return _text_area(self.frag)

    @property
    def sections(self) -> tuple[SectionBox, ...]:
        """Where the document's sections lie: from their first box to their last; those that show nothing are
        out."""
        places = self.places
        found = []
        for section in self.document.sections:
            held = [
                (y, y + height)
                for element, (_, y, _, height) in places.items()
                if section.start <= element.start < section.end
            ]
            if held:
                top = min(one[0] for one in held)
                found.append(SectionBox(section.id, top, max(one[1] for one in held) - top, section))
        return tuple(found)


class _Engine(Known, Flow, Inline, Intrinsic, Tables):
    """All parts of the layout together."""


def measure(
    document: Document,
    screen: Screen = PHONE,
    *,
    pictures: Mapping[str, tuple[int, int]] | None = None,
    edge: Edge = "middle",
    without: Iterable[Element] = (),
) -> Layout:
    """Lay a mail out on a screen.

    `pictures` are sizes in px by address or file name, as in a manifest; where a picture is shown without a
    height and its size is not given it is taken for square, with a note. `edge` chooses the end of the band
    of fonts that have no twin: `low` narrow, `high` wide. Tags of a dialect are measured as the text they
    are: give the HTML as a sample recipient gets it. Elements named by `without` are laid out empty. Raises
    KeyError for an unknown platform.
    """
    if screen.platform not in PLATFORMS:
        raise KeyError(screen.platform)
    styler = Styler(document, View(screen.width, screen.height, screen.scheme))
    exact = not document.notes and styler.sheet.plain
    engine = _Engine(styler, pictures or {}, screen.platform, edge, document.html if exact else None)
    emptied = [(one, one.children) for one in without]
    try:
        for one, _ in emptied:
            one.children, engine.markup = [], None
        frag = _whole(engine, document)
    finally:
        for one, children in emptied:
            one.children = children
    return Layout(
        document, screen, styler, frag, frag.h,
        (*document.notes, *styler.notes, *engine.notes), engine.banded,
    )  # fmt: skip


def _whole(engine: _Engine, document: Document) -> Frag:
    styler, body = engine.styler, document.body
    frag = Frag(document.root, styler.of(document.root))
    frag.w = float(styler.view.width)
    floats = Floats(frag.w)
    inner = engine.box(body, styler.of(body), frag.w, floats, (0.0, 0.0), frag.style)
    inner.y = inner.top
    frag.kids.append(inner)
    frag.h = max(inner.y + inner.h + inner.bottom, floats.lowest)
    return frag


def band(
    document: Document, screen: Screen, *, pictures: Mapping[str, tuple[int, int]] | None = None
) -> tuple[Layout, Layout]:
    """The mail in the narrowest and in the widest fonts that the platform may have; one layout twice if
    exact."""
    low = measure(document, screen, pictures=pictures, edge="low")
    return (low, measure(document, screen, pictures=pictures, edge="high")) if low.banded else (low, low)


def _reach(frag: Frag, x: float) -> tuple[float, float]:
    """How far a fragment and what sticks out of it reach to the left and to the right."""
    x += frag.x
    left, right = x, x + frag.w
    if frag.style.overflow not in ("hidden", "clip", "scroll", "auto"):
        for kid in frag.kids:
            low, high = _reach(kid, x)
            left, right = min(left, low), max(right, high)
        for at, _, wide, _ in () if _set_inline(frag) else frag.lines:
            left, right = min(left, x + at), max(right, x + at + wide)
    return left, right


def _box(frag: Frag, x: float, y: float) -> Box:
    x, y = x + frag.x, y + frag.y
    lines = tuple(Line(x + a, y + b, w, h) for a, b, w, h in frag.lines)
    return Box(
        frag.element, frag.style, x, y, frag.w, frag.h, tuple(_box(kid, x, y) for kid in frag.kids), lines
    )


def _place(frag: Frag, x: float, y: float, found: dict[Element, tuple[float, float, float, float]]) -> None:
    x, y = x + frag.x, y + frag.y
    if frag.element is not None:
        found[frag.element] = (x, y, frag.w, frag.h)
    for kid in frag.kids:
        _place(kid, x, y, found)


def _lined(
    frag: Frag, x: float, y: float, holder: Element | None,
    found: list[tuple[Element, list[tuple[float, float, float, float]]]],
) -> None:  # fmt: skip
    x, y = x + frag.x, y + frag.y
    holder = frag.element or holder
    if frag.lines and holder is not None and not _set_inline(frag):
        found.append((holder, [(x + a, y + b, w, h) for a, b, w, h in frag.lines]))
    for kid in frag.kids:
        _lined(kid, x, y, holder, found)


def _text_area(frag: Frag) -> float:
    own = 0.0 if _set_inline(frag) else sum(w * h for _, _, w, h in frag.lines)
    return own + sum(_text_area(kid) for kid in frag.kids)


def _set_inline(frag: Frag) -> bool:
    """Whether a fragment is an inline box's own, whose lines are its parent's too."""
    return frag.inline


__all__ = [
    "DESKTOP",
    "PANE",
    "PHONE",
    "PHONES",
    "Box",
    "Layout",
    "Line",
    "Screen",
    "SectionBox",
    "band",
    "measure",
]
