"""Facts in text. Enters: an author's string with `${…}`; leaves: parsed parts, then a `Filled` tuple.

Grammar: `${name(.name)*[:format][ or "text"]}`; `$${` stands for `${`. Names under `recipient` or `link` live
to send time. Isolation in right-to-left text follows UAX #9 §2.4 (explicit directional isolates).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping

from handbill.base.errors import Fault, nearest
from handbill.base.frozen import dataclass
from handbill.resolve.text import Filled, Send, check_characters, escape_url_value

#: The system links that every dialect can write.
LINKS = ("unsubscribe", "preferences", "view_online")

#: For whoever reports a YAML error near a `${`: what to do about it.
QUOTE_HINT = 'quotes around a value that holds ${…} when it stands inside [ ] or { } or before ": "'

_NAME = r"[a-z][a-z0-9_]*"
_REFERENCE = re.compile(
    rf'\$\{{({_NAME}(?:\.{_NAME})*)(?::({_NAME}))?(?: or "([^"}}\n\t]*)")?\}}',
)
_START = re.compile(r"\$\$\{|\$\{")
_SEND_ROOTS = ("recipient", "link")

# Prices, percents and codes keep their own order inside right-to-left text (UAX #9 §2.4.2): without isolates
# "-20%" or "SAVE-20" take their sign or hyphen from the paragraph and show it on the wrong side.
_ISOLATED_KINDS = frozenset({"money", "percent", "code"})
_LRI, _RLI, _FSI, _PDI = "\u2066", "\u2067", "\u2068", "\u2069"
# A value with a right-to-left mark or letter of its own (some locales put them in prices) is laid out by it.
# Compiled on first use: few mails need it.
_RIGHT_TO_LEFT = "[\u0590-\u08ff\u200f\u202b\ufb1d-\ufdcf\ufdf0-\ufdff\ufe70-\ufefc]"


@dataclass(frozen=True, slots=True)
class Ref:
    """One `${…}`; `offset` counts characters of the source text from 0."""

    names: tuple[str, ...]
    format: str | None
    fallback: str | None
    offset: int

    def __str__(self) -> str:
        tail = f":{self.format}" if self.format else ""
        return "${" + ".".join(self.names) + tail + "}"


#: Text between references, with `$${` already turned into `${`, and the references, in order.
Parts = tuple[str | Ref, ...]


@dataclass(frozen=True, slots=True)
class Fact:
    """A value known when the mail is compiled.

    `kind` is text, code, url, money, percent, date, datetime or number; `text` is what stands in the mail
    when no format is asked for, empty when the thing has no such value (a product without colour). `lacking`
    says why, after a colon, where that is not plain to see.
    """

    kind: str
    value: object
    text: str
    lacking: str = ""


#: For each kind its named formats: what makes text of a fact's value.
Formats = Mapping[str, Mapping[str, Callable[[object], str]]]


def parse(text: str) -> Parts:
    """The literal and reference parts of `text`.

    Raises a Fault for a `${` that is no reference and for control characters other than tab and line feed.
    """
    check_characters(text)
    if "${" not in text:
        return (text,) if text else ()
    parts: list[str | Ref] = []
    literal: list[str] = []
    position = 0
    while start := _START.search(text, position):
        literal.append(text[position : start.start()])
        if len(start[0]) == 3:
            literal.append("${")
            position = start.end()
            continue
        found = _REFERENCE.match(text, start.start())
        if found is None:
            raise _malformed(text[start.start() :])
        if before := "".join(literal):
            parts.append(before)
        literal = []
        parts.append(Ref(tuple(found[1].split(".")), found[2], found[3], start.start()))
        position = found.end()
    if after := "".join(literal) + text[position:]:
        parts.append(after)
    return tuple(parts)


def _malformed(rest: str) -> Fault:
    """Say what is wrong with the reference that `rest` starts with."""
    close = rest.find("}")
    if close < 0:
        shown = rest if len(rest) <= 40 else rest[:40] + "…"
        return Fault(f"`{shown}` is not closed", expected=f'a "}}" after the name, and {QUOTE_HINT}')
    whole, inner = rest[: close + 1], rest[2:close]
    shown = f"`{whole}`" if len(whole) <= 60 else f"`{whole[:60]}…`"
    if not inner.strip():
        return Fault(f"`{whole}` names nothing", expected="a name like ${offer.ends}")
    name, separator, tail = inner.partition(" or ")
    if separator:
        words = tail.strip()
        if len(words) > 1 and words[0] in "'“„«‘" and re.fullmatch(_NAME + r"(\.\w+|:\w+)*", name):
            return Fault(
                f"{shown} has its fallback in the wrong quotes",
                expected='straight double quotes: or "text"',
                nearest=f'${{{name} or "{words[1:-1]}"}}',
            )
        if not re.fullmatch(r'"[^"\n\t]*"', words):
            return Fault(
                f"{shown} has a fallback that cannot be read",
                expected='or "text" on one line, without " or } in the text',
            )
    if any(character.isspace() for character in name):
        return Fault(
            f"{shown} holds a space where none can be",
            expected='${name.name:format or "text"}',
            nearest=_repaired(whole, "".join(name.split()), separator, tail),
        )
    return Fault(
        f"{shown} is not a name of a fact",
        expected="names of a-z, 0-9 and _ that start with a letter, parted by dots",
        nearest=_repaired(whole, name.lower().replace("-", "_"), separator, tail),
    )


def _repaired(whole: str, name: str, separator: str, tail: str) -> str:
    """`whole` with `name` in it, when that can be read."""
    candidate = "${" + name + (f" or {tail.strip()}" if separator else "") + "}"
    return candidate if candidate != whole and _REFERENCE.fullmatch(candidate) else ""


def fill(
    parts: Parts,
    facts: Mapping[str, Fact],
    formats: Formats,
    *,
    rtl: bool = False,
    url: bool = False,
    recipient: Collection[str] | None = None,
    links: Collection[str] = LINKS,
) -> Filled:
    """`parts` with every fact filled in; `recipient.*` and `link.*` become `Send` parts.

    `facts` goes by dotted name. `rtl` isolates prices, percents, codes and what is known of a recipient;
    `url` percent-encodes each value as part of a URL (facts of kind url stay). `recipient`, when given, and
    `links` are the send-time names known. Raises a Fault for unknown names and formats, with the nearest
    spelling, and for an empty fact without a fallback.
    """
    if not parts or (len(parts) == 1 and type(parts[0]) is str):
        return parts  # type: ignore[return-value]  # holds no Ref
    filled: list[str | Send] = []
    literal = ""
    for part in parts:
        if isinstance(part, str):
            literal += part
        elif part.names[0] in _SEND_ROOTS:
            if literal:
                filled.append(literal)
                literal = ""
            filled.append(_send(part, recipient, links, rtl and not url))
        else:
            literal += _value(part, facts, formats, rtl, url)
    if literal:
        filled.append(literal)
    return tuple(filled)


def _send(ref: Ref, recipient: Collection[str] | None, links: Collection[str], isolate: bool) -> Send:
    root, rest = ref.names[0], ".".join(ref.names[1:])
    if ref.format is not None:
        raise Fault(
            f"{ref} asks for a format, but {root} values are known only when the mail is sent",
            expected="no format",
            nearest="${" + ".".join(ref.names) + "}",
        )
    known = links if root == "link" else recipient
    if known is not None and rest not in known:
        raise Fault(
            f"there is no {'system link' if root == 'link' else 'recipient field'} `{rest}` for {ref}",
            expected=_one_of(known),
            nearest=_prefixed(root, nearest(rest, known)),
        )
    if not rest:
        raise Fault(f"{ref} names no field", expected="a field like ${recipient.first_name}")
    return Send(ref.names, ref.fallback, isolate and root == "recipient")


def _value(ref: Ref, facts: Mapping[str, Fact], formats: Formats, rtl: bool, url: bool) -> str:
    name = ".".join(ref.names)
    fact = facts.get(name)
    if fact is None:
        known = [*facts, "recipient.first_name", *(f"link.{link}" for link in LINKS)]
        raise Fault(f"there is no fact `{name}` here", expected=_one_of(facts), nearest=nearest(name, known))
    text = _formatted(ref, fact, formats) if fact.text else ""
    if not text:
        if ref.fallback is None:
            raise Fault(
                f"`{name}` has no value here{fact.lacking}", expected=f'a fallback: ${{{name} or "text"}}'
            )
        text = ref.fallback
        return escape_url_value(text) if url else text
    check_characters(text)
    if url:
        return text if fact.kind == "url" else escape_url_value(text)
    if rtl and fact.kind in _ISOLATED_KINDS:
        return isolated(text)
    return name_isolated(text, rtl) if rtl and fact.kind == "text" else text


def isolated(text: str) -> str:
    """A price, percent or code as it stands inside right-to-left text: with an order of its own."""
    return (_RLI if re.search(_RIGHT_TO_LEFT, text) else _LRI) + text + _PDI


def name_isolated(text: str, rtl: bool) -> str:
    """A name inside text of one direction, where it holds letters of the other.

    Its own first letter says how it runs, and signs at its ends stay with it (UAX #9 §2.4.2, FSI).
    """
    if text.isascii():
        opposed = rtl and any(one.isalpha() for one in text)
    else:
        from unicodedata import bidirectional

        other = ("L",) if rtl else ("R", "AL")
        opposed = any(bidirectional(one) in other for one in text)
    return _FSI + text + _PDI if opposed else text


def _formatted(ref: Ref, fact: Fact, formats: Formats) -> str:
    if ref.format is None:
        return fact.text
    known = formats.get(fact.kind, {})
    make = known.get(ref.format)
    if make is None:
        raise Fault(
            f"{ref} asks for a format that {fact.kind} values do not have",
            expected=_one_of(known) if known else "no format",
            nearest=nearest(ref.format, known),
        )
    return make(fact.value)


def _one_of(known: Collection[str]) -> str:
    shown = sorted(known)
    return "one of " + ", ".join(shown[:12]) + (", …" if len(shown) > 12 else "") if shown else ""


def _prefixed(root: str, name: str) -> str:
    return f"{root}.{name}" if name else ""
