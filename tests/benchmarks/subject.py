"""handbill's side. Enters: a resolved mail; leaves: HTML, text and eml in memory, kept pieces used again."""

from __future__ import annotations

from typing import NamedTuple

from handbill.pipeline import renderer_for
from handbill.render.render import Piece, assemble, pieces
from handbill.resolve.mail import Mail
from handbill.write import files
from handbill.write.eml import message, quoted_printable
from handbill.write.flowed import flow


class Made(NamedTuple):
    """A mail's three files."""

    html: bytes
    text: bytes
    eml: bytes


class Press:
    """A loaded campaign: one renderer, the pieces of the mail made first, and their code for the eml."""

    def __init__(self, mail: Mail) -> None:
        self.mail = mail
        self.renderer = renderer_for(mail)
        first, _ = pieces(mail, self.renderer)
        self.kept = {id(section): piece for section, piece in zip(mail.sections, first, strict=True)}
        self.coded: dict[str, bytes] = {}
        self.make(mail)

    def make(self, mail: Mail, keep: bool = True) -> Made:
        """The files of `mail`; sections that the first mail had too are taken as they were made for it."""
        made, wrong = pieces(mail, self.renderer, self.kept if keep else None)
        assert not wrong, wrong
        rendered = assemble(mail, made)
        html = "".join(rendered.html).encode()
        text = ("".join(rendered.text).rstrip("\n") + "\n").encode()
        if not keep:
            return Made(html, text, files.eml(mail, rendered))
        known = self._known(made)
        coded_html = [known.get(piece) or quoted_printable(piece.encode()) for piece in rendered.sample_html]
        coded_text = [
            known.get(piece) or quoted_printable(flow(piece.rstrip("\n") + "\n\n").encode())
            for piece in rendered.sample_text
            if piece
        ]
        return Made(html, text, message(files.headers(mail, rendered), coded_text, coded_html))

    def _known(self, made: tuple[Piece, ...]) -> dict[str, bytes]:
        return self.coded
