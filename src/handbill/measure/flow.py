"""Block layout (CSS 2.2, sections 8.3.1, 9.4.1, 9.5, 10.3, 10.6). Enters: boxes and a width; leaves:
fragments."""

from __future__ import annotations

from handbill.dom.style import ATOMIC, HIDDEN, INLINE, OTHER, TABLE, Style
from handbill.dom.tree import Child, Element
from handbill.measure.core import INLINE as INLINE_DISPLAYS
from handbill.measure.core import ROOMY, Core, Floats, Frag, clamp, edges, resolve

_TABLES = frozenset(("table", "inline-table"))
_PARTS = frozenset(
    [
        "table-row",
        "table-row-group",
        "table-header-group",
        "table-footer-group",
        "table-cell",
        "table-caption",
        "table-column",
        "table-column-group",
    ]
)


class Flow(Core):
    def flow(
        self, children: list[Child], style: Style, width: float, into: Frag, floats: Floats, at: tuple[float,
        float], open_top: bool = False,
    ) -> float:  # fmt: skip
        """Lay children out one below the other in a content box of `width` px whose corner is `at` in the
        floats' coordinates; the height. Margins that stick out at the top go to `into.top`, at the bottom to
        `into.bottom`; `open_top` says whether the first may."""
        y = 0.0
        plus, minus = 0.0, 0.0  # margins waiting to collapse
        start = open_top
        inline: list[Child] = []
        below = self.styler.below
        into.top = into.bottom = 0.0
        dx, dy = into.dx, into.dy
        for child in children:
            if child.__class__ is str:
                if inline or child != " ":
                    inline.append(child)
                continue
            element: Element = child  # type: ignore[assignment]
            own = below(style, element)
            way = own.way
            if way == HIDDEN:
                continue
            if way == OTHER:
                if own.position in ("absolute", "fixed"):
                    self.odd(own)
                    continue
                if own.floated != "none":
                    self._float(element, own, width, into, floats, at, y + plus + minus, dx, dy)
                    continue
                if own.display in INLINE_DISPLAYS:
                    way = INLINE if own.display == "inline" else ATOMIC
            if way == ATOMIC or (way == INLINE and not self.has_block(element, own)):
                inline.append(element)
                continue
            if inline:
                taken = self.inline(inline, style, width, into, floats, at, y + plus + minus)
                if taken > 0:
                    y += plus + minus + taken
                    plus = minus = 0.0
                    start = False
                inline = []
            if way == INLINE:
                kid = self._split(element, own, width, floats, (at[0], at[1] + y + plus + minus))
            else:
                if way == OTHER:
                    if own.odd:
                        self.odd(own)
                    if own.clear != "none":
                        before = y + plus + minus
                        cleared = floats.clear(own.clear, at[1] + before) - at[1]
                        if cleared > before:
                            y, plus, minus, start = cleared, 0.0, 0.0, False
                kid = self.box(element, own, width, floats, (at[0], at[1] + y + plus + minus), style)
            top, bottom = kid.top, kid.bottom
            if top > plus:
                plus = top
            elif top < minus:
                minus = top
            empty = kid.h == 0 and not kid.kids and not kid.lines and own.display not in _TABLES
            if start:
                if empty:
                    plus, minus = max(plus, bottom), min(minus, bottom)
                    kid.x += dx
                    kid.y = dy
                    into.kids.append(kid)
                    continue
                into.top = plus + minus
                plus = minus = 0.0
                start = False
            if empty:
                kid.x, kid.y = kid.x + dx, y + plus + minus + dy
                plus, minus = max(plus, bottom), min(minus, bottom)
                into.kids.append(kid)
                continue
            y += plus + minus
            if kid.over > into.over:
                into.over = kid.over
            if floats.left or floats.right:
                y = self._beside(kid, own, width, floats, at, y)
            kid.x += dx
            kid.y += y + dy
            if kid.base is not None:
                if into.base is None:
                    into.base = kid.y + kid.base
                if kid.last_base is not None:
                    into.last_base = kid.y + kid.last_base
            y += kid.h
            plus, minus = (bottom, 0.0) if bottom > 0 else (0.0, bottom)
            into.kids.append(kid)
        if inline:
            taken = self.inline(inline, style, width, into, floats, at, y + plus + minus)
            if taken > 0:
                y += plus + minus + taken
                plus = minus = 0.0
                start = False
        if start and open_top:
            into.top = plus + minus
        else:
            into.bottom = plus + minus
        return y

    def has_block(self, element: Element, style: Style) -> bool:
        """Whether an inline element holds a box that is none."""
        for child in element.children:
            if child.__class__ is not str:
                own = self.styler.below(style, child)  # type: ignore[arg-type]
                way = own.way
                if way in (HIDDEN, ATOMIC) or (way == OTHER and own.floated != "none"):
                    continue
                if way == INLINE:
                    if child.children and self.has_block(child, own):  # type: ignore[union-attr,arg-type]
                        return True
                elif own.display not in INLINE_DISPLAYS:
                    return True
        return False

    def _split(
        self, element: Element, style: Style, width: float, floats: Floats, at: tuple[float, float]
    ) -> Frag:
        """An inline box around blocks: it is as wide as they are (CSS 2.2, section 9.2.1.1)."""
        frag = Frag(element, style)
        inner = Frag(None, style)
        frag.h = max(self.flow(element.children, style, width, inner, floats, at), 0.0)
        frag.kids, frag.lines, frag.w = inner.kids, inner.lines, width
        frag.base, frag.last_base, frag.over = inner.base, inner.last_base, inner.over
        frag.top, frag.bottom = inner.top, inner.bottom
        return frag

    def box(
        self, element: Element, style: Style, width: float, floats: Floats | None, at: tuple[float, float],
        around: Style,
    ) -> Frag:  # fmt: skip
        """A block-level box with its margins resolved in a containing block `width` px wide, whose style is
        `around`."""
        if style.way == TABLE or style.display in _TABLES:
            frag = self.table(element, style, width)
            self._across(frag, style, width, around)
            return frag
        if element.tag == "img":
            frag = self.picture(element, style, width)
            self._across(frag, style, width, around)
            return frag
        if style.simple and floats is not None:
            return self._simple(element, style, width, floats, at)
        return self._sized(element, style, width, floats, at, around)

    def _simple(
        self, element: Element, style: Style, width: float, floats: Floats, at: tuple[float, float]
    ) -> Frag:
        """A block as wide as there is room and as tall as what it holds."""
        top, right, bottom, left = style.margin
        frag = Frag(element, style)
        frag.x = left  # type: ignore[assignment]
        extra = style.left + style.right
        held = width - left - right  # type: ignore[operator]
        frag.w = held if held > extra else extra
        frag.dx, frag.dy = style.left, style.top
        height = self.flow(
            element.children, style, frag.w - extra, frag, floats,
            (at[0] + left + style.left, at[1] + style.top), not style.top,  # type: ignore[operator]
        )  # fmt: skip
        if style.bottom and frag.bottom:
            height += frag.bottom
            frag.bottom = 0.0
        if height < 0:
            height = 0.0  # margins below nothing pull up what follows, no more
        frag.h = height + style.top + style.bottom
        if held < extra and extra - held > frag.over:
            frag.over = extra - held
        if top or frag.top:
            frag.top = _joined(top, frag.top)  # type: ignore[arg-type]
        if bottom or frag.bottom:
            frag.bottom = _joined(bottom, frag.bottom)  # type: ignore[arg-type]
        return frag

    def _sized(
        self, element: Element, style: Style, width: float, floats: Floats | None, at: tuple[float, float],
        around: Style,
    ) -> Frag:  # fmt: skip
        """Any other block."""
        display = style.display
        if display in _PARTS:
            self.note(f"a {display} outside a table is measured as a block")
        pad, border = edges(style, width), style.border
        top, right, bottom, left = style.margin
        extra = pad[1] + pad[3] + border[1] + border[3]
        ml, mr = resolve(left, width) or 0.0, resolve(right, width) or 0.0
        given = resolve(style.width, width)
        if given is None:
            full = width - ml - mr
        else:
            full = given + (0.0 if style.box_sizing == "border-box" else extra)
        frag = Frag(element, style)
        frag.dx, frag.dy = pad[3] + border[3], pad[0] + border[0]
        held = full
        if style.max_width is not None or style.min_width is not None:
            held = clamp(full, style, width, extra)
        frag.w = held = max(held, extra)
        content = held - extra
        own = floats is None or style.overflow not in ("visible", "clip") or display == "flow-root"
        if own:
            floats, inner_at = Floats(content), (0.0, 0.0)
        else:
            inner_at = (at[0] + ml + frag.dx, at[1] + frag.dy)
        open_top = not own and not pad[0] and not border[0]
        height = self.flow(element.children, style, content, frag, floats, inner_at, open_top)  # type: ignore[arg-type]
        if own:
            height = max(height + frag.bottom, floats.lowest)  # type: ignore[union-attr]
            frag.bottom = 0.0
        fixed = style.height.__class__ is float
        vertical = pad[0] + pad[2] + border[0] + border[2]
        if fixed or pad[2] or border[2] or own:
            height += frag.bottom
            frag.bottom = 0.0
        frag.h = self._tall(height, style, vertical)
        if given is not None or held != full:
            frag.over = 0.0
        frag.over = max(frag.over, held + ml + mr - width, 0.0)
        mt, mb = resolve(top, width) or 0.0, resolve(bottom, width) or 0.0
        frag.top = _joined(mt, frag.top)
        frag.bottom = _joined(mb, frag.bottom)
        self._across(frag, style, width, around)
        return frag

    def _tall(self, content: float, style: Style, vertical: float) -> float:
        """The border-box height for a content height."""
        add = vertical if style.box_sizing == "content-box" else 0.0
        height = content + vertical
        if style.height.__class__ is float:
            height = style.height + add
        if style.max_height.__class__ is float:
            height = min(height, style.max_height + add)
        if style.min_height.__class__ is float:
            height = max(height, style.min_height + add)
        return max(height, vertical)

    def _across(self, frag: Frag, style: Style, width: float, around: Style) -> None:
        """Where a box stands between the sides, by its margins and the alignment of what is around it."""
        top, right, bottom, left = style.margin
        if style.display in _TABLES or (frag.element is not None and frag.element.tag == "img"):
            frag.top, frag.bottom = resolve(top, width) or 0.0, resolve(bottom, width) or 0.0
        free = width - frag.w
        ml, mr = resolve(left, width), resolve(right, width)
        if free == 0 and not ml and not mr:
            return
        rtl, align = around.direction == "rtl", around.text_align
        if ml is None and mr is None:
            frag.x = max(free / 2, 0.0) if free > 0 or not rtl else free
        elif ml is None:
            frag.x = max(free - (mr or 0.0), 0.0)
        elif mr is None:
            frag.x = ml if not rtl or free > 0 else free
        elif align == "-center":
            frag.x = max((free - ml - mr) / 2, 0.0) + ml
        elif align == "-right" or (rtl and align != "-left"):
            frag.x = free - mr
        else:
            frag.x = ml

    def _beside(
        self, kid: Frag, style: Style, width: float, floats: Floats, at: tuple[float, float], y: float
    ) -> float:
        """A box that takes no floats in itself goes beside them or below (CSS 2.2, section 9.5)."""
        if style.display not in _TABLES and style.overflow == "visible" and style.display != "flow-root":
            return y
        while True:
            low, high = floats.span(at[1] + y, kid.h, at[0], at[0] + width)
            if high - low >= width - ROOMY:
                return y
            if kid.w <= high - low + ROOMY:
                if style.direction != "rtl":
                    kid.x = max(kid.x, low - at[0])
                kid.x = min(kid.x, high - at[0] - kid.w)
                return y
            lower = floats.next_bottom(at[1] + y)
            if lower is None:
                return y
            y = lower - at[1]

    def _float(
        self, element: Element, style: Style, width: float, into: Frag, floats: Floats, at: tuple[float,
        float], y: float, dx: float, dy: float,
    ) -> None:  # fmt: skip
        if style.odd:
            self.odd(style)
        kid = self.shrunk(element, style, width)
        top, right, bottom, left = (resolve(one, width) or 0.0 for one in style.margin)
        if style.clear != "none":
            y = floats.clear(style.clear, at[1] + y) - at[1]
        x, where = floats.place(
            style.floated, kid.w + left + right, kid.h + top + bottom, at[1] + y, at[0], at[0] + width
        )
        kid.x, kid.y = x - at[0] + left + dx, where - at[1] + top + dy
        over = kid.w + left + right - width
        if kid.over > into.over or over > into.over:
            into.over = max(kid.over, over)
        into.kids.append(kid)

    def shrunk(self, element: Element, style: Style, width: float) -> Frag:
        """A float or inline block: as wide as asked, else as its content, at most what there is."""
        if style.display in _TABLES:
            return self.table(element, style, width)
        if element.tag == "img":
            return self.picture(element, style, width)
        pad, border = edges(style, width), style.border
        extra = pad[1] + pad[3] + border[1] + border[3]
        given = resolve(style.width, width)
        if given is not None:
            full = given + (0.0 if style.box_sizing == "border-box" else extra)
        else:
            margins = sum(one for one in (style.margin[1], style.margin[3]) if isinstance(one, float))
            least, most = self.intrinsic(element, style)
            full = min(max(least - margins, width - margins), most - margins)
        frag = Frag(element, style)
        frag.dx, frag.dy = pad[3] + border[3], pad[0] + border[0]
        frag.w = max(clamp(full, style, width, extra), extra)
        floats = Floats(frag.w - extra)
        height = self.flow(element.children, style, frag.w - extra, frag, floats, (0.0, 0.0))
        height = max(height + frag.bottom, floats.lowest)
        frag.top = frag.bottom = 0.0
        frag.h = self._tall(height, style, pad[0] + pad[2] + border[0] + border[2])
        frag.over = 0.0 if given is not None else frag.over
        return frag

    def picture(self, element: Element, style: Style, width: float) -> Frag:
        """A picture (CSS 2.2, sections 10.3.2 and 10.6.2); one whose size is not known is taken for
        square."""
        frag = Frag(element, style)
        pad, border = edges(style, width), style.border
        across, down = pad[1] + pad[3] + border[1] + border[3], pad[0] + pad[2] + border[0] + border[2]
        natural = self.natural(element)
        w, h = resolve(style.width, width), style.height if style.height.__class__ is float else None
        if style.box_sizing == "border-box":
            w, h = None if w is None else max(w - across, 0), None if h is None else max(h - down, 0)
        ratio = natural[1] / natural[0] if natural and natural[0] else None
        if ratio is None and (w is None or h is None):
            self.note("sizes of some pictures are not known; they are taken for square")
            ratio = 1.0
            if w is None and h is None:
                w = 0.0
        if w is None:
            w = h / ratio if h is not None and ratio else natural[0] if natural else 0.0
        before = w
        add = across if style.box_sizing == "border-box" else 0.0
        most, least = resolve(style.max_width, width), resolve(style.min_width, width)
        if most is not None:
            w = min(w, max(most - add, 0.0))
        if least is not None:
            w = max(w, least - add)
        if h is None:
            h = w * (ratio or 0.0)
        if style.max_height.__class__ is float and h > style.max_height:
            h = style.max_height
            if ratio and style.width is None and before == w:
                w = h / ratio
        if style.min_height.__class__ is float:
            h = max(h, style.min_height)
        frag.w, frag.h = w + across, h + down
        flexible = isinstance(style.width, tuple) or isinstance(style.max_width, tuple)
        frag.over = 0.0 if flexible else max(frag.w - width, 0.0)
        return frag


def _joined(one: float, other: float) -> float:
    """Two adjoining margins (CSS 2.2, section 8.3.1)."""
    return max(one, other, 0.0) + min(one, other, 0.0)
