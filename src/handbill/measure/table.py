"""Tables (CSS 2.2, chapter 17; CSS Tables 3 for the widths). Enters: a table and a width; leaves: its
fragment.

A cell that spans rows stands in its first row, which a note says. Collapsed borders are laid out as separate
ones without gaps.
"""

from __future__ import annotations

from handbill.dom.style import Style
from handbill.dom.tree import Child, Element
from handbill.measure.columns import Column, fixed_widths, share, spread
from handbill.measure.core import ROOMY, Floats, Frag, edges, resolve
from handbill.measure.stacked import Stacked, lower

_GROUPS = frozenset(("table-row-group", "table-header-group", "table-footer-group"))


class Cell:
    """A cell in its grid; `element` None where the table's own children stand in for one."""

    __slots__ = ("children", "column", "element", "span", "style")

    def __init__(
        self, element: Element | None, style: Style, children: list[Child], column: int, span: int
    ) -> None:
        self.element, self.style, self.children = element, style, children
        self.column, self.span = column, span


Row = tuple[Element | None, Style | None, list[Cell]]


class Tables(Stacked):
    def rows(self, element: Element, style: Style) -> tuple[list[Row], int]:
        """The rows in the order they show, with headers first and footers last, and the number of columns."""
        head: list[Row] = []
        body: list[Row] = []
        foot: list[Row] = []
        loose: list[tuple[Element, Style]] = []
        below = self.styler.below
        for child in element.children:
            if child.__class__ is str:
                if child != " " and child.strip():
                    self.note("text straight in a table is left out")
                continue
            own = below(style, child)  # type: ignore[arg-type]
            display = own.display
            if display == "table-row":
                body.append((child, own, self._cells(child, own)))  # type: ignore[arg-type]
            elif display == "none" or display in ("table-column", "table-column-group"):
                continue
            elif display in _GROUPS:
                target = (
                    head
                    if display == "table-header-group"
                    else foot
                    if display == "table-footer-group"
                    else body
                )
                target += self.rows(child, own)[0]  # type: ignore[arg-type]
            elif display == "table-caption":
                self.note("captions of tables are left out")
            else:
                loose.append((child, own))  # type: ignore[arg-type]
        if loose:
            body.append((None, None, self._grid(loose, style)))
        rows = head + body + foot
        return rows, max((cell.column + cell.span for _, _, cells in rows for cell in cells), default=0)

    def _cells(self, row: Element, style: Style) -> list[Cell]:
        below = self.styler.below
        found = [
            (child, below(style, child))  # type: ignore[arg-type]
            for child in row.children
            if child.__class__ is not str
        ]
        return self._grid(found, style)  # type: ignore[arg-type]

    def _grid(self, children: list[tuple[Element, Style]], style: Style) -> list[Cell]:
        cells: list[Cell] = []
        column = 0
        for child, own in children:
            display = own.display
            if display == "none":
                continue
            if display == "table-cell":
                span = 1
                attributes = child.head.attributes
                if "colspan" in attributes:
                    span = _count(attributes["colspan"])
                if "rowspan" in attributes and _count(attributes["rowspan"]) > 1:
                    self.note("a cell that spans rows is measured in its first row")
                cells.append(Cell(child, own, child.children, column, span))
                column += span
            elif cells and cells[-1].element is None:
                cells[-1].children.append(child)
            else:
                cells.append(Cell(None, style, [child], column, 1))
                column += 1
        return cells

    def set_table(self, element: Element, style: Style, width: float) -> Frag:
        if style.odd:
            self.odd(style)
        if not style.table_fixed and style.percent_padding is None:
            frag = self.single(element, style, width)
            if frag is not None:
                return frag
        rows, count = self.rows(element, style)
        frag = Frag(element, style)
        pad, border = (0.0,) * 4 if style.collapse else edges(style, width), style.border
        across = pad[1] + pad[3] + border[1] + border[3]
        gap_x, gap_y = (0.0, 0.0) if style.collapse else style.border_spacing
        gaps = gap_x * (count + 1) if count else 0.0
        margins = (resolve(style.margin[1], width) or 0.0) + (resolve(style.margin[3], width) or 0.0)
        given = resolve(style.width, width)
        if given is not None and style.box_sizing == "content-box":
            given += across
        if given is None:
            least, most = self.table_intrinsic(element, style)
            full = max(least, min(most, width - margins))
        else:
            full = given
        add = 0.0 if style.box_sizing == "border-box" else across
        high, low = resolve(style.max_width, width), resolve(style.min_width, width)
        if high is not None:
            full = min(full, high + add)
        if low is not None:
            full = max(full, low + add)
        full = max(full, across)
        inner = full - across - gaps
        fixed = style.table_fixed and style.width is not None
        widths, exact = self._widths(rows, count, max(inner, 0.0), fixed, given is not None)
        laid = self._lay(rows, widths, gap_x)
        wide = not exact and not fixed and any(one.over > ROOMY for row in laid for one in row)
        if wide and self.again():
            widths = self._wider(rows, count, inner, laid, widths, width)
            laid = self._lay(rows, widths, gap_x)
        frag.w = max(sum(widths) + gaps + across, full)
        heights = self._heights(rows, laid, style, gap_y, pad[0] + pad[2] + border[0] + border[2])
        self._stack(frag, rows, laid, widths, heights, (gap_x, gap_y), pad)
        rtl_free = frag.w - width
        frag.over = max(rtl_free, 0.0) if not isinstance(style.width, tuple) or rtl_free > ROOMY else 0.0
        return frag

    def _widths(
        self, rows: list[Row], count: int, inner: float, fixed: bool, given: bool
    ) -> tuple[list[float], bool]:
        """Columns' widths, and whether they are final: the quick ways ask no content how wide it is."""
        if count == 1 and not any(cell.span > 1 for _, _, cells in rows for cell in cells):
            return [inner], False
        if fixed:
            first = rows[0][2] if rows else []
            return fixed_widths(
                [self._wanted(cell, inner) for cell in first for _ in range(cell.span)], count, inner
            ), True
        if count == 0:
            return [], True
        quick = self._one_auto(rows, count, inner) if given else None
        if quick is not None:
            return quick, False
        return spread(self.columns(rows, count), inner), True

    def _one_auto(self, rows: list[Row], count: int, inner: float) -> list[float] | None:
        """All columns but one of fixed width in a single row: that one gets the rest."""
        if len(rows) != 1 or len(rows[0][2]) != count:
            return None
        widths: list[float] = []
        auto = -1
        for number, cell in enumerate(rows[0][2]):
            wanted = cell.style.width
            if isinstance(wanted, float) and cell.element is not None and wanted > 0:
                widths.append(wanted + _extra(cell.style))
            elif wanted is None and auto < 0:
                auto = number
                widths.append(0.0)
            else:
                return None
        rest = inner - sum(widths)
        if auto < 0 or rest <= 0:
            return None
        widths[auto] = rest
        return widths

    def _wider(
        self,
        rows: list[Row],
        count: int,
        inner: float,
        laid: list[list[Frag]],
        widths: list[float],
        width: float,
    ) -> list[float]:
        """After the quick way left something too narrow."""
        if count == 1:
            return [max(widths[0] + max(one.over for row in laid for one in row), 0.0)]
        return spread(self.columns(rows, count), inner)

    def _wanted(self, cell: Cell, inner: float) -> float | tuple[float] | None:
        wanted = cell.style.width
        if isinstance(wanted, float) and cell.element is not None:
            return (
                wanted + (_extra(cell.style) if cell.style.box_sizing == "content-box" else 0.0)
            ) / cell.span
        return wanted if isinstance(wanted, tuple) and cell.element is not None else None

    def columns(self, rows: list[Row], count: int) -> list[Column]:
        """Narrowest and widest content of each column, and what its cells ask for."""
        columns = [Column() for _ in range(count)]
        wide: list[tuple[Cell, float, float]] = []
        for _, _, cells in rows:
            for cell in cells:
                low, high = self._cell_intrinsic(cell)
                wanted = cell.style.width if cell.element is not None else None
                if cell.span > 1:
                    wide.append((cell, low, high))
                    continue
                columns[cell.column].take(low, high, wanted, _extra(cell.style))
        for cell, low, high in wide:
            share(columns[cell.column : cell.column + cell.span], low, high)
        return columns

    def _cell_intrinsic(self, cell: Cell) -> tuple[float, float]:
        if cell.element is not None and cell.element in self._intrinsic:
            return self._intrinsic[cell.element]
        low, high = self.content_intrinsic(cell.children, cell.style)
        extra = _extra(cell.style) if cell.element is not None else 0.0
        found = low + extra, high + extra
        if cell.element is not None:
            self._intrinsic[cell.element] = found
        return found

    def table_intrinsic(self, element: Element, style: Style) -> tuple[float, float]:
        rows, count = self.rows(element, style)
        columns = self.columns(rows, count)
        pad, border = style.padding, style.border
        extra = pad[1] + pad[3] + border[1] + border[3]
        extra += 0.0 if style.collapse else style.border_spacing[0] * (count + 1 if count else 0)
        least = sum(one.least for one in columns)
        most = sum(max(one.most, one.least) for one in columns)
        left = 1.0 - sum(one.percent or 0.0 for one in columns)
        for one in columns:
            if one.percent:
                most = max(most, one.most / one.percent)
        plain = sum(one.most for one in columns if not one.percent)
        if plain and 0 < left < 1:
            most = max(most, plain / left)
        least, most = least + extra, most + extra
        if isinstance(style.width, float):
            least = most = max(least, style.width + (0.0 if style.box_sizing == "border-box" else extra))
        if isinstance(style.max_width, float):
            most = max(min(most, style.max_width), least)
        if isinstance(style.min_width, float):
            least, most = max(least, style.min_width), max(most, style.min_width)
        return least, most

    def _lay(self, rows: list[Row], widths: list[float], gap: float) -> list[list[Frag]]:
        found: list[list[Frag]] = []
        for _, _, cells in rows:
            row: list[Frag] = []
            for cell in cells:
                if cell.span == 1:
                    width = widths[cell.column]
                else:
                    width = sum(widths[cell.column : cell.column + cell.span]) + gap * (cell.span - 1)
                row.append(self._cell(cell, width))
            found.append(row)
        return found

    def _cell(self, cell: Cell, width: float) -> Frag:
        style = cell.style
        frag = Frag(cell.element, style)
        frag.w = width
        if cell.element is None:
            floats = Floats(width)
            frag.h = self.flow(cell.children, style, width, frag, floats, (0.0, 0.0)) + frag.bottom
            frag.h = max(frag.h, floats.lowest)
            return frag
        if style.odd:
            self.odd(style)
        pad, border = edges(style, width), style.border
        frag.dx, frag.dy = pad[3] + border[3], pad[0] + border[0]
        content = width - pad[1] - pad[3] - border[1] - border[3]
        floats = Floats(content)
        height = self.flow(cell.children, style, max(content, 0.0), frag, floats, (0.0, 0.0))
        height += frag.bottom
        if floats.lowest > height or height < 0:
            height = floats.lowest
        down = pad[0] + pad[2] + border[0] + border[2]
        height += down
        if style.height.__class__ is float:
            asked = style.height + (down if style.box_sizing == "content-box" else 0.0)
            frag.bottom = height
            frag.h = max(height, asked)
        else:
            frag.h = frag.bottom = height
        return frag

    def _heights(
        self, rows: list[Row], laid: list[list[Frag]], style: Style, gap: float, extra: float
    ) -> list[float]:
        heights: list[float] = []
        for (_, row_style, _), cells in zip(rows, laid, strict=True):
            height = max([cell.h for cell in cells], default=0.0)
            if row_style is not None and row_style.height.__class__ is float:
                height = max(height, row_style.height)
            lined = [cell for cell in cells if _aligned(cell.style) == "baseline"]
            if len(lined) > 1:
                base = max(_baseline(cell) for cell in lined)
                height = max([height, *(base + cell.h - _baseline(cell) for cell in lined)])
            heights.append(height)
        if style.height.__class__ is float and heights:
            asked = style.height - (extra if style.box_sizing == "border-box" else 0.0)
            left = asked - sum(heights) - gap * (len(heights) + 1)
            if left > 0:
                total = sum(heights)
                heights = [one + left * (one / total if total else 1 / len(heights)) for one in heights]
        return heights

    def _stack(
        self, frag: Frag, rows: list[Row], laid: list[list[Frag]], widths: list[float], heights: list[float],
        gaps: tuple[float, float], pad: tuple[float, ...],
    ) -> None:  # fmt: skip
        border = frag.style.border
        left, y = pad[3] + border[3], pad[0] + border[0] + (gaps[1] if rows else 0.0)
        rtl = frag.style.direction == "rtl"
        starts: list[float] = []
        x = left + gaps[0]
        for width in widths:
            starts.append(x)
            x += width + gaps[0]
        for (row, row_style, cells), kids, height in zip(rows, laid, heights, strict=True):
            holder = Frag(row, row_style or frag.style)
            holder.x, holder.y, holder.h = left + gaps[0], y, height
            holder.w = max(x - gaps[0] - holder.x, 0.0)
            lined = [kid for kid in kids if _aligned(kid.style) == "baseline"]
            base = max((_baseline(kid) for kid in lined), default=0.0)
            for cell, kid in zip(cells, kids, strict=True):
                at = starts[cell.column] - holder.x
                kid.x = holder.w - at - kid.w if rtl else at
                align = _aligned(kid.style) if cell.element is not None else "top"
                down = 0.0
                if align == "middle":
                    down = (height - kid.bottom) / 2
                elif align == "bottom":
                    down = height - kid.bottom
                elif align == "baseline":
                    down = base - _baseline(kid)
                if down > 0:
                    lower(kid, down)
                if kid.base is not None and holder.base is None:
                    holder.base = kid.base
                kid.h = height
                holder.kids.append(kid)
            if frag.base is None and holder.base is not None:
                frag.base = y + holder.base
            if holder.base is not None:
                frag.last_base = y + holder.base
            frag.kids.append(holder)
            y += height + gaps[1]
        frag.h = y + pad[2] + border[2]


def _aligned(style: Style) -> str:
    align = style.vertical_align
    return align if align in ("top", "middle", "bottom") else "baseline"


def _baseline(cell: Frag) -> float:
    """From the cell's top to its first baseline, or to the foot of its content if it has none."""
    if cell.base is not None:
        return cell.base
    return cell.bottom - cell.style.padding[2] - cell.style.border[2]


def _extra(style: Style) -> float:
    return style.padding[1] + style.padding[3] + style.border[1] + style.border[3]


def _count(text: str) -> int:
    digits = text.strip()
    return min(max(int(digits), 1), 100) if digits.isdigit() else 1
