"""A dialect read from plain data. Enters: the mapping under `dialect:` in handbill.yaml; leaves: a `Dialect`.

What is missing, unknown or would let a value or the author's text break out is refused with a Fault.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from handbill.base.errors import Fault, nearest
from handbill.resolve.dialects import CONTEXTS, FIELD, IN_HTML, Dialect, Pattern
from handbill.resolve.text import Context, check_characters

_KEYS = ("name", "openers", *CONTEXTS, "literal", "when", "quotes", "names", "pre_encoded")


def custom(data: Mapping[str, Any]) -> Dialect:
    """A dialect from plain data.

    Keys: `openers` (list); each of html, attribute, url, plain, header as a tag pattern with {name}, or a
    mapping of `tag` and `fallback` (with {name} and {fallback}), or the word unsupported; and, as needed,
    `when` (open, close, and otherwise or unless), `literal` (with {text}), `quotes`, `names`, `pre_encoded`,
    `name`.
    Raises a Fault for what is missing, unknown or unsafe.
    """
    for key in data:
        if key not in _KEYS:
            raise Fault(
                f"a dialect has no `{key}`", expected=", ".join(_KEYS), nearest=nearest(str(key), _KEYS)
            )
    openers = _openers(data.get("openers"))
    condition = _when(data["when"], openers) if "when" in data else None
    patterns: dict[str, Pattern | None] = {
        context: _pattern(context, data.get(context), openers) for context in CONTEXTS
    }
    for context, pattern in patterns.items():
        if pattern and not pattern.fallback and not (condition and condition[1]):
            raise Fault(
                f"the dialect says no way to write a fallback in {context}",
                expected="`fallback`, or `when` with otherwise or unless",
            )
    literal = data.get("literal", "")
    if literal:
        _check(literal, "literal", ("{text}",), openers)
    return Dialect(
        name=_text(data.get("name", "custom"), "name"),
        patterns=patterns,
        openers=openers,
        shield=literal,
        condition=condition,
        quotes=_strings(data.get("quotes", {}), "quotes"),
        names=_strings(data.get("names", {}), "names"),
        pre_encoded=_dotted(data.get("pre_encoded", [])),
    )


def _pattern(context: Context, given: Any, openers: tuple[str, ...]) -> Pattern | None:
    if given is None:
        raise Fault(
            f"the dialect has no `{context}`", expected="a pattern with {name}, or the word unsupported"
        )
    if given == "unsupported":
        return None
    tag, fallback = given, ""
    if isinstance(given, Mapping):
        if not given.keys() <= {"tag", "fallback"}:
            raise Fault(f"`{context}` of the dialect has unknown keys", expected="tag, fallback")
        tag, fallback = given.get("tag"), given.get("fallback", "")
    needed: list[tuple[Any, tuple[str, ...]]] = [(tag, ("{name}",))]
    if fallback:
        needed.append((fallback, ("{name}", "{fallback}")))
    for shape, holes in needed:
        _check(shape, context, holes, openers)
        if context in IN_HTML and '"' in shape:
            raise Fault(
                f"a double quote in `{context}` would end an HTML attribute", expected="single quotes"
            )
    return Pattern(tag, fallback)


def _when(given: Any, openers: tuple[str, ...]) -> tuple[str, str, str]:
    """A language without an else closes the condition and opens its opposite, `unless`; without either it
    has no words for the others."""
    needed, either = {"open", "close"}, {"otherwise", "unless"}
    if not isinstance(given, Mapping) or not needed <= set(given) <= needed | either or either <= set(given):
        expected = "open, close, and otherwise or unless"
        raise Fault("`when` of the dialect is not whole", expected=expected)
    for piece, pattern in given.items():
        _check(pattern, f"when: {piece}", ("{name}",) if piece in ("open", "unless") else (), openers)
        if '"' in pattern:
            raise Fault(
                f"a double quote in `when: {piece}` would end an HTML attribute", expected="single quotes"
            )
    middle = given["close"] + given["unless"] if "unless" in given else given.get("otherwise", "")
    return given["open"], middle, given["close"]


def _check(shape: Any, where: str, holes: tuple[str, ...], openers: tuple[str, ...]) -> None:
    """A pattern is one line of text, has its holes and holds one of the openers, or they would be a lie."""
    text = _text(shape, where)
    for hole in holes:
        if hole not in text:
            raise Fault(
                f"`{where}` of the dialect lacks {hole}", expected=f"a pattern with {' and '.join(holes)}"
            )
    if not any(opener in text for opener in openers):
        raise Fault(
            f"`{where}` of the dialect, `{text}`, holds none of its openers", expected=" or ".join(openers)
        )


def _openers(given: Any) -> tuple[str, ...]:
    if not isinstance(given, list) or not given:
        raise Fault("the dialect has no `openers`", expected='a list of what starts its tags, like ["[["]')
    for opener in given:
        first = _text(opener, "openers")[0]
        # A reference would be written with these, and a dialect that reads words cannot be guarded against.
        if first.isalnum() or first.isspace() or first in "&;":
            raise Fault(
                f"`{opener}` cannot be an opener", expected="signs that do not begin with a letter, & or ;"
            )
    return tuple(given)


def _text(given: Any, where: str) -> str:
    if not isinstance(given, str) or not given:
        raise Fault(f"`{where}` of the dialect is no text", expected="a text")
    check_characters(given)
    if "\n" in given:
        raise Fault(f"`{where}` of the dialect holds a line break", expected="one line: no tag may be broken")
    return given


def _strings(given: Any, where: str) -> Mapping[str, str]:
    if not isinstance(given, Mapping):
        raise Fault(f"`{where}` of the dialect is no mapping", expected="a mapping of text to text")
    for key, value in given.items():
        _text(key, where)
        if '"' in _text(value, where):
            raise Fault(f"a double quote in `{where}` would end an HTML attribute", expected="single quotes")
    return dict(given)


def _dotted(given: Any) -> frozenset[str]:
    if not isinstance(given, list):
        raise Fault(
            "`pre_encoded` of the dialect is no list", expected="a list of fields like recipient.token"
        )
    for name in given:
        if not isinstance(name, str) or not FIELD.fullmatch(name):
            raise Fault(f"`{name}` is not a recipient field", expected="a field like recipient.token")
    return frozenset(given)
