"""One lexer for block templates. Enters: HTML with Jinja; leaves: tokens that know their context.

Contexts follow the HTML Standard's tokenizer (section 13.2.5) as far as block markup needs it: text, tag,
attribute value, comment. Conditional comments for word-processor readers are markers, and what stands between
them is lexed like everything else.
"""

from __future__ import annotations

import re

from handbill.base.errors import Mistake, Place
from handbill.base.frozen import dataclass, field

URL_ATTRIBUTES = frozenset({"href", "src", "background"})

_JINJA = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.DOTALL)
_CONDITIONAL = re.compile(r"<!--\[if [a-z0-9 !&|()]+\]>(?:<!-->)?|<!--<!\[endif\]-->|<!\[endif\]-->")
_LEVEL = r"h\{\{\s*(?:level|inner)\s*\}\}"
_TAG_NAME = re.compile(rf"{_LEVEL}|[a-zA-Z][a-zA-Z0-9:]*")
_CLOSING = re.compile(rf"</(?:{_LEVEL}|[a-zA-Z][a-zA-Z0-9:]*)\s*>")
_MARK = re.compile(r"<|\{\{|\{%|\{#")
_QUOTE = re.compile(r'"|\{\{|\{%|\{#')
_ATTRIBUTE = re.compile(r"[a-zA-Z][a-zA-Z0-9:_-]*")


@dataclass(slots=True)
class Raw:
    """Text that goes out as it is: HTML between tags, closing tags, Jinja statements and comments."""

    text: str


@dataclass(slots=True)
class Out:
    """`{{ expression }}`; `breaks` counts the line breaks around the expression."""

    expression: str
    line: int
    column: int
    breaks: int = 0


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
        self.open: list[tuple[str, int]] = []  # conditional comments, and where they began

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
        for text, at in self.open:
            self.wrong(f"{text} is never closed", "<![endif]-->", at=at)
        return self.result

    def next_mark(self) -> int:
        match = _MARK.search(self.source, self.at)
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
            expression = text[2:-2].strip("-+ \t\r\n")
            return Out(expression, line, column, text.count("\n") - expression.count("\n"))
        if re.match(r"\{%[-+]?\s*raw\b", text):
            self.wrong("raw is not allowed", at=match.start())
        if text.startswith("{#"):
            return Raw("{#" + "\n" * text.count("\n") + "#}")
        return Raw(text)

    def angle(self) -> Token:
        source, at = self.source, self.at
        marker = _CONDITIONAL.match(source, at)
        if marker:
            return self.conditional(marker.group())
        if source.startswith("<!--", at):
            return self.comment()
        if source.startswith("</", at):
            closing = _CLOSING.match(source, at)
            if closing is None:
                self.wrong("a closing tag holds its name alone", "such as </td>")
                self.at += 2
                return Raw("")
            self.at = closing.end()
            return Raw(closing.group())
        return self.tag()

    def conditional(self, text: str) -> Raw:
        """A conditional comment's end; every one that opens closes in its own way, and they do not nest."""
        hidden = not text.endswith("<!-->") if text.startswith("<!--[if") else text == "<![endif]-->"
        if text.startswith("<!--[if"):
            if self.open:
                self.wrong("a conditional comment inside another")
            self.open.append((text, self.at))
        elif not self.open:
            self.wrong(f"{text} closes nothing")
        else:
            opened, _at = self.open.pop()
            if hidden == opened.endswith("<!-->"):
                expected = "<!--<![endif]-->" if opened.endswith("<!-->") else "<![endif]-->"
                self.wrong(f"{opened} is closed by {text}", expected)
        self.at += len(text)
        return Raw(text)

    def comment(self) -> Raw:
        """A comment is for the block's author: it leaves line breaks behind and nothing else."""
        source, at = self.source, self.at
        end = source.find("-->", at)
        text = source[at:] if end < 0 else source[at : end + 3]
        if end < 0:
            self.wrong("a comment is never closed", "-->")
        elif text.startswith("<!--[") or _MARK.search(text, 4):
            self.wrong("a comment that is not plain", "{# … #}, or <!--[if mso]> … <![endif]-->")
        self.at = at + len(text)
        return Raw("{#" + "\n" * text.count("\n") + "#}")

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
        closing, depth = ">", 0
        while True:
            self.skip_space()
            if self.at >= len(self.source):
                self.wrong(f"the tag <{match.group()}> is never closed", at=start)
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
            if isinstance(part, Raw):
                depth += {"if": 1, "for": 1, "endif": -1, "endfor": -1}.get(_statement(part.text), 0)
            elif part.name in ("class", "style"):
                self.fixed(part, parts, depth)
        newlines = self.source.count("\n", start, self.at)
        name = match.group() if match.group().startswith("h{{") else match.group().lower()
        return Tag(name, parts, closing, line, column, newlines)

    def fixed(self, part: Attribute, parts: list[Attribute | Raw], depth: int) -> None:
        """Styles are worked out in advance, so an element has one class and one style, always."""
        place = Place(self.result.file, part.line, part.column)
        if depth:
            expected = (
                f"{part.name}=\"{{{{ 'name' if condition else 'other' }}}}\"" if part.name == "class" else ""
            )
            message = f"{part.name} cannot depend on a statement"
            self.result.mistakes.append(Mistake(place, "", message, expected))
        elif sum(isinstance(one, Attribute) and one.name == part.name for one in parts) > 1:
            self.result.mistakes.append(Mistake(place, "", f"a second {part.name} on one element"))

    def part(self) -> Attribute | Raw | None:
        if self.source.startswith("{", self.at):
            start = self.at
            token = self.jinja()
            if isinstance(token, Out):
                self.wrong("an expression may stand only inside an attribute's quotes", at=start)
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
        start = self.at
        while True:
            match = _QUOTE.search(self.source, self.at)
            if match is None:
                self.wrong(f"the value of {name} is never closed", '"', at=start)
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


def _statement(text: str) -> str:
    """The word that a Jinja statement begins with."""
    found = re.match(r"\{%[-+]?\s*(\w+)", text)
    return found.group(1) if found else ""


def _squeeze(text: str) -> str:
    """Runs of white space as one character, a line break where there was one; line numbers stay right."""

    def shorter(match: re.Match[str]) -> str:
        breaks = match.group().count("\n")
        if not breaks:
            return " "
        return "\n" if breaks == 1 else "\n{#" + "\n" * (breaks - 1) + "#}"

    return re.sub(r"\s+", shorter, text)
