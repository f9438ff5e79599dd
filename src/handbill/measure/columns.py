"""Columns' widths (CSS Tables 3, section 4.1). Enters: what each column needs; leaves: px for each."""

from __future__ import annotations


class Column:
    """px a column needs at least and would like at most; `fixed` px or `percent` (a share) that it asks
    for."""

    __slots__ = ("fixed", "least", "most", "percent")

    def __init__(self) -> None:
        self.least = self.most = 0.0
        self.fixed = False
        self.percent: float | None = None

    def take(self, low: float, high: float, wanted: float | tuple[float] | None, extra: float) -> None:
        """One more cell: its narrowest and widest content, and its width property."""
        self.least = max(self.least, low)
        if isinstance(wanted, float):
            asked = max(wanted + extra, low)
            self.most = max(self.most, asked) if self.fixed or not self.most else max(asked, self.least)
            self.fixed = True
        else:
            if isinstance(wanted, tuple) and wanted[0] > 0:
                self.percent = max(self.percent or 0.0, wanted[0])
            if not self.fixed:
                self.most = max(self.most, high)
            else:
                self.most = max(self.most, low)


def share(columns: list[Column], low: float, high: float) -> None:
    """What a cell over several columns needs beyond them is shared out."""
    missing = low - sum(one.least for one in columns)
    if missing > 0:
        whole = sum(one.most for one in columns)
        for one in columns:
            one.least += missing * (one.most / whole if whole else 1 / len(columns))
    for one in columns:
        one.most = max(one.most, one.least)
    missing = high - sum(one.most for one in columns)
    if missing > 0:
        for one in columns:
            one.most += missing / len(columns)


def fixed_widths(wanted: list[float | tuple[float] | None], count: int, inner: float) -> list[float]:
    """`table-layout: fixed`: by the first row alone, the rest in equal parts."""
    wanted = (wanted + [None] * count)[:count]
    widths = [
        one if isinstance(one, float) else one[0] * inner if one is not None else -1.0 for one in wanted
    ]
    left = inner - sum(one for one in widths if one >= 0)
    auto = widths.count(-1.0)
    if auto:
        return [one if one >= 0 else max(left / auto, 0.0) for one in widths]
    total = sum(widths)
    if left > 0 and total:
        return [one + left * one / total for one in widths]
    return widths


def spread(columns: list[Column], inner: float) -> list[float]:
    """The automatic way: between what columns need and what they would like."""
    least = [one.least for one in columns]
    if inner <= sum(least):
        return least
    left = 1.0
    shares: list[float | None] = []
    for one in columns:
        part = min(one.percent, left) if one.percent else None
        shares.append(part)
        left -= part or 0.0
    percents = [
        max(part * inner, one.least) if part is not None else one.least
        for one, part in zip(columns, shares, strict=True)
    ]
    specified = [
        one.most if one.fixed and part is None else width
        for one, part, width in zip(columns, shares, percents, strict=True)
    ]
    wished = [
        max(one.most, one.least) if part is None else width
        for one, part, width in zip(columns, shares, specified, strict=True)
    ]
    for low, high in ((least, percents), (percents, specified), (specified, wished)):
        if inner < sum(high):
            room = sum(high) - sum(low)
            part_of = (inner - sum(low)) / room
            return [a + (b - a) * part_of for a, b in zip(low, high, strict=True)]
    return _excess(columns, shares, wished, inner)


def _excess(
    columns: list[Column], shares: list[float | None], wished: list[float], inner: float
) -> list[float]:
    """More room than anyone asks for: first to columns that ask for nothing (CSS Tables 3, section 4.3)."""
    extra = inner - sum(wished)
    plain = [n for n, one in enumerate(columns) if shares[n] is None and not one.fixed]
    filled = [n for n in plain if columns[n].most > 0]
    fixed = [n for n, one in enumerate(columns) if shares[n] is None and one.fixed and wished[n] > 0]
    percent = [n for n, part in enumerate(shares) if part]
    widths = list(wished)
    if filled:
        weights = {n: columns[n].most for n in filled}
    elif plain:
        weights = dict.fromkeys(plain, 1.0)
    elif fixed:
        weights = {n: wished[n] for n in fixed}
    else:
        weights = {n: shares[n] or 0.0 for n in percent} or dict.fromkeys(range(len(columns)), 1.0)
    whole = sum(weights.values()) or 1.0
    for n, weight in weights.items():
        widths[n] += extra * weight / whole
    return widths
