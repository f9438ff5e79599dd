"""Pieces as bytes. Enters: text of a mail, a piece at a time; leaves: UTF-8 and quoted-printable, made once.

The mails of a campaign share most of their pieces; what is kept here goes by the text itself, so that it can
never be another one's. The bounds hold some tens of megabytes at most.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from handbill.base.cache import Cache
from handbill.base.kept import Kept
from handbill.pictures.plan import Plan
from handbill.pictures.produce import produced
from handbill.render.render import hrefs
from handbill.resolve.shop import CopyOn
from handbill.resolve.text import kept
from handbill.write.eml import quoted_printable
from handbill.write.flowed import flow

MOST = 400  # pieces: a mail has some ten, most of which the next one has too


class Entry(dict[str, Any]):
    """An entry of a manifest, and the line that it is there."""

    @kept
    def line(self) -> str:
        """As JSON."""
        return json.dumps(self, ensure_ascii=False)


class Coder:
    """Codes pieces for mail after mail. One thread uses it at a time."""

    def __init__(self) -> None:
        self._data: Kept[bytes] = Kept(MOST)
        self._html: Kept[bytes] = Kept(MOST)
        self._text: Kept[bytes] = Kept(MOST)
        self._links: Kept[tuple[Entry, ...]] = Kept(MOST)
        self._digests: Kept[bytes] = Kept(MOST)
        self._sizes: Kept[int] = Kept(10 * MOST)
        self._pictures: Kept[Entry] = Kept(10 * MOST)

    def data(self, piece: str) -> bytes:
        """UTF-8."""
        return self._data.by(piece, piece.encode)

    def html(self, piece: str) -> bytes:
        """A piece of the HTML in quoted-printable."""
        return self._html.by(piece, lambda: quoted_printable(self.data(piece)))

    def text(self, piece: str) -> bytes:
        """A piece of the text, flowed, in quoted-printable."""
        return self._text.by(piece, lambda: quoted_printable(flow(piece.rstrip("\n") + "\n\n").encode()))

    def digest(self, piece: str) -> bytes:
        """The SHA-256 of a piece: a mail's own digest is made of those of its pieces."""
        return self._digests.by(piece, lambda: sha256(self.data(piece)).digest())

    def links(self, section: str, piece: str, addresses: Mapping[str, str]) -> tuple[Entry, ...]:
        """The links of a section's HTML in order, each once; `addresses` has those with send-time parts."""

        def made() -> tuple[Entry, ...]:
            from html import unescape

            return tuple([
                Entry(section=section, address=addresses.get(href) or unescape(href)) for href in hrefs(piece)
            ])  # fmt: skip

        return self._links.by((section, piece), made)

    def picture(self, plan: Plan, copy: CopyOn | None) -> Entry:
        """A picture, and how legible copy on it is, where some stands there."""

        def made() -> Entry:
            own = Entry(file=plan.name, width=plan.width, height=plan.height, pixels=list(plan.pixels))
            if copy is not None:
                own["copy"] = {"ink": copy.ink, "least": copy.least, "low": copy.low}
            return own

        return self._pictures.by((plan.name, copy), made)

    def knows(self, plan: Plan) -> bool:
        """Whether the size of this picture's file was asked for, so that it has been made."""
        return self._sizes.has(plan.key)

    def size(self, plan: Plan, cache: Cache) -> int:
        """Bytes of a picture's file. Raises Fault when it cannot be made."""
        return self._sizes.by(plan.key, lambda: len(produced(plan, cache)))
