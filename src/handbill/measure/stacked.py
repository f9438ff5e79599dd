"""The commonest tables: one column, no gaps, no need of a grid. Enters: a table; leaves: its fragment."""

from __future__ import annotations

from handbill.dom.style import Style
from handbill.dom.tree import Element
from handbill.measure.core import ROOMY, Core, Floats, Frag, resolve


class Stacked(Core):
    def single(self, element: Element, style: Style, width: float) -> Frag | None:
        """The commonest table: one cell in each row, no gaps. None for any other."""
        if style.border_spacing != (0.0, 0.0) or style.collapse or style.height is not None:
            return None
        below = self.styler.below
        found: list[tuple[Element, Style, Element, Style]] = []
        for child in element.children:
            if child.__class__ is str:
                if child != " ":
                    return None
                continue
            row: Element = child  # type: ignore[assignment]
            own = below(style, row)
            if own.display != "table-row" or own.height is not None:
                return None
            cell: Element | None = None
            for one in row.children:
                if one.__class__ is not str:
                    if cell is not None:
                        return None
                    cell = one  # type: ignore[assignment]
            if cell is None:
                return None
            inner = below(own, cell)
            if inner.display != "table-cell" or inner.odd or inner.percent_padding is not None:
                return None
            found.append((row, own, cell, inner))
        full = self._full(element, style, width)
        across = style.left + style.right
        kids, over = self._cells_of(found, full - across)
        if over > ROOMY and self.again():
            # The content decides; at the width it needs nothing in it has to be laid out a third time.
            full += over
            kids, _ = self._cells_of(found, full - across)
        frag = Frag(element, style)
        frag.w = full
        y = style.top
        for (row, own, _, _), kid in zip(found, kids, strict=True):
            holder = Frag(row, own)
            holder.x, holder.y, holder.w, holder.h = style.left, y, full - across, kid.h
            holder.kids = [kid]
            if kid.base is not None:
                holder.base = kid.base
                if frag.base is None:
                    frag.base = y + kid.base
                frag.last_base = y + kid.base
            frag.kids.append(holder)
            y += kid.h
        frag.h = y + style.bottom
        if full > width and (style.width.__class__ is not tuple or full - width > ROOMY):
            frag.over = full - width
        return frag

    def _cells_of(
        self, found: list[tuple[Element, Style, Element, Style]], width: float
    ) -> tuple[list[Frag], float]:
        """The cells laid out, and how much wider the widest of them has to be."""
        kids: list[Frag] = []
        over = 0.0
        for _, _, cell, inner in found:
            kid = Frag(cell, inner)
            kid.w = width
            kid.dx, kid.dy = inner.left, inner.top
            room = width - inner.left - inner.right
            floats = Floats(room)
            height = self.flow(cell.children, inner, room if room > 0 else 0.0, kid, floats, (0.0, 0.0))
            if kid.over - min(room, 0.0) > over:
                over = kid.over - min(room, 0.0)
            height += kid.bottom
            if floats.lowest > height or height < 0:
                height = floats.lowest
            height += inner.top + inner.bottom
            kid.bottom = height
            if inner.height.__class__ is float:
                add = 0.0 if inner.box_sizing == "border-box" else inner.top + inner.bottom
                tall = inner.height + add
                if tall > height:
                    align = inner.vertical_align
                    if align in ("middle", "bottom"):
                        lower(kid, (tall - height) / (2 if align == "middle" else 1))
                    height = tall
            kid.h = height
            kids.append(kid)
        return kids, over

    def _full(self, element: Element, style: Style, width: float) -> float:
        """A table's border-box width, if its content lets it."""
        given = resolve(style.width, width)
        across = style.left + style.right
        add = 0.0 if style.box_sizing == "border-box" else across
        if given is None:
            least, most = self.table_intrinsic(element, style)
            margins = (resolve(style.margin[1], width) or 0.0) + (resolve(style.margin[3], width) or 0.0)
            full = max(least, min(most, width - margins))
        else:
            full = given + add
        if style.max_width is not None:
            full = min(full, resolve(style.max_width, width) + add)  # type: ignore[operator]
        if style.min_width is not None:
            full = max(full, resolve(style.min_width, width) + add)  # type: ignore[operator]
        return max(full, across)


def lower(kid: Frag, by: float) -> None:
    for one in kid.kids:
        one.y += by
    if kid.lines:
        kid.lines = [(x, y + by, w, h) for x, y, w, h in kid.lines]
    if kid.base is not None:
        kid.base += by
