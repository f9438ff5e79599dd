"""The values that styles are made of: declarations, rules, `var(--name)`, and what a value may hold.

Kept apart from parsing, since a library read back from the cache needs no CSS parser.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from handbill.base.errors import Fault, Place
from handbill.base.frozen import dataclass

PHONE, DARK, ALL, NARROW = "phone", "dark", "all", "narrow"
WIDE, WORD = "wide", "mso"  # what head rules are for, beside DARK and NARROW; no style sheet says them
TYPE = "--type"  # `--type: name` stands for all declarations of a type role

_FUNCTIONS = frozenset({"var", "rgb", "rgba", "hsl", "hsla", "calc", "linear-gradient"})
# A value ends up in an attribute, in the head and in template source: nothing in it may end any of the three.
_SAFE = re.compile(r"[\w #%.,()'/*+!-]*")
_VAR = re.compile(r"var\(--([a-z0-9-]+)\)")


@dataclass(frozen=True, slots=True)
class Declaration:
    """`name: value` where values still hold `var(--…)`."""

    name: str
    value: str
    place: Place
    role: str = ""  # the type role it came with; anything the rule says itself replaces it


@dataclass(frozen=True, slots=True)
class Rule:
    """Declarations for elements that carry all of `classes`."""

    media: str
    classes: frozenset[str]
    declarations: tuple[Declaration, ...]


def unsafe(value: str) -> str:
    """Why `value` may not stand in a style, or an empty string."""
    for name in re.findall(r"([\w-]*)\(", value):
        if name.lower() not in _FUNCTIONS:
            return f"{name}() is not allowed" if name else "parentheses stand after a function's name"
    if "/*" in value:
        return "a comment is not allowed inside a value"
    found = _SAFE.match(value)
    rest = value[found.end() if found else 0 :]
    return f"{rest[0]!r} is not allowed in a value" if rest else ""


def substitute(value: str, answer: Callable[[str], str]) -> str:
    """Every `var(--name)` in `value` replaced; `answer` raises Fault for a name it does not know."""
    if "var(" in _VAR.sub("", value):
        raise Fault(f"{value!r} has a var() handbill cannot read", expected="var(--name)")
    return _VAR.sub(lambda found: answer(found.group(1)), value)


def split_values(value: str) -> list[str]:
    """A value split at spaces that stand outside parentheses."""
    parts: list[str] = []
    depth = 0
    for word in re.split(r"(\s+|\(|\))", value):
        if word == "(":
            depth += 1
        if word.isspace() and depth == 0:
            parts.append("")
        elif word:
            if not parts:
                parts.append("")
            parts[-1] += word
        if word == ")":
            depth -= 1
    return [part for part in parts if part]
