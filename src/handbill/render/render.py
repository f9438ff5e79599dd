"""Rendering. Enters: a resolved mail; leaves: bytes per section and the whole, in HTML and text.

A section's bytes depend on its own frozen fields alone and end in a newline, so that ranges and coded pieces
concatenate and an unchanged section is not rendered again.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from jinja2 import Environment, TemplateError

from handbill.base.errors import Fault, Mistake
from handbill.library.build import Library
from handbill.library.environment import FILTERS, make_environment
from handbill.render import shell
from handbill.resolve.mail import Mail, Spoken
from handbill.resolve.values import Fields

_CLASS = re.compile(r'\sclass="([^"]+)"')
_BLANKS = re.compile(r"\n{3,}")


@dataclass(frozen=True, slots=True)
class Piece:
    """One section: HTML and text, with tags and as the sample reads it, and the classes its HTML uses."""

    id: str
    html: str
    text: str
    sample_html: str
    sample_text: str
    classes: frozenset[str]


@dataclass(frozen=True, slots=True)
class Rendered:
    """A mail in pieces; every piece ends in a newline and their concatenation is the file."""

    html: tuple[str, ...]
    text: tuple[str, ...]
    sample_html: tuple[str, ...]
    sample_text: tuple[str, ...]
    ids: tuple[str, ...]
    style_size: int


class Renderer:
    """Renders with one library. Holds compiled templates and nothing of any mail."""

    def __init__(self, library: Library, vector_buttons: bool, arrow: bool) -> None:
        house = Fields(
            vector_buttons=vector_buttons, button_arrow=arrow, button_height=library.house.px("button-height")
        )
        start, end = ("right", "left") if library.rtl else ("left", "right")
        self.library = library
        self.environment: Environment = make_environment(
            FILTERS, library.codes, {**library.tables, "house": house, "start": start, "end": end}
        )
        self._ground: Mapping[str, str] = library.tables["ground"]

    def piece(self, section: Spoken, language: str, rtl: bool) -> Piece:
        """One section. Raises Fault naming the template's own file and line when a block fails."""
        html, text = self._fill(section, section.tagged, language, rtl)
        if section.sampled is section.tagged and section.condition is None:
            sample_html, sample_text = html, text
        elif not section.in_sample:
            sample_html = sample_text = ""
        elif section.sampled is section.tagged:
            sample_html, sample_text = html, text
        else:
            sample_html, sample_text = self._fill(section, section.sampled, language, rtl)
        classes = frozenset(name for group in _CLASS.findall(html) for name in group.split())
        if section.condition is not None:
            opened, _otherwise, close = section.condition
            html, text = f"{opened}\n{html}{close}\n", f"{opened}\n{text}{close}\n"
        return Piece(section.id, html, text, sample_html, sample_text, classes)

    def _fill(self, section: Spoken, fields: Mapping[str, Any], language: str, rtl: bool) -> tuple[str, str]:
        context = {"level": section.level, "inner": section.inner, **fields}
        try:
            body = self.environment.get_template(f"{section.block}.html").render(context)
            text = self.environment.get_template(f"{section.block}.txt").render(context)
        except (TemplateError, TypeError, KeyError, AttributeError) as error:
            raise Fault(_where(error, section.block)) from error
        direction = "rtl" if rtl else "ltr"
        ground = self._ground[section.tone]
        html = f'<tr><td lang="{language}" dir="{direction}"{ground}>\n{body.strip()}\n</td></tr>\n'
        return html, _tidy(text)


def _where(error: Exception, block: str) -> str:
    """What went wrong in a template, with its file and line (the traceback's last frame in a template)."""
    frame, place = error.__traceback__, ""
    while frame is not None:
        name = frame.tb_frame.f_code.co_filename
        if name.endswith(".j2"):
            place = f" at {name}:{frame.tb_lineno}"
        frame = frame.tb_next
    return f"block {block} failed{place}: {error}"


def _tidy(text: str) -> str:
    """Spaces at line ends go, blank lines come singly, and one closes the section."""
    lines = "\n".join(line.rstrip() for line in text.split("\n"))
    body = _BLANKS.sub("\n\n", lines).strip("\n")
    return body + "\n\n" if body else ""


def pieces(
    mail: Mail, renderer: Renderer, kept: Mapping[int, Piece] | None = None
) -> tuple[tuple[Piece, ...], list[Mistake]]:
    """All sections of a mail; `kept` holds pieces of sections already rendered, by the identity of their fields."""
    made: list[Piece] = []
    wrong: list[Mistake] = []
    for section in mail.sections:
        old = kept.get(id(section)) if kept else None
        if old is not None:
            made.append(old)
            continue
        try:
            made.append(renderer.piece(section, mail.language, mail.rtl))
        except Fault as fault:
            wrong.append(fault.at(section.place, section.path))
    return tuple(made), wrong


def assemble(mail: Mail, made: tuple[Piece, ...]) -> Rendered:
    """The document around the sections."""
    library, brand = mail.library, mail.shop.brand
    used = {name for piece in made for name in piece.classes} | _shell_classes(library)
    style = shell.styles(library.rules, used)
    ends = {
        voice: (
            shell.head(brand, library, language=mail.language, rtl=mail.rtl, title=title.html, styles=style)
            + shell.opening(
                library, language=mail.language, rtl=mail.rtl, preheader=preheader.html, title=title.attr
            )
        )
        for voice, title, preheader in (
            ("tagged", mail.title.tagged, mail.preheader.tagged),
            ("sampled", mail.title.sampled, mail.preheader.sampled),
        )
    }
    return Rendered(
        html=(ends["tagged"], *(piece.html for piece in made), shell.CLOSING),
        text=tuple(piece.text for piece in made),
        sample_html=(ends["sampled"], *(piece.sample_html for piece in made), shell.CLOSING),
        sample_text=tuple(piece.sample_text for piece in made),
        ids=tuple(piece.id for piece in made),
        style_size=sum(
            len(block) for block in re.findall(r"<style>(.*?)</style>", ends["tagged"], re.DOTALL)
        ),
    )


def _shell_classes(library: Library) -> set[str]:
    return {name for group in _CLASS.findall(" " + library.tables["page"]["base"]) for name in group.split()}


def unsubscribes(mail: Mail, made: tuple[Piece, ...]) -> bool:
    """Whether some rendered link is the unsubscribe."""
    mark = f'href="{mail.unsubscribe.tagged.url}"'
    return any(mark in piece.html for piece in made)
