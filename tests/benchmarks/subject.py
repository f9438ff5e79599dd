"""handbill's side. Enters: a resolved mail; leaves: HTML, text and eml in memory, kept pieces used again."""

from __future__ import annotations

from typing import NamedTuple

from handbill.pipeline import renderer_for
from handbill.render.render import Rendered, assemble, pieces
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
    """A loaded campaign: one renderer, the sections of its first mail, and their code for the eml."""

    def __init__(self, mail: Mail) -> None:
        self.renderer = renderer_for(mail)
        first, _ = pieces(mail, self.renderer)
        self.kept = {id(section): piece for section, piece in zip(mail.sections, first, strict=True)}
        rendered = assemble(mail, first)
        self.coded = {
            **{piece: quoted_printable(piece.encode()) for piece in rendered.sample_html},
            **{piece: _coded_text(piece) for piece in rendered.sample_text if piece},
        }

    def every(self, mail: Mail) -> Made:
        """The files of `mail`, every section made anew."""
        made, wrong = pieces(mail, self.renderer)
        assert not wrong, wrong
        rendered = assemble(mail, made, self.renderer)
        return Made(*_files(rendered), files.eml(mail, rendered))

    def next(self, mail: Mail) -> Made:
        """The files of `mail`; sections that the first mail had too are taken as they were made for it."""
        made, wrong = pieces(mail, self.renderer, self.kept)
        assert not wrong, wrong
        rendered = assemble(mail, made, self.renderer)
        coded = self.coded
        html = [coded.get(piece) or quoted_printable(piece.encode()) for piece in rendered.sample_html]
        text = [coded.get(piece) or _coded_text(piece) for piece in rendered.sample_text if piece]
        return Made(*_files(rendered), message(files.headers(mail, rendered), text, html))


def _files(rendered: Rendered) -> tuple[bytes, bytes]:
    return "".join(rendered.html).encode(), ("".join(rendered.text).rstrip("\n") + "\n").encode()


def _coded_text(piece: str) -> bytes:
    return quoted_printable(flow(piece.rstrip("\n") + "\n\n").encode())
