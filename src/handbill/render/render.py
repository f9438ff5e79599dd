"""Rendering. Enters: a resolved mail; leaves: bytes per section and the whole, in HTML and text.

A section's bytes depend on its own frozen fields alone and end in a newline, so that ranges and coded pieces
concatenate and an unchanged section is not rendered again. One that only some recipients get is written as it
is, with the dialect's condition around it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from jinja2 import Environment

from handbill.base.errors import Fault, Mistake, Place
from handbill.base.frozen import dataclass
from handbill.base.kept import Kept
from handbill.library.build import Library
from handbill.library.environment import CELL, FILTERS, make_environment
from handbill.render import shell
from handbill.resolve.dialects import Dialect, collisions
from handbill.resolve.mail import Mail, Spoken
from handbill.resolve.shop import shared_word
from handbill.resolve.text import Text, escape_attribute
from handbill.resolve.values import Cell, Fields

if TYPE_CHECKING:
    from handbill.models.brand import Brand

# the space before a name is looked for last: a search for plain text is many times as fast
_CLASS = re.compile(r'class="(?<=\sclass=")([^"]+)"')
_HREF = re.compile(r'href="(?<=\shref=")([^"]*)"')
_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)
HEADS = 50  # kept at a time: mails that differ in their sections alone share one
_BLANKS = re.compile(r"\n{3,}")


@dataclass(frozen=True, slots=True)
class Piece:
    """One section: HTML and text, with tags and as the sample reads it (nothing when it does not get it).

    `branches` is its HTML for each kind of recipient, without the condition's tags. `classes` are those its
    HTML uses. The tagged text of a conditional section ends in its tag, so that no blank line stays where it
    is left out.
    """

    id: str
    html: str
    text: str
    sample_html: str
    sample_text: str
    classes: frozenset[str]
    branches: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Rendered:
    """A mail in pieces; joined they are the file. `style_size` counts characters of all styles."""

    html: tuple[str, ...]
    text: tuple[str, ...]
    sample_html: tuple[str, ...]
    sample_text: tuple[str, ...]
    style_size: int


class _Side:
    """One library's templates: those of one direction."""

    def __init__(self, library: Library, vector_buttons: bool, arrow: bool) -> None:
        house = Fields(
            vector_buttons=vector_buttons,
            button_arrow=arrow,
            button_height=library.house.px("button-height"),
            turned="ltr" if library.rtl else "rtl",  # sets cells the other way round
            straight="rtl" if library.rtl else "ltr",
            arrow="←" if library.rtl else "→",
        )
        start, end = ("right", "left") if library.rtl else ("left", "right")
        self.environment: Environment = make_environment(
            FILTERS, library.codes, {**library.tables, "house": house, "start": start, "end": end}
        )
        self.ground: Mapping[str, str] = library.tables["ground"]


class Renderer:
    """Renders with a brand's libraries. Holds compiled templates and nothing of any mail.

    Sections of the other direction bring a library of their own along; its templates are made ready when the
    first of them comes.
    """

    def __init__(self, library: Library, vector_buttons: bool, arrow: bool) -> None:
        self.library = library
        self._looks = vector_buttons, arrow
        self._sides: dict[str, _Side] = {}
        self.environment = self._side(library).environment
        self._collisions: dict[Dialect, list[str]] = {}
        self.heads: Kept[tuple[str, int]] = Kept(HEADS)  # what opens a mail, and the size of its styles
        self._styles: tuple[frozenset[str], str, str] = (frozenset(), "", "")
        self._faces: Kept[str] = Kept(2)

    def _side(self, library: Library) -> _Side:
        side = self._sides.get(library.digest)
        if side is None:
            side = self._sides[library.digest] = _Side(library, *self._looks)
        return side

    def piece(self, section: Spoken) -> Piece:
        """One section. Raises Fault naming the template's own file and line when a block fails."""
        html, text, sample_html, sample_text = self._spoken(section)
        if section.condition is None:
            return Piece(section.id, html, text, sample_html, sample_text, _classes(html), (html,))
        opened, parted, close = section.condition
        other, other_text, *others_sample = "", "", "", ""
        if section.otherwise is not None:
            other, other_text, *others_sample = self._spoken(section.otherwise)
        if not section.in_sample:
            sample_html, sample_text = others_sample
        branches = html, other
        middle, middle_text = (f"{parted}\n{other}", f"{parted}{other_text}") if other else ("", "")
        html = f"{opened}\n{html}{middle}{close}\n"
        text = f"{opened}{text}{middle_text}{close}"
        return Piece(section.id, html, text, sample_html, sample_text, _classes(html), branches)

    def _spoken(self, section: Spoken) -> tuple[str, str, str, str]:
        """HTML and text with tags, and as the sample reads them."""
        made = self._fill(section, section.tagged)
        sampled = made if section.sampled is section.tagged else self._fill(section, section.sampled)
        return *made, *sampled

    def faces(self, brand: Brand) -> str:
        """What the head says of the brand's fonts."""
        return self._faces.of(brand, lambda: shell.faces(brand, self.library))

    def collisions(self, dialect: Dialect) -> list[str]:
        """The dialect's openers that stand in styles of the library, in the head or in an element."""
        found = self._collisions.get(dialect)
        if found is None:
            every = shell.styles(self.library.rules, self.library.rules)
            css = [*_STYLE.findall(every), *_strings(self.library.tables)]
            clashing = {opener for text in css for opener in collisions(text, dialect)}
            found = self._collisions[dialect] = sorted(clashing)
        return found

    def styles(self, used: frozenset[str], library: Library) -> str:
        """The style elements for the classes `used`; one mail after another mostly uses the same."""
        if not self._styles[2] or self._styles[:2] != (used, library.digest):
            self._styles = (used, library.digest, shell.styles(library.rules, used))
        return self._styles[2]

    def _cell(self, cell: Cell, environment: Environment) -> Cell:
        """A cell with its HTML and text."""
        try:
            html = environment.get_template(f"{cell.block}{CELL}").render(cell.fields)
            text = environment.get_template(f"{cell.block}.txt").render(cell.fields)
        except Fault:
            raise
        except Exception as error:  # as for a section
            raise Fault(_where(error, cell.block)) from error
        return Cell(cell.block, cell.fields, html.strip(), _tidy(text).rstrip("\n"))

    def _fill(self, section: Spoken, fields: Mapping[str, Any]) -> tuple[str, str]:
        side = self._side(section.library)
        context = {"level": section.level, "inner": section.inner, **fields}
        for name, value in fields.items():
            if isinstance(value, tuple) and value and isinstance(value[0], Cell):
                context[name] = tuple(self._cell(cell, side.environment) for cell in value)
        try:
            body = side.environment.get_template(f"{section.block}.html").render(context)
            text = side.environment.get_template(f"{section.block}.txt").render(context)
        except Fault:
            raise
        except Exception as error:  # whatever a template runs into is the block's fault, and says where
            raise Fault(_where(error, section.block)) from error
        direction = "rtl" if section.rtl else "ltr"
        ground = side.ground[section.tone]
        html = f'<tr><td lang="{section.language}" dir="{direction}"{ground}>\n{body.strip()}\n</td></tr>\n'
        return html, _tidy(text)


def _classes(html: str) -> frozenset[str]:
    return frozenset(name for group in set(_CLASS.findall(html)) for name in group.split())


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
    mail: Mail, renderer: Renderer, kept: Kept[Piece] | None = None
) -> tuple[tuple[Piece, ...], list[Mistake]]:
    """All sections of a mail; `kept` holds pieces that this renderer made before."""
    kept = kept or Kept(1)
    made: list[Piece] = []
    wrong: list[Mistake] = []
    for section in mail.sections:
        try:
            made.append(kept.of(section, partial(renderer.piece, section)))
        except Fault as fault:
            wrong.append(fault.at(section.place, section.path))
    return tuple(made), wrong


def assemble(mail: Mail, made: tuple[Piece, ...], renderer: Renderer | None = None) -> Rendered:
    """The document around the sections; `renderer` remembers the styles of the mail before."""
    library, brand = mail.library, mail.shop.brand
    used = _shell_classes(library).union(*(piece.classes for piece in made))
    every = _widest(mail)
    called = escape_attribute(shared_word(library, brand, mail.language, "email"))
    style = renderer.styles(used, every) if renderer else shell.styles(every.rules, used)
    kept = renderer.heads if renderer else Kept(2)
    language, rtl = mail.language, mail.rtl
    fonts = renderer.faces(brand) if renderer else None

    def head(title: Text, preheader: Text) -> tuple[str, int]:
        above = shell.head(
            brand, library, language=language, rtl=rtl, title=title.attr, styles=style, fonts=fonts
        )
        opening = shell.opening(
            library, language=language, rtl=rtl, preheader=preheader.html, title=title.attr, called=called
        )
        # what only word-processor readers see is a comment to the readers that count
        return above + opening, sum(len(block) for block in _STYLE.findall(_COMMENT.sub("", above)))

    (tagged, size), (sampled, _size) = (
        kept.by(
            (library.digest, language, rtl, title.attr, preheader.html, called, style),
            partial(head, title, preheader),
        )
        for title, preheader in (
            (mail.title.tagged, mail.preheader.tagged), (mail.title.sampled, mail.preheader.sampled),
        )
    )  # fmt: skip
    return Rendered(
        html=(tagged, *(piece.html for piece in made), shell.CLOSING),
        text=tuple(piece.text for piece in made),
        sample_html=(sampled, *(piece.sample_html for piece in made), shell.CLOSING),
        sample_text=tuple(piece.sample_text for piece in made),
        style_size=size,
    )


def check(mail: Mail, made: tuple[Piece, ...], rendered: Rendered, renderer: Renderer) -> list[Mistake]:
    """What makes a mail unfit to send: no way out of the list, too many styles, styles read as tags."""
    wrong = []
    stack = mail.sections[-1].place
    if not unsubscribes(mail, made):
        message = "no link of this mail is the unsubscribe"
        if any(mail.unsubscribe.tagged.url in hrefs(piece.html) for piece in made):
            message = "the unsubscribe link does not reach every recipient and reader"
        expected = "- standing: footer, or - block: footer-nav, at the end of the stack, without when:"
        wrong.append(Mistake(stack, "stack", message, expected))
    if rendered.style_size > shell.MAX_STYLE:
        message = (
            f"the phone and dark rules of this mail have {rendered.style_size:,} characters; a large webmail "
            f"drops all of them past {shell.MAX_STYLE:,}"
        )
        wrong.append(Mistake(stack, "stack", message, "fewer kinds of blocks and tones in one mail"))
    openers = renderer.collisions(mail.dialect)
    if openers:
        message = (
            f"the dialect {mail.dialect.name} would read `{openers[0]}` in the styles of this mail as its own"
        )
        wrong.append(Mistake(Place("handbill.yaml"), "dialect", message, "openers that CSS does not hold"))
    return wrong


def _widest(mail: Mail) -> Library:
    """The library with every rule of the mail: those made beside its own know its rules as well, and name
    their own so that no two mean different things."""
    own = mail.library.digest
    branches = ((one, one.otherwise) for one in mail.sections)
    others = [
        one.library for pair in branches for one in pair if one is not None and one.library.digest != own
    ]
    if len({one.digest for one in others}) < 2:
        return others[0] if others else mail.library
    rules = {name: rule for one in others for name, rule in one.rules.items()}
    digest = " ".join(sorted({one.digest for one in others}))
    return replace(mail.library, rules=rules, digest=digest)


def _shell_classes(library: Library) -> frozenset[str]:
    groups = _CLASS.findall(" " + library.tables["page"]["base"])
    return frozenset(name for group in groups for name in group.split())


def hrefs(html: str) -> tuple[str, ...]:
    """The links of a piece in order, as they stand in it, each once."""
    return tuple(dict.fromkeys(_HREF.findall(html)))


def unsubscribes(mail: Mail, made: tuple[Piece, ...]) -> bool:
    """Whether a link that every recipient gets, in every reader, is the unsubscribe.

    One in a conditional section, or in a comment for word-processor readers alone, does not count.
    """
    mark = f'href="{mail.unsubscribe.tagged.url}"'
    return any(
        all(mark in html and mark in _COMMENT.sub("", html) for html in piece.branches) for piece in made
    )


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _strings(inner)
