"""Slips of the pen in YAML. Enters: a text that could not be read, and what libyaml said of it; leaves: the
line that is at fault and what is wrong with it, in words.

libyaml tells where it could not go on, which is often a line below the slip, and names parts of its grammar
(YAML 1.2.2) that few authors know. What is said here is what was most likely meant.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import NamedTuple

Spot = tuple[int, int]  # line and column, from 0


class Slip(NamedTuple):
    """Where it is, what is wrong, what was expected."""

    at: Spot
    message: str
    expected: str = ""


class Said(NamedTuple):
    """What libyaml said: where it stopped, and where the part began that it was reading, if it was any."""

    lines: Sequence[str]
    problem: str
    context: str
    at: Spot
    start: Spot | None

    def line(self, number: int) -> str:
        return self.lines[number] if 0 <= number < len(self.lines) else ""

    def above(self, number: int) -> str:
        """The nearest line above that holds something."""
        return next((one for one in reversed(self.lines[: max(0, number)]) if one.strip()), "")


_FIELD = re.compile(r"(\s*(?:- +)*)([^\s:#'\"{}\[\],&*!|>%@`-][^\s:]*):[ \t]+(\S.*?)\s*$")
_TIGHT = re.compile(r"(\s*(?:- +)*)([A-Za-z_][\w.]*):(\S.*?)\s*$")
_NO_COLON = re.compile(r"(\s*(?:- +)*)([A-Za-z_][\w.]*)[ \t]+(\S.*?)\s*$")
_COLOUR = re.compile(r"(?:[:,{\[]|^)\s*(#\S[^\s,}\]]*)")
#: A comment that follows something on its line without a space of its own: `#1`, `#ffffff`.
COMMENT = re.compile(r"(?<=[ \t])#(?=[^\s#])")


def slip(said: Said) -> Slip | None:
    """The slip behind what libyaml said; None where nothing is known of it."""
    for look in _LOOKS:
        found = look(said)
        if found is not None:
            return found
    return None


def indent(line: str) -> int:
    """How many characters stand before the first that shows."""
    return len(line) - len(line.lstrip())


def _blank(said: Said) -> Slip | None:
    """What looks like a space and is none to YAML."""
    for number in (said.at[0] - 1, said.at[0]):
        line = said.line(number)
        for column, sign in enumerate(line[: indent(line)]):
            if sign == "\t":
                return Slip((number, column), "a tab indents this line", "spaces")
            if sign != " ":
                message = f"a character that only looks like a space (U+{ord(sign):04X}) indents this line"
                return Slip((number, column), message, "spaces")
    return None


def _colon(said: Said) -> Slip | None:
    """A colon and a space inside a text, or a line that is indented further than the one above."""
    if not said.problem.startswith("mapping values"):
        return None
    number, column = said.at
    line = said.line(number)
    field = _FIELD.match(line)
    if field is not None and column > field.end(2):
        name, value = field[2], field[3]
        return Slip((number, field.start(3)), "`: ` ends a text without quotes", _quoted(name, value))
    before = indent(said.above(number))
    if indent(line) != before:
        message = f"this line is indented by {indent(line)} spaces, the one above by {before}"
        return Slip((number, indent(line)), message, "the same for all fields of one section")
    return None


def _no_colon(said: Said) -> Slip | None:
    if said.problem != "could not find expected ':'" or said.start is None:
        return None
    number = said.start[0]
    line = said.line(number)
    if (found := _TIGHT.match(line)) is not None:
        return Slip((number, found.end(2)), "no space follows the colon", f"{found[2]}: {found[3]}")
    if (found := _NO_COLON.match(line)) is not None:
        return Slip((number, found.end(2)), f"no colon follows {found[2]}", f"{found[2]}: {found[3]}")
    return None


def _open_quote(said: Said) -> Slip | None:
    if said.problem == "found unexpected end of stream" and said.start is not None:
        sign = said.line(said.start[0])[said.start[1] : said.start[1] + 1]
        return Slip(said.start, f"a text opens with {sign} here and never closes", f"{sign} at its end")
    return None


def _after_quote(said: Said) -> Slip | None:
    """A text that goes on after the quote that closes it: an apostrophe, mostly."""
    if said.problem not in ("did not find expected key", "did not find expected ',' or '}'"):
        return None
    number, column = said.at
    field = _FIELD.match(said.line(number))
    if field is None or field[3][0] not in "'\"" or column <= field.start(3):
        return None
    sign, value = field[3][0], field[3].strip("'\"")
    if sign == "'" and '"' not in value:
        return Slip(
            (number, field.start(3)), "an apostrophe closes a text in single quotes", _quoted(field[2], value)
        )
    message = f"the text goes on after the {sign} that closes it"
    return Slip((number, field.start(3)), message, "one pair of quotes around all, others as “ ”")


def _left_open(said: Said) -> Slip | None:
    """A quote that another line's closed by accident, so that what follows makes no sense."""
    if "expected" not in said.problem or said.start is None or "flow" in said.context:
        return None
    for number in range(said.start[0], said.at[0] + 1):
        field = _FIELD.match(said.line(number))
        if field is not None and field[3][0] in "'\"" and field[3].count(field[3][0]) == 1:
            sign = field[3][0]
            return Slip((number, field.start(3)), f"a text opens with {sign} here and never closes",
                        f"{sign} at its end")  # fmt: skip
    return None


def _indented(said: Said) -> Slip | None:
    if said.start is None or said.problem not in (
        "did not find expected key", "did not find expected '-' indicator",
    ):  # fmt: skip
        return None
    number, mine, around = said.at[0], indent(said.line(said.at[0])), said.start[1]
    if said.line(number).lstrip().startswith("- ") and mine == around:
        return Slip((number, mine), "an item of a list stands among fields", "a field, or less indentation")
    before = indent(said.above(number))
    message = f"this line is indented by {mine} spaces, the one above by {before}"
    return Slip((number, mine), message, f"{around} for what stands beside the line {said.start[0] + 1}, "
                "or as much as the line above")  # fmt: skip


def _sign(said: Said) -> Slip | None:
    """A text that starts with a sign YAML has taken."""
    alias = "alphabetic or numeric" in said.problem
    if not alias and "cannot start any token" not in said.problem and "in this context" not in said.problem:
        return None
    spot = said.start if alias and said.start is not None else said.at
    rest = said.line(spot[0])[spot[1] :].strip()
    if not rest:
        return None
    if rest.startswith("- "):
        return Slip(spot, "a list does not start on the line of its field", "a line of its own, or [a, b]")
    return Slip(spot, f"a text without quotes cannot start with {rest[0]}", f"quotes: {_in_quotes(rest)}")


def _escape(said: Said) -> Slip | None:
    if "escape character" not in said.problem:
        return None
    number, column = said.at
    sign = said.line(number)[column : column + 2]
    return Slip(said.at, f"{sign} means nothing in double quotes", "single quotes, or \\\\ for one \\")


def _block(said: Said) -> Slip | None:
    if said.context != "while scanning a block scalar" or said.start is None:
        return None
    sign = said.line(said.start[0])[said.start[1] : said.start[1] + 1]
    return Slip(said.start, f"after {sign} a text starts on the next line", "a new line, or quotes")


def _bracket(said: Said) -> Slip | None:
    """Inside { } or [ ]: a colour that is a comment, or a bracket that never closes."""
    if "while parsing a flow" not in said.context or said.start is None:
        return None
    number, column = said.start
    line = said.line(number)
    colour = _COLOUR.search(line, column)
    if colour is not None:
        message = f"`{colour[1]}` is taken for a comment, and so is what follows it"
        return Slip((number, colour.start(1)), message, f"quotes: '{colour[1]}'")
    if said.at[0] > number:
        opened = line[column : column + 1]
        closing = {"{": "}", "[": "]"}.get(opened, "}")
        return Slip(said.start, f"{opened} opens here and never closes", f"{closing} at the end")
    return None


_LOOKS: tuple[Callable[[Said], Slip | None], ...] = (
    _blank, _colon, _no_colon, _open_quote, _after_quote, _left_open, _indented, _sign, _escape, _block,
    _bracket,
)  # fmt: skip


def _in_quotes(text: str) -> str:
    return f'"{text}"' if '"' not in text and "\\" not in text else "'" + text.replace("'", "''") + "'"


def _quoted(name: str, value: str) -> str:
    return f"quotes: {name}: {_in_quotes(value)}"


def lost(text: str, texts: Sequence[tuple[Spot, Spot]]) -> list[Slip]:
    """Comments that were meant as text: what follows something on its line and starts as `#1` does.

    `texts` are the spans of quoted and block texts, inside which `#` is a sign like any other.
    """
    found: list[Slip] = []
    if COMMENT.search(text) is None:
        return found
    for number, line in enumerate(text.split("\n")):
        for match in COMMENT.finditer(line):
            here = (number, match.start())
            before = line[: match.start()]
            if not before.strip() or before.lstrip().startswith("#"):
                break  # the whole line is a comment
            if any(start <= here < end for start, end in texts):
                continue
            if re.search(r"\s#\s", before) is None:
                said = line[match.start() :].split()[0]
                message = f"`{said}` is taken for a comment: # after a space starts one"
                found.append(Slip(here, message, "quotes around the text, or `# ` for a comment"))
            break
    return found
