"""One section under examination. Enters: how it is spoken and rendered; leaves: its values, texts and HTML.

`handbill compile` looks at sections too, so this module brings in little.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from handbill.base.frozen import dataclass
from handbill.preflight.contract import Way, Where
from handbill.resolve.copy import Copy
from handbill.resolve.text import Filled, Text
from handbill.resolve.values import Address, Cell, Fields

if TYPE_CHECKING:
    from handbill.preflight.page import Page
    from handbill.render.render import Piece
    from handbill.resolve.mail import Mail, Spoken

#: A value of a section: the way to it, and what it is.
Value = tuple[Way, Text | Copy | Fields]


@dataclass(frozen=True, slots=True)
class Part:
    """One section of the mail, or what the others get in its place.

    `shown`: the sample recipient gets it; `first` and `end` are then its bytes in the HTML of the whole.
    """

    mail: Mail
    spoken: Spoken
    piece: Piece
    id: str
    shown: bool
    first: int = -1
    end: int = -1
    branch: int = 0

    @property
    def when(self) -> str:
        """The recipient field that the section is kept back without, if there is one."""
        return "" if self.branch else self.spoken.when

    @property
    def html(self) -> str:
        """As the sample recipient gets it, or else with tags."""
        return self.piece.sample_html if self.shown else self.piece.branches[self.branch]

    @property
    def page(self) -> Page:
        """Its HTML read back by itself; elements' places are of no use outside it."""
        return _fragment(self.html)

    @property
    def system_links(self) -> frozenset[str]:
        """The sample's links that the sending program will write: where they lead says nothing."""
        return frozenset(self.mail.sample.links.values())

    def at(self, near: str) -> Where:
        """The field of this section that says `near`."""
        return Where(section=self.id, near=near)

    @property
    def text(self) -> str:
        """Its text as the sample recipient gets it, else nothing."""
        return self.piece.sample_text if self.shown else ""

    @property
    def fields(self) -> Mapping[str, Any]:
        """The section's fields in the sample's words."""
        return self.spoken.sampled

    def values(self) -> Iterator[Value]:
        """Every text, copy, link and group of the section's fields, with the way to it."""
        for name, value in self.fields.items():
            if name not in ("word", "width", "brand", "link"):
                yield from _values(value, (name,))

    def texts(self) -> Iterator[tuple[Way, Filled, str]]:
        """Every text and copy: the way to it, its parts, what the reader reads. Addresses are left out."""
        for way, value in self.values():
            if isinstance(value, Copy):
                yield way, filled_of(value), value.plain
            elif isinstance(value, Text) and not isinstance(value, Address):
                yield way, value.filled, value.plain


@lru_cache(maxsize=512)
def _fragment(html: str) -> Page:
    from handbill.preflight.page import Page

    return Page(f"<!DOCTYPE html><html><head></head><body><table>{html}</table></body></html>")


def _values(value: Any, way: Way) -> Iterator[Value]:
    if isinstance(value, Text | Copy):
        yield way, value
    elif isinstance(value, Fields):
        yield way, value
        for name, inner in vars(value).items():
            yield from _values(inner, (*way, name))
    elif isinstance(value, Cell):
        for name, inner in value.fields.items():
            if name not in ("word", "width"):
                yield from _values(inner, (*way, name))
    elif isinstance(value, tuple | list):
        for number, entry in enumerate(value):
            yield from _values(entry, (*way, number))


def filled_of(copy: Copy) -> Filled:
    """The parts of all of a copy's text, one after the other."""
    return tuple(part for run in copy.runs for part in run)


def parts_of(mail: Mail, pieces: Sequence[Piece], first: int = 0) -> Iterator[Part]:
    """Every section of a mail, each followed by what others get; `first` are the bytes before them all."""
    at = first
    for spoken, piece in zip(mail.sections, pieces, strict=True):
        size = len(piece.sample_html.encode())
        for branch, one in enumerate((spoken, spoken.otherwise)):
            if one is None:
                continue
            id = f"{spoken.id}, otherwise" if branch else spoken.id
            if size and spoken.in_sample == (branch == 0):
                yield Part(mail, one, piece, id, True, at, at + size, branch)
            else:
                yield Part(mail, one, piece, id, False, branch=branch)
        at += size


def one_line(text: str) -> str:
    """`text` with its white space squeezed, as it reads."""
    return re.sub(r"\s+", " ", text).strip()
