"""Tables laid out before. Enters: a table, its style and width; leaves: a fragment like the one it had then.

Mails of one shop share most of their tables to the byte. What such a table came to is kept from the second
time on, with all that it depended on besides its own markup: the rules, the fonts, the sizes of its pictures.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from handbill.dom.style import Style
from handbill.dom.tree import Element
from handbill.measure.core import Core, Frag

_MOST_BYTES = 12_000  # of markup; what is larger hardly ever comes again
_MOST_KEPT, _MOST_SEEN = 4_000, 60_000
Natural = tuple[float, float] | None
# Place of the element in the table's bytes (-1 for none), style, x, y, width, height, lines, inline, kids.
_Inner = tuple[int, Style, float, float, float, float, list[Any], bool, tuple[Any, ...]]


class _Laid(NamedTuple):
    """A table as it came out. `markup` is compared, since keys are only hashes of it."""

    markup: bytes
    inner: _Inner
    sides: dict[str, Any]
    notes: tuple[str, ...]
    asked: tuple[tuple[str, Natural], ...]
    again: int
    banded: bool


_KEPT: dict[Any, _Laid] = {}
_SEEN: set[int] = set()


def forget() -> None:
    """Keep nothing of what was laid out so far."""
    _KEPT.clear()
    _SEEN.clear()


class _Borrowed(Frag):
    """A fragment whose kids are made when someone looks at them."""

    def __init__(self, element: Element, style: Style, laid: _Laid) -> None:
        self.__dict__.update(laid.sides)
        self.element, self.style = element, style
        self.lines = []
        self._inner = laid.inner

    def __getattr__(self, name: str) -> Any:
        if name != "kids":
            raise AttributeError(name)
        assert self.element is not None
        start = self.element.start
        elements = {one.start - start: one for one in self.element.iter()}
        self.kids = [_made(one, elements) for one in self._inner[8]]
        return self.kids


class Known(Core):
    def table(self, element: Element, style: Style, width: float) -> Frag:
        """A table's fragment, laid out now or taken from one that was the same."""
        start, end = element.start, element.end
        if self.markup is None or end - start > _MOST_BYTES:
            return self.set_table(element, style, width)
        markup = self.markup[start:end]
        key = (hash(markup), style, width, self.sheet)
        found = _KEPT.get(key)
        if found is not None and found.markup == markup and self._holds(found):
            self.notes.update(dict.fromkeys(found.notes))
            self.asked.update(found.asked)
            self.passed(found.again)
            self.banded = self.banded or found.banded
            return _Borrowed(element, style, found)
        if (mark := hash(key)) in _SEEN:
            return self._kept(key, markup, element, width)
        if len(_SEEN) >= _MOST_SEEN:
            _SEEN.clear()
        _SEEN.add(mark)
        return self.set_table(element, style, width)

    def _holds(self, laid: _Laid) -> bool:
        """Whether the pictures are as large as then, and as much may be laid out again."""
        return self.may_again(laid.again) and all(self.size(name) == size for name, size in laid.asked)

    def _kept(self, key: Any, markup: bytes, element: Element, width: float) -> Frag:
        outer = self.notes, self.asked, self.banded, self.count_again
        self.notes, self.asked, self.banded = {}, {}, False
        frag = self.set_table(element, key[1], width)
        used = self.count_again - outer[3]
        if self.may_again(0):
            if len(_KEPT) >= _MOST_KEPT:
                _KEPT.clear()
            sides = {name: value for name, value in vars(frag).items() if name in _SIDES}
            _KEPT[key] = _Laid(
                markup, _inner(frag, element.start), sides, tuple(self.notes), tuple(self.asked.items()),
                used, self.banded,
            )  # fmt: skip
        outer[0].update(self.notes)
        outer[1].update(self.asked)
        self.notes, self.asked, self.banded = outer[0], outer[1], outer[2] or self.banded
        return frag


_SIDES = frozenset(("w", "h", "dx", "dy", "top", "bottom", "over", "base", "last_base"))


def _inner(frag: Frag, start: int) -> _Inner:
    place = frag.element.start - start if frag.element is not None else -1
    kids = tuple([_inner(kid, start) for kid in frag.kids])
    return place, frag.style, frag.x, frag.y, frag.w, frag.h, frag.lines, frag.inline, kids


def _made(inner: _Inner, elements: dict[int, Element]) -> Frag:
    place, style, x, y, w, h, lines, inline, kids = inner
    frag = Frag(elements.get(place), style)
    frag.x, frag.y, frag.w, frag.h, frag.lines, frag.inline = x, y, w, h, lines, inline
    frag.kids = [_made(kid, elements) for kid in kids]
    return frag
