"""handbill's side. Enters: a resolved mail; leaves: HTML, text and eml in memory, kept pieces used again."""

from __future__ import annotations

from typing import NamedTuple

from handbill.base.kept import Kept
from handbill.pipeline import renderer_for
from handbill.render.render import Piece, Rendered, assemble, pieces
from handbill.resolve.mail import Mail
from handbill.write import files
from handbill.write.coded import MOST, Coder


class Made(NamedTuple):
    """A mail's three files."""

    html: bytes
    text: bytes
    eml: bytes


class Press:
    """A loaded campaign: one renderer, the sections of its first mail, and their code for the eml."""

    def __init__(self, mail: Mail) -> None:
        self.renderer = renderer_for(mail)
        self.kept: Kept[Piece] = Kept(MOST)
        self.coder = Coder()
        self.next(mail)

    def every(self, mail: Mail) -> Made:
        """The files of `mail`, every section made anew."""
        made, wrong = pieces(mail, self.renderer)
        assert not wrong, wrong
        rendered = assemble(mail, made, self.renderer)
        return Made(*_files(rendered), files.eml(mail, rendered))

    def next(self, mail: Mail) -> Made:
        """The files of `mail`; sections that a mail before had too are taken as they were made for it."""
        made, wrong = pieces(mail, self.renderer, self.kept)
        assert not wrong, wrong
        rendered = assemble(mail, made, self.renderer)
        return Made(*_files(rendered), files.eml(mail, rendered, coder=self.coder))


def _files(rendered: Rendered) -> tuple[bytes, bytes]:
    return "".join(rendered.html).encode(), ("".join(rendered.text).rstrip("\n") + "\n").encode()
