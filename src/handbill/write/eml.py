"""The `.eml`. Enters: header fields, quoted-printable pieces, pictures; leaves: one MIME message as bytes.

Follows RFC 2045 and 2046 (MIME), 2387 (related), 2392 (cid). Nothing is parsed or rewritten on the way, so a
mail costs little more than coding its bodies, and pieces coded once serve every mail that holds them.
"""

from __future__ import annotations

import re
from binascii import b2a_base64, b2a_qp
from hashlib import blake2b
from typing import TYPE_CHECKING

from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.write.headers import (
    LINE_MOST,
    MESSAGE_ID,
    Mailbox,
    address,
    address_header,
    date,
    header,
    is_domain,
    list_unsubscribe,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

_OVERLONG = re.compile(rb"^([^\n]{74,75})(=20|=09)$", re.MULTILINE)
_FROM = re.compile(rb"^From ([^\n]*)", re.MULTILINE)
# compiled at first use: most mails carry no pictures
_TYPE = r"[a-z]+/[a-z0-9][a-z0-9!#$&^_.+\-]{0,60}"
_CID = r"[A-Za-z0-9\-]+(?:\.[A-Za-z0-9\-]+)*@[A-Za-z0-9\-]+(?:\.[A-Za-z0-9\-]+)*"
_FILENAME = r"[A-Za-z0-9_][A-Za-z0-9_.\-]{0,59}"
_LANGUAGE = r"[A-Za-z]{1,8}(?:-[A-Za-z0-9]{1,8})*"

_TEXT_TYPE = b"text/plain; charset=utf-8; format=flowed"
_HTML_TYPE = b"text/html; charset=utf-8"


@dataclass(frozen=True, slots=True)
class Envelope:
    """What a mail's own header fields say. `message_id` is as `message_id()` writes it.

    `unsubscribe` are links, the preferred one first; `language` is a language tag (RFC 5646) and `list_id` a
    name shaped like a domain (RFC 2919); an empty one leaves its field out.
    """

    sender: Mailbox
    to: tuple[Mailbox, ...]
    subject: str
    date: datetime
    message_id: str
    reply_to: Mailbox | None = None
    unsubscribe: tuple[str, ...] = ()
    language: str = ""
    list_id: str = ""


@dataclass(frozen=True, slots=True)
class Inline:
    """A picture that travels inside the mail. `cid` is what follows `cid:` in its link, `name@domain`.

    Kept to letters, digits, `-` and `.` around the @, so that link and Content-ID agree without the
    percent-coding in which RFC 2392 §2 itself slips. Raises Fault for another cid, file name or type.
    """

    cid: str
    filename: str
    content_type: str
    data: bytes

    def __post_init__(self) -> None:
        if not re.fullmatch(_CID, self.cid) or len(self.cid) > 200:
            raise Fault(f"not a content id: {self.cid!r}", expected="name@domain of letters, digits, - and .")
        if not re.fullmatch(_FILENAME, self.filename):
            raise Fault(
                f"not a file name for a mail: {self.filename!r}",
                expected="at most 60 letters, digits, dots, - and _",
            )
        if not re.fullmatch(_TYPE, self.content_type):
            raise Fault(f"not a media type: {self.content_type!r}", expected="for example image/png")


def envelope_headers(envelope: Envelope) -> list[bytes]:
    """The header fields in a fixed order, each folded and ending in CRLF; `message` adds the MIME ones.

    Date, From, Reply-To, To, Subject, Message-ID, List-Unsubscribe (with List-Unsubscribe-Post for an https
    link), List-Id, Content-Language. Raises Fault for whatever cannot stand in a header.
    """
    if not envelope.to:
        raise Fault("the mail has no recipient", expected="at least one address")
    if not MESSAGE_ID.fullmatch(envelope.message_id) or len(envelope.message_id) > LINE_MOST - 20:
        raise Fault(f"not a message id: {envelope.message_id!r}", expected="<digest@domain>")
    fields = [
        header("Date", date(envelope.date)),
        address_header("From", [address(*envelope.sender)]),
    ]
    if envelope.reply_to is not None:
        fields.append(address_header("Reply-To", [address(*envelope.reply_to)]))
    fields += [
        address_header("To", [address(*mailbox) for mailbox in envelope.to]),
        header("Subject", envelope.subject),
        f"Message-ID: {envelope.message_id}\r\n".encode("ascii"),
        *list_unsubscribe(envelope.unsubscribe),
    ]
    if envelope.list_id:
        if not is_domain(envelope.list_id):
            raise Fault(f"not a list id: {envelope.list_id!r}", expected="a name such as news.shop.example")
        fields.append(f"List-Id: <{envelope.list_id}>\r\n".encode("ascii"))
    if envelope.language:
        if not re.fullmatch(_LANGUAGE, envelope.language):
            raise Fault(f"not a language tag: {envelope.language!r}", expected="for example en-GB")
        fields.append(f"Content-Language: {envelope.language}\r\n".encode("ascii"))
    return fields


def quoted_printable(piece: bytes) -> bytes:
    """One piece of a body in quoted-printable (RFC 2045 §6.7), lines of at most 76 ending in CRLF.

    LF, CRLF and CR all count as line ends. A piece ends in one, or is empty, so that coded pieces concatenate
    to the coded whole; else ValueError. Coded as well, for carriers that would alter them: a lone `.` (SMTP's
    end of data) and `From ` at the start of a line (the mailbox separator).
    """
    if b"\r" in piece:
        piece = piece.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if piece and piece[-1] != 10:
        raise ValueError("a piece of a body must end in a line break")
    coded = b2a_qp(piece)
    if b"=20\n" in coded or (b"\t" in piece and b"=09\n" in coded):
        # b2a_qp codes a space at a line's end after it has measured the line, which then reaches 78
        coded = _OVERLONG.sub(rb"\1=\n\2", coded)
    if b"From " in coded:
        coded = _FROM.sub(_protect, coded)
    return coded.replace(b"\n", b"\r\n")


def message(
    headers: Sequence[bytes], text: Sequence[bytes], html: Sequence[bytes], inline: Sequence[Inline] = ()
) -> bytes:
    """The whole mail: `headers`, MIME-Version, then multipart/alternative with text first (RFC 2046 §5.1.4).

    `text` (format=flowed) and `html` are pieces from `quoted_printable`, `headers` fields from
    `envelope_headers`. With pictures the html leg is multipart/related. Boundaries depend on the headers
    alone: they hold `=_`, which neither quoted-printable nor base64 can contain. Raises ValueError for
    headers that break the counts of RFC 5322 §3.6 and for two pictures with one cid.
    """
    _check_counts(headers)
    digest = blake2b(b"".join(headers), digest_size=12).hexdigest().encode("ascii")
    outer = b"=_alt." + digest
    chunks = [
        *headers,
        b'MIME-Version: 1.0\r\nContent-Type: multipart/alternative;\r\n boundary="%b"\r\n\r\n' % outer,
        b"--%b\r\n" % outer,
        *_leg(_TEXT_TYPE, text),
        b"\r\n--%b\r\n" % outer,
    ]
    if inline:
        if len({picture.cid for picture in inline}) < len(inline):
            raise ValueError("two pictures share a content id")
        related = b"=_rel." + digest
        chunks.append(
            b'Content-Type: multipart/related; type="text/html";\r\n boundary="%b"\r\n\r\n' % related
        )
        chunks += (b"--%b\r\n" % related, *_leg(_HTML_TYPE, html))
        for picture in inline:
            chunks += (b"\r\n--%b\r\n" % related, *_picture(picture))
        chunks.append(b"\r\n--%b--\r\n" % related)
    else:
        chunks += _leg(_HTML_TYPE, html)
    chunks.append(b"\r\n--%b--\r\n" % outer)
    return b"".join(chunks)


def _leg(content_type: bytes, pieces: Sequence[bytes]) -> Iterator[bytes]:
    yield b"Content-Type: %b\r\nContent-Transfer-Encoding: quoted-printable\r\n\r\n" % content_type
    yield from pieces


def _picture(picture: Inline) -> Iterator[bytes]:
    yield (
        f"Content-Type: {picture.content_type}\r\n"
        "Content-Transfer-Encoding: base64\r\n"
        f"Content-ID: <{picture.cid}>\r\n"
        f'Content-Disposition: inline; filename="{picture.filename}"\r\n\r\n'
    ).encode("ascii")
    code = b2a_base64(picture.data, newline=False)
    yield b"\r\n".join([code[at : at + 76] for at in range(0, len(code), 76)])


def _protect(found: re.Match[bytes]) -> bytes:
    rest = found[1]
    # "From " grows by two characters, which may not fit the line any more
    return b"=46rom " + rest if len(rest) <= 69 else b"=46=\nrom " + rest


def _check_counts(headers: Sequence[bytes]) -> None:
    names = [field.partition(b":")[0].lower() for field in headers]
    for name in (b"date", b"from"):
        if names.count(name) != 1:
            raise ValueError(f"a mail has one {name.decode()} field, not {names.count(name)}")
    for name in (b"sender", b"reply-to", b"to", b"cc", b"subject", b"message-id"):
        if names.count(name) > 1:
            raise ValueError(f"a mail has at most one {name.decode()} field")
    if b"mime-version" in names or b"content-type" in names:
        raise ValueError("message() writes the MIME fields itself")
