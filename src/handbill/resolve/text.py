"""Text with holes that live to send time. Enters: a `Filled` tuple, a voice; leaves: a string per context.

A voice writes the holes: a dialect writes tags, a sample recipient example values. Escaping follows the HTML
standard (§13.3 serialising, §13.1.4 character references) and RFC 3986 §2 for percent-encoding.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Generic, Literal, Protocol, TypeVar, overload
from urllib.parse import quote

from handbill.base.errors import Fault
from handbill.base.frozen import dataclass

#: `plain_url` is a URL outside HTML (the text part, a header): percent-encoded, but no character references.
Context = Literal["html", "attribute", "url", "plain", "header", "plain_url"]


@dataclass(frozen=True, slots=True)
class Send:
    """A value known only when the mail is sent: its dotted name in pieces, the words for when it is empty.

    `isolated` ones stand in right-to-left text: outside HTML too they keep an order of their own.
    """

    names: tuple[str, ...]
    fallback: str | None = None
    isolated: bool = False


#: Literal and send-time parts in order; never a string with holes, so that nothing is escaped twice.
Filled = tuple[str | Send, ...]


class Voice(Protocol):
    """Whoever writes the send-time parts."""

    def tag(self, names: tuple[str, ...], context: Context, fallback: str | None) -> str:
        """The part as it stands in `context`, already escaped for it."""

    def literal(self, text: str, context: Context) -> str:
        """Author's text, escaped for `context` already, made harmless where the language would read it."""

    def reads(self, text: str) -> bool:
        """Whether the voice's language would read something in the author's `text`."""


# Characters that no mail may hold: C0 but tab and line feed, DEL, C1 (HTML §13.2.3.5 calls them errors), the
# two Unicode line separators (readers disagree on them), surrogates, and noncharacters (copy marks facts by
# them). They are refused, not dropped: a text that silently lost something is no longer the author's.
_REFUSED = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]")

# Invisible characters stand as numbers in HTML: an editor shows them, no re-coding strips them, and after
# quoted-printable `&#8294;` is shorter than the raw character. Joiners stay raw: parts of words and emoji.
_INVISIBLE = {
    code: f"&#{code};"
    for code in (0xA0, 0xAD, 0x200B, 0x200E, 0x200F, 0x202F, 0x2060, *range(0x2066, 0x206A))
}
_HTML = {"&": "&amp;", "<": "&lt;", ">": "&gt;", **{chr(code): text for code, text in _INVISIBLE.items()}}
_ATTRIBUTE = {**_HTML, '"': "&quot;", "'": "&#39;", "\n": "&#10;"}
_html_special = re.compile(f"[{''.join(_HTML)}]")
_attribute_special = re.compile(f"[{''.join(_ATTRIBUTE)}]")


def check_characters(text: str) -> None:
    """Raise a Fault when `text` holds what no mail may: control characters but tab and line feed."""
    found = _REFUSED.search(text)
    if found:
        raise Fault(
            f"the text holds the character U+{ord(found[0]):04X} at place {found.start() + 1}",
            expected="visible text; of the control characters only line breaks and tabs",
        )


def escape_html(text: str) -> str:
    """`text` as element content."""
    # few characters need it: three times as fast as str.translate
    return _html_special.sub(lambda found: _HTML[found[0]], text)


def escape_attribute(text: str) -> str:
    """`text` as the inside of a quoted attribute value."""
    return _attribute_special.sub(lambda found: _ATTRIBUTE[found[0]], text)


def escape_url_value(text: str) -> str:
    """`text` as one value inside a URL: all but RFC 3986's unreserved characters percent-encoded as UTF-8."""
    return quote(text, safe="")


def one_line(text: str) -> str:
    """`text` with every line break turned into a space, for headers (RFC 5322 §2.2 lets none in)."""
    return " ".join(text.splitlines())


def _as_is(text: str) -> str:
    return text


def _header(text: str) -> str:
    if "\n" in text:
        raise Fault("a header value holds a line break", expected="one line")
    return text


_ESCAPES: dict[Context, Callable[[str], str]] = {
    "html": escape_html,
    "attribute": escape_attribute,
    "url": escape_attribute,
    "plain": _as_is,
    "header": _header,
    "plain_url": _as_is,
}


def write(filled: Filled, context: Context, voice: Voice) -> str:
    """`filled` as it stands in `context`. Raises a Fault for a line break in a header."""
    escape = _ESCAPES[context]
    if len(filled) == 1 and type(part := filled[0]) is str:
        return voice.literal(escape(part), context)
    return "".join(
        [
            voice.literal(escape(part), context) if isinstance(part, str) else _sent(part, context, voice)
            for part in filled
        ]
    )


def _sent(part: Send, context: Context, voice: Voice) -> str:
    """A send-time part; what is known of a recipient may be written in any script, whatever the mail's.

    Its own first letter says how it runs, and it moves nothing beside it (HTML, the dir attribute; UAX #9
    §2.4.2, FSI). In left-to-right text outside HTML it is left alone: old programs show the characters for it
    as boxes.
    """
    tag = voice.tag(part.names, context, part.fallback)
    if part.names[0] != "recipient":
        return tag
    if context == "html":
        return f'<span dir="auto">{tag}</span>'
    around = _AROUND.get(context) if part.isolated else None
    return f"{around[0]}{tag}{around[1]}" if around else tag


def differs(filled: Filled, voice: Voice) -> bool:
    """Whether another voice would write `filled` otherwise: send-time parts, or text that `voice` guards."""
    return any(voice.reads(part) if isinstance(part, str) else True for part in filled)


_FSI, _PDI = "\u2068", "\u2069"
_AROUND: Mapping[Context, tuple[str, str]] = {
    "attribute": (_INVISIBLE[0x2068], _INVISIBLE[0x2069]),
    "plain": (_FSI, _PDI),
    "header": (_FSI, _PDI),
}

_T = TypeVar("_T")


class kept(Generic[_T]):  # noqa: N801 - reads as a decorator
    """A property computed on first use and kept in the instance; functools.cached_property locks in 3.11."""

    def __init__(self, compute: Callable[..., _T]) -> None:
        self._compute = compute
        self._name = compute.__name__
        self.__doc__ = compute.__doc__

    @overload
    def __get__(self, instance: None, owner: type) -> kept[_T]: ...
    @overload
    def __get__(self, instance: object, owner: type) -> _T: ...
    def __get__(self, instance: object | None, owner: type) -> _T | kept[_T]:
        if instance is None:
            return self
        value = instance.__dict__[self._name] = self._compute(instance)
        return value


class Text:
    """One value for templates, with one form per context, each written on first use and kept.

    True when it would show something: a send-time part counts, white space alone does not.
    """

    def __init__(self, filled: Filled, voice: Voice) -> None:
        self.filled = filled
        self._voice = voice

    @classmethod
    def of(cls, filled: Filled, voice: Voice) -> Text:
        """`filled` in the words of `voice`. A dialect's Text whose `send` is false serves a sample too."""
        return cls(filled, voice)

    @kept
    def html(self) -> str:
        """As element content."""
        return write(self.filled, "html", self._voice)

    @kept
    def attr(self) -> str:
        """As the inside of a double-quoted attribute value."""
        return write(self.filled, "attribute", self._voice)

    @kept
    def url(self) -> str:
        """As an href value: literal parts are taken to be URL text, send-time parts are percent-encoded."""
        return write(self.filled, "url", self._voice)

    @kept
    def plain_url(self) -> str:
        """The same URL for the text part and for headers: no character references."""
        return write(self.filled, "plain_url", self._voice)

    @kept
    def plain(self) -> str:
        """As text."""
        return write(self.filled, "plain", self._voice)

    @kept
    def header(self) -> str:
        """As a header value; a Fault when it holds a line break."""
        return write(self.filled, "header", self._voice)

    @kept
    def send(self) -> bool:
        """Whether another voice would write it otherwise: send-time parts, or text that this voice guards."""
        return differs(self.filled, self._voice)

    def __bool__(self) -> bool:
        for part in self.filled:  # noqa: SIM110 - asked for every value of a template, and any() is slower
            if not isinstance(part, str) or (part and not part.isspace()):
                return True
        return False

    def __repr__(self) -> str:
        return f"Text({self.filled!r})"
