"""Message headers as bytes. Enters: names, addresses, moments, links; leaves: folded fields ending in CRLF.

Follows RFC 5322 (fields, folding), RFC 2047 (encoded-words), RFC 2369 and 8058 (unsubscribing).
A value that holds a line break or another control character is a Fault: it could start a field of its own.
"""

from __future__ import annotations

import re
from binascii import b2a_base64
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple
from unicodedata import category

from handbill.base.errors import Fault

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

LINE = 78  # characters without CRLF, RFC 5322 §2.1.1 (SHOULD)
LINE_MOST = 998  # the same section (MUST)
ENCODED_LINE = 76  # a line that holds an encoded-word, RFC 2047 §2
_HEAD, _TAIL = "=?utf-8?", "?="
_FRAME = len(_HEAD + "Q?" + _TAIL)
_ROOM = 75 - _FRAME  # what one encoded-word can carry, RFC 2047 §2
_PHRASE_ROOM = ENCODED_LINE - len("Reply-To: ") - _FRAME  # may stand first in any address field
_LONGEST_WORD = 900  # a longer one is encoded, so that its line can be folded at all

_FORBIDDEN = ("Cc", "Cs", "Zl", "Zp")  # controls, lone surrogates, line and paragraph separators
_NAME = re.compile(r"[!-9;-~]{1,50}")  # short enough for any character in code beside it
# RFC 2047 §4.2 and §5(3): what Q may leave as it is, in free text and in a display name
_TEXT_SAFE = frozenset(map(chr, range(33, 127))) - frozenset("=?_")
_PHRASE_SAFE = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789!*+-/")

_ATEXT = r"[A-Za-z0-9!#$%&'*+\-/=?^_`{|}~]+"
_DOT_ATOM = rf"{_ATEXT}(?:\.{_ATEXT})*"
_LABEL = r"[A-Za-z0-9](?:[A-Za-z0-9\-]{0,61}[A-Za-z0-9])?"
_DOMAIN = rf"{_LABEL}(?:\.{_LABEL})*"
_ADDR_SPEC = re.compile(rf'({_DOT_ATOM}|"(?:[ !#-\[\]-~]|\\[ -~])*")@({_DOMAIN})')
MESSAGE_ID = re.compile(rf"<{_DOT_ATOM}@{_DOMAIN}>")
_ATOMS = re.compile(rf"{_ATEXT}(?: {_ATEXT})*")
_URL = re.compile(r"([A-Za-z][A-Za-z0-9+.\-]*):(?:[A-Za-z0-9\-._~:/?#\[\]@!$&'()*+,;=]|%[0-9A-Fa-f]{2})+")
_HOST = re.compile(r"https?://[^/?#]+", re.IGNORECASE)

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class Mailbox(NamedTuple):
    """A display name, which may be empty, and an address."""

    name: str
    addr: str


# The mails of a campaign share most of their fields.
@lru_cache(maxsize=256)
def header(name: str, value: str) -> bytes:
    """A field of free text, such as Subject, folded at single spaces.

    Words that are not plain ASCII become encoded-words (UTF-8, B or Q, whichever is shorter), or the whole
    value when it then takes more than a line: many readers lose the space of a fold between a plain and an
    encoded word. Every space of `value` survives. Lines stay within 78 characters, 76 beside an encoded-word;
    a longer plain word keeps a line to itself. Raises Fault for a control character, a line break or a bad
    field name.
    """
    _check(name, value)
    if not value:
        return f"{name}:\r\n".encode("ascii")
    runs = list(_runs(value))
    room = min(ENCODED_LINE - len(name + ": ") - _FRAME, _ROOM)
    words = [
        word
        for encode, text in runs
        for word in (_encoded_words(text, room, _TEXT_SAFE) if encode else [text])
    ]
    if any(encode for encode, _ in runs) and len(f"{name}: {' '.join(words)}") > ENCODED_LINE:
        words = _encoded_words(value, room, _TEXT_SAFE)
    return _folded(name, words)


@lru_cache(maxsize=256)
def address(name: str, addr: str) -> str:
    """A mailbox for From, To or Reply-To: `name <addr>`, or `addr` alone without a name.

    The name is left bare, quoted (RFC 5322 §3.2.4) or encoded with the characters RFC 2047 §5(3) allows;
    runs of spaces count as one, since readers see a phrase that way.
    `addr` is checked against RFC 5322 §3.4.1 without comments and domain literals, and against the sizes of
    RFC 5321 §4.5.3.1 (64 characters before the @, 254 in all). Raises Fault.
    """
    _clean("a display name", name)
    found = _ADDR_SPEC.fullmatch(addr)
    if not found or len(found[1]) > 64 or len(addr) > 254:
        raise Fault(
            f"not an e-mail address: {addr!r}", expected="name@domain in ASCII (xn-- for other letters)"
        )
    words = [word for word in name.strip().split(" ") if word]
    if not words:
        return addr
    name = " ".join(words)
    odd = not name.isascii() or "=?" in name
    if odd or max(map(len, words)) > 60:  # RFC 2047 §5(3) bars encoded-words from quoted strings
        return f"{' '.join(_encoded_words(name, _PHRASE_ROOM, _PHRASE_SAFE))} <{addr}>"
    if _ATOMS.fullmatch(name):
        return f"{name} <{addr}>"
    escaped = name.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}" <{addr}>'


def address_header(name: str, addresses: Sequence[str]) -> bytes:
    """A field of one or more mailboxes, each as `address` writes it, folded like `header`. Raises Fault."""
    value = ", ".join(addresses)
    _check(name, value)
    if not value.isascii():
        raise Fault(f"{name} holds a name that is not encoded", expected="mailboxes written by address()")
    return _folded(name, value.split(" "))


def date(moment: datetime) -> str:
    """RFC 5322 §3.3, for example `Fri, 21 Nov 1997 09:55:06 -0600`; fractions of a second are dropped.

    Raises Fault for a moment without a zone, or whose offset is not whole minutes.
    """
    offset = moment.utcoffset()
    if offset is None:
        raise Fault("the send time has no time zone", expected="a date and time with a zone")
    seconds = round(offset.total_seconds())
    if seconds % 60 or offset.microseconds:
        raise Fault(f"the send time's zone is {offset} from UTC", expected="an offset of whole minutes")
    sign = "-" if seconds < 0 else "+"
    hours, minutes = divmod(abs(seconds) // 60, 60)
    return (
        f"{_DAYS[moment.weekday()]}, {moment.day:02} {_MONTHS[moment.month - 1]} {moment.year:04} "
        f"{moment.hour:02}:{moment.minute:02}:{moment.second:02} {sign}{hours:02}{minutes:02}"
    )


def message_id(digest: str, domain: str) -> str:
    """`<digest@domain>`, RFC 5322 §3.6.4. Raises Fault unless both are plain dot-atoms."""
    if not re.fullmatch(_DOT_ATOM, digest) or not is_domain(domain) or len(digest + domain) > 320:
        raise Fault(f"not a message id: {digest!r} at {domain!r}", expected="a digest and a domain name")
    return f"<{digest}@{domain}>"


def is_domain(text: str) -> bool:
    """Whether `text` is a domain name in ASCII of at most 255 characters (RFC 5321 §4.5.3.1.2)."""
    return len(text) <= 255 and re.fullmatch(_DOMAIN, text) is not None


def list_unsubscribe(urls: Sequence[str]) -> list[bytes]:
    """List-Unsubscribe with the links in the order given, and List-Unsubscribe-Post when one is https.

    Links stand literally, one a line, even over 78 characters: an encoded link is a dead one. Nothing for no
    links. RFC 8058 §3.1 asks for one https link and no http beside it. Raises Fault.
    """
    if not urls:
        return []
    schemes = [_scheme(url) for url in urls]
    web = [scheme for scheme in schemes if scheme != "mailto"]
    if "https" in web and len(web) > 1:
        raise Fault("more than one web link to unsubscribe", expected="one https link, and mailto beside it")
    lines = ",\r\n ".join(f"<{url}>" for url in urls)
    fields = [f"List-Unsubscribe: {lines}\r\n".encode("ascii")]
    if "https" in web:
        fields.append(b"List-Unsubscribe-Post: List-Unsubscribe=One-Click\r\n")
    return fields


def _scheme(url: str) -> str:
    found = _URL.fullmatch(url)
    scheme = found[1].lower() if found else ""
    right = scheme == "mailto" or (scheme in ("https", "http") and _HOST.match(url))
    if not right:
        raise Fault(f"not a link to unsubscribe: {url!r}", expected="https://… or mailto:…, percent-encoded")
    if scheme == "mailto" and url.count("?") > 1:  # RFC 6068 §5 prints this very slip as wrong
        raise Fault(f"two question marks in {url!r}", expected="& before the second field")
    if len(url) > LINE_MOST - len("List-Unsubscribe: <>,"):
        raise Fault(f"a link to unsubscribe of {len(url)} characters", expected="a line of at most 998")
    return scheme


def _check(name: str, value: str) -> None:
    if not _NAME.fullmatch(name):
        raise Fault(f"not a header name: {name!r}", expected="printable ASCII without spaces and colons")
    _clean(name, value)


def _clean(what: str, value: str) -> None:
    if value.isprintable():
        return
    for ch in value:
        if category(ch) in _FORBIDDEN:
            raise Fault(
                f"{what} holds a line break or control character (U+{ord(ch):04X})",
                expected="text on one line",
            )


def _folded(name: str, words: Sequence[str]) -> bytes:
    limit = ENCODED_LINE if any(word.startswith(_HEAD) for word in words) else LINE
    lines: list[str] = []
    start = line = name + ":"
    for word in words:
        # no fold right after the colon: readers show its space, or nothing at all
        if len(line) + 1 + len(word) > limit and line != start:
            lines.append(line)
            line = ""
        line += " " + word
    lines.append(line)
    return ("\r\n".join(lines) + "\r\n").encode("ascii")


def _runs(value: str) -> Iterator[tuple[bool, str]]:
    """Plain words one by one, and runs of words to be encoded together with the spaces between them.

    Decoders drop white space between encoded-words and squeeze or strip other runs of it, so the neighbours
    of a double, leading or trailing space go into the encoded run with it.
    """
    words = value.split(" ")
    held: list[str] = []
    for at, word in enumerate(words):
        if (
            not word
            or not word.isascii()
            or "=?" in word
            or len(word) > _LONGEST_WORD
            or "" in _beside(words, at)
        ):
            held.append(word)
            continue
        if held:
            yield True, " ".join(held)
            held = []
        yield False, word
    if held:
        yield True, " ".join(held)


def _beside(words: list[str], at: int) -> list[str]:
    return words[max(at - 1, 0) : at + 2]


def _encoded_words(text: str, room: int, safe: frozenset[str]) -> list[str]:
    """Encoded-words for `text` that carry at most `room` characters of code each."""

    def width(part: str) -> int:
        return len(_q(part, safe)) if use_q else _b_length(len(part.encode()))

    use_q = len(_q(text, safe)) <= _b_length(len(text.encode()))
    pieces: list[str] = []
    for cluster in _clusters(text):
        pieces += [cluster] if width(cluster) <= room else cluster
    chunks, held = [], ""
    for piece in pieces:
        if held and width(held + piece) > room:
            chunks.append(held)
            held = ""
        held += piece
    chunks.append(held)
    return [_HEAD + (f"Q?{_q(chunk, safe)}" if use_q else f"B?{_b(chunk)}") + _TAIL for chunk in chunks]


def _b_length(size: int) -> int:
    return (size + 2) // 3 * 4


def _b(text: str) -> str:
    return b2a_base64(text.encode(), newline=False).decode("ascii")


def _q(text: str, safe: frozenset[str]) -> str:
    return "".join(
        ch if ch in safe else "_" if ch == " " else "".join(f"={byte:02X}" for byte in ch.encode())
        for ch in text
    )


def _clusters(text: str) -> Iterator[str]:
    """What had better stay in one encoded-word: a letter with its marks, an emoji sequence, a flag.

    RFC 2047 §5 asks for whole characters only, but a reader that draws word by word would tear these. A
    plain reading of UAX #29 (grapheme clusters) that leaves out conjoining Hangul letters.
    """
    cluster, flags = "", 0
    for ch in text:
        flag = "\U0001f1e6" <= ch <= "\U0001f1ff"
        joins = ch > "\x7f" and (
            category(ch)[0] == "M"
            or ch in "\u200c\u200d"
            or "\U0001f3fb" <= ch <= "\U0001f3ff"  # skin tones
            or "\U000e0020" <= ch <= "\U000e007f"  # tags of regional flags
            or (flag and flags % 2 == 1)
        )
        if cluster and not joins and cluster[-1] != "\u200d":
            yield cluster
            cluster = ""
        cluster += ch
        flags = flags + 1 if flag else 0
    yield cluster
