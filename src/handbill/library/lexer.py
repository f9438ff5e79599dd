"""One lexer for block templates. Enters: HTML with Jinja; leaves: tokens that know their context.

Contexts follow the HTML Standard's tokenizer (section 13.2.5) as far as block markup needs it: text, tag,
attribute value, comment. Conditional comments for word-processor readers are markers, and what stands between
them is lexed like everything else.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from handbill.base.errors import Mistake, Place

URL_ATTRIBUTES = frozenset({"href", "src", "background"})

_JINJA = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.DOTALL)
_CONDITIONAL = re.compile(r"<!--\[if [^\]]*\]>(?:<!-->)?|<!--<!\[endif\]-->|<!\[endif\]-->")
_TAG_NAME = re.compile(r"h\{\{\s*(?:level|inner)\s*\}\}|[a-zA-Z][a-zA-Z0-9:]*")
_ATTRIBUTE = re.compile(r"[a-zA-Z][a-zA-Z0-9:_-]*")


@dataclass(slots=True)
class Raw:
    """Text that goes out as it is: HTML between tags, closing tags, Jinja statements and comments."""

    text: str


@dataclass(slots=True)
class Out:
    """`{{ expression }}`."""

    expression: str
    line: int
    column: int


@dataclass(slots=True)
class Attribute:
    """`name="…"`; `value` is None for a bare name, else text and expressions in turn."""

    name: str
    value: list[Raw | Out] | None
    line: int
    column: int

    def literal(self) -> str:
        return "".join(part.text for part in self.value or () if isinstance(part, Raw))


@dataclass(slots=True)
class Tag:
    """An opening tag. `parts` holds attributes and Jinja statements in source order."""

    name: str
    parts: list[Attribute | Raw]
    closing: str
    line: int
    column: int
    newlines: int = 0

    def get(self, name: str) -> Attribute | None:
        for part in self.parts:
            if isinstance(part, Attribute) and part.name == name:
                return part
        return None


Token = Raw | Out | Tag


@dataclass(slots=True)
class Lexed:
    """All tokens of a template and everything wrong with it."""

    file: str
    tokens: list[Token] = field(default_factory=list)
    mistakes: list[Mistake] = field(default_factory=list)


def lex(source: str, file: str) -> Lexed:
    """Split a template; mistakes name its line and column."""
    return _Lexer(source, file).run()


class _Lexer:
    def __init__(self, source: str, file: str) -> None:
        self.source = source
        self.at = 0
        self.result = Lexed(file)

    def spot(self, at: int | None = None) -> tuple[int, int]:
        at = self.at if at is None else at
        return self.source.count("\n", 0, at) + 1, at - self.source.rfind("\n", 0, at)

    def wrong(self, message: str, expected: str = "", at: int | None = None) -> None:
        line, column = self.spot(at)
        self.result.mistakes.append(Mistake(Place(self.result.file, line, column), "", message, expected))

    def run(self) -> Lexed:
        source, tokens = self.source, self.result.tokens
        while self.at < len(source):
            following = self.next_mark()
            if following > self.at:
                tokens.append(Raw(_squeeze(source[self.at : following])))
                self.at = following
                continue
            if source[self.at] == "{":
                tokens.append(self.jinja())
            else:
                tokens.append(self.angle())
        return self.result

    def next_mark(self) -> int:
        match = re.compile(r"<|\{\{|\{%|\{#").search(self.source, self.at)
        return match.start() if match else len(self.source)

    def jinja(self) -> Raw | Out:
        match = _JINJA.match(self.source, self.at)
        if match is None:
            self.wrong(f"{self.source[self.at : self.at + 2]} is never closed")
            text, self.at = self.source[self.at :], len(self.source)
            return Raw(text)
        line, column = self.spot()
        self.at = match.end()
        text = match.group()
        if text.startswith("{{"):
            return Out(text[2:-2].strip("-+ \t\r\n"), line, column)
        if text.startswith("{#"):
            return Raw("{#" + "\n" * text.count("\n") + "#}")
        return Raw(text)

    def angle(self) -> Token:
        source, at = self.source, self.at
        marker = _CONDITIONAL.match(source, at)
        if marker:
            self.at = marker.end()
            return Raw(marker.group())
        if source.startswith("<!--", at):
            end = source.find("-->", at)
            self.at = len(source) if end < 0 else end + 3
            return Raw("{#" + "\n" * source.count("\n", at, self.at) + "#}")
        if source.startswith("</", at):
            end = source.find(">", at)
            if end < 0:
                self.wrong("a closing tag is not finished")
                end = len(source) - 1
            text = source[at : end + 1]
            self.at = end + 1
            return Raw(text)
        return self.tag()

    def tag(self) -> Token:
        start = self.at
        match = _TAG_NAME.match(self.source, start + 1)
        if match is None:
            self.wrong("a bare <", "&lt; in text")
            self.at += 1
            return Raw("&lt;")
        line, column = self.spot()
        self.at = match.end()
        parts: list[Attribute | Raw] = []
        closing = ">"
        while True:
            self.skip_space()
            if self.at >= len(self.source):
                self.wrong(f"the tag <{match.group()} is never closed", at=start)
                break
            if self.source[self.at] == ">":
                self.at += 1
                break
            if self.source.startswith("/>", self.at):
                closing = "/>"
                self.at += 2
                break
            part = self.part()
            if part is None:
                continue
            parts.append(part)
        newlines = self.source.count("\n", start, self.at)
        name = match.group() if match.group().startswith("h{{") else match.group().lower()
        return Tag(name, parts, closing, line, column, newlines)

    def part(self) -> Attribute | Raw | None:
        if self.source.startswith("{", self.at):
            token = self.jinja()
            if isinstance(token, Out):
                self.wrong("an expression may stand only inside an attribute's quotes")
                return None
            return token
        match = _ATTRIBUTE.match(self.source, self.at)
        if match is None:
            self.wrong(f"{self.source[self.at]!r} is not expected in a tag", 'name="value"')
            self.at += 1
            return None
        line, column = self.spot()
        name = match.group().lower()
        self.at = match.end()
        if not self.source.startswith("=", self.at):
            return Attribute(name, None, line, column)
        self.at += 1
        if not self.source.startswith('"', self.at):
            self.wrong(f"the value of {name} is not in double quotes", f'{name}="…"')
            return Attribute(name, [], line, column)
        self.at += 1
        return Attribute(name, self.value(name), line, column)

    def value(self, name: str) -> list[Raw | Out]:
        parts: list[Raw | Out] = []
        while True:
            match = re.compile(r'"|\{\{|\{%|\{#').search(self.source, self.at)
            if match is None:
                self.wrong(f"the value of {name} is never closed")
                self.at = len(self.source)
                return parts
            if match.start() > self.at:
                parts.append(Raw(self.source[self.at : match.start()]))
                self.at = match.start()
            if match.group() == '"':
                self.at += 1
                return parts
            parts.append(self.jinja())

    def skip_space(self) -> None:
        while self.at < len(self.source) and self.source[self.at].isspace():
            self.at += 1


def _squeeze(text: str) -> str:
    """Runs of white space as one character, a line break where there was one; line numbers stay right."""

    def shorter(match: re.Match[str]) -> str:
        breaks = match.group().count("\n")
        if not breaks:
            return " "
        return "\n" if breaks == 1 else "\n{#" + "\n" * (breaks - 1) + "#}"

    return re.sub(r"\s+", shorter, text)
