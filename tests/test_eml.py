"""The `.eml` against RFC 2045, 2046, 2387, 2392 and 5322, read back by the stdlib and by mail-parser.

Row numbers (R05 …) are those of the project's table of published check values.
"""

from __future__ import annotations

import binascii
import os
import quopri
import re
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from pathlib import Path
from typing import cast

import mailparser
import pytest
from hypothesis import given
from hypothesis import strategies as st

import handbill
from handbill.base.errors import Fault
from handbill.write.eml import Envelope, Inline, envelope_headers, message, quoted_printable
from handbill.write.headers import Mailbox, message_id

SOURCE = str(Path(handbill.__file__).parent.parent)
ENVELOPE = Envelope(
    sender=Mailbox("Orrowby, Cookware", "news@orrowby.example"),
    to=(Mailbox("Zoë Ångström", "zoe@ridge.example"),),
    subject="Last call – kettles from 35,99 € until Friday midnight, and free engraving on every pan",
    date=datetime(2027, 1, 15, 8, tzinfo=UTC),
    message_id=message_id("0123456789abcdef0123456789abcdef01234567", "orrowby.example"),
    reply_to=Mailbox("", "hello@orrowby.example"),
    unsubscribe=("https://orrowby.example/u/" + "o" * 120, "mailto:leave@orrowby.example?subject=leave"),
    language="en-GB",
    list_id="news.orrowby.example",
)
TEXT = "Kettles from 35,99 €\n.\nFrom Orrowby\n"
HTML = '<p style="margin:0">Kettles from 35,99 €</p>\n<p>=3D is not an equals sign</p>\n'
KETTLE = Inline("kettle.5f2a@orrowby.example", "kettle.png", "image/png", bytes(range(256)) * 3)
POT = Inline("pot.77c1@orrowby.example", "pot.jpg", "image/jpeg", b"\xff\xd8" + b"x" * 55)


def build(*inline: Inline, envelope: Envelope = ENVELOPE) -> bytes:
    text, html = quoted_printable(TEXT.encode()), quoted_printable(HTML.encode())
    return message(envelope_headers(envelope), [text], [html], inline)


def parse(raw: bytes) -> EmailMessage:
    mail = cast(EmailMessage, message_from_bytes(raw, policy=default))
    for part in mail.walk():
        assert not part.defects
        for _, value in part.items():
            assert not getattr(value, "defects", ())
    return mail


def lf(text: str) -> str:
    return text.replace("\r\n", "\n")


def leaf(mail: EmailMessage, subtype: str) -> str:
    part = mail.get_body((subtype,))
    assert part is not None
    return lf(str(part.get_content()))


def test_both_parsers_read_the_same_mail() -> None:
    raw = build()
    mail = parse(raw)
    assert mail["Subject"] == ENVELOPE.subject
    assert mail["From"].addresses[0].display_name == "Orrowby, Cookware"
    assert mail["To"].addresses[0].display_name == "Zoë Ångström"
    assert mail["Reply-To"].addresses[0].addr_spec == "hello@orrowby.example"
    assert mail["Date"].datetime == ENVELOPE.date
    assert mail["Message-ID"] == ENVELOPE.message_id
    assert mail["Content-Language"] == "en-GB"
    assert mail["List-Id"] == "<news.orrowby.example>"  # RFC 2919 §3
    assert leaf(mail, "plain") == TEXT
    assert leaf(mail, "html") == HTML

    other = mailparser.parse_from_bytes(raw)
    assert not other.has_defects
    assert other.subject == ENVELOPE.subject
    assert other.from_ == [("Orrowby, Cookware", "news@orrowby.example")]
    assert other.to == [("Zoë Ångström", "zoe@ridge.example")]
    assert other.date == ENVELOPE.date
    assert other.message_id == ENVELOPE.message_id
    assert [lf(text) for text in other.text_plain] == [TEXT]
    assert [lf(text) for text in other.text_html] == [HTML]
    assert other.attachments == []


def test_plainest_first_and_one_mime_version() -> None:
    raw = build()
    mail = parse(raw)
    assert mail.get_content_type() == "multipart/alternative"
    assert [part.get_content_type() for part in mail.iter_parts()] == ["text/plain", "text/html"]  # R14
    assert mail.get_all("MIME-Version") == ["1.0"]  # RFC 2045 §4
    text, html = mail.iter_parts()
    assert text["Content-Type"].params == {"charset": "utf-8", "format": "flowed"}  # RFC 3676 §4.1, R12
    assert html["Content-Type"].params == {"charset": "utf-8"}
    assert text["Content-Transfer-Encoding"] == html["Content-Transfer-Encoding"] == "quoted-printable"


def test_related_html_leg() -> None:
    raw = build(KETTLE, POT)
    mail = parse(raw)
    text, related = mail.iter_parts()
    assert text.get_content_type() == "text/plain"
    assert related.get_content_type() == "multipart/related"
    assert related["Content-Type"].params["type"] == "text/html"  # R15, RFC 2387 §3.1
    root, *pictures = related.iter_parts()
    assert root.get_content_type() == "text/html"  # R15, RFC 2387 §3.2: without start, the first part
    assert leaf(mail, "html") == HTML
    for part, picture in zip(pictures, (KETTLE, POT), strict=True):
        assert part["Content-ID"] == f"<{picture.cid}>"  # R16, RFC 2392 §2
        assert part.get_content_type() == picture.content_type
        assert part.get_content_disposition() == "inline"
        assert part.get_filename() == picture.filename
        assert part.get_content() == picture.data

    other = mailparser.parse_from_bytes(raw)
    assert [
        (found["filename"], found["content-id"], binascii.a2b_base64(found["payload"]))
        for found in other.attachments
    ] == [(picture.filename, f"<{picture.cid}>", picture.data) for picture in (KETTLE, POT)]


@pytest.mark.parametrize("inline", [(), (KETTLE, POT)])
def test_lines_ends_and_boundaries(inline: tuple[Inline, ...]) -> None:
    raw = build(*inline)
    raw.decode("ascii")
    assert not re.search(rb"(?<!\r)\n|\r(?!\n)", raw)  # RFC 5322 §2.3
    lines = raw.split(b"\r\n")
    assert max(map(len, lines)) <= 998  # R01
    assert [line for line in lines if len(line) > 78 and b"https://" not in line] == []
    boundaries = re.findall(rb'boundary="([^"]+)"', raw)
    assert len(set(boundaries)) == len(boundaries) == (2 if inline else 1)
    for boundary in boundaries:
        assert b"=_" in boundary  # R13, RFC 2045 §6.7
        assert re.fullmatch(rb"[0-9A-Za-z'()+_,\-./:=?]{1,70}", boundary)  # R13, RFC 2046 §5.1.1
        assert lines.count(b"--" + boundary + b"--") == 1
    for code in re.findall(rb"base64\r\n.*?\r\n\r\n(.*?)\r\n--", raw, re.DOTALL):
        assert all(len(line) <= 76 for line in code.split(b"\r\n"))  # R11, RFC 2045 §6.8


def test_same_input_same_bytes() -> None:
    assert build(KETTLE) == build(KETTLE)
    code = "import sys, test_eml; sys.stdout.buffer.write(test_eml.build(test_eml.KETTLE))"
    path = os.pathsep.join((SOURCE, os.path.dirname(__file__)))
    for seed in ("1", "2"):
        run = subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONPATH": path, "PYTHONHASHSEED": seed, "TZ": f"UTC{seed}"},
            capture_output=True,
            check=True,
        )
        assert run.stdout == build(KETTLE)


def test_nothing_imports_the_stdlib_writer() -> None:
    code = "import sys, handbill.write.eml, handbill.write.flowed; print(*sys.modules)"
    run = subprocess.run(
        [sys.executable, "-c", code], env={"PYTHONPATH": SOURCE}, capture_output=True, check=True, text=True
    )
    assert not {"email", "email.message", "email.policy", "mimetypes"} & set(run.stdout.split())


def test_field_counts() -> None:
    names = [field.partition(b":")[0] for field in envelope_headers(ENVELOPE)]
    assert len(set(names)) == len(names)  # R03, RFC 5322 §3.6
    assert {b"Date", b"From", b"To", b"Subject", b"Message-ID"} <= set(names)
    assert b"Sender" not in names  # R04, RFC 5322 §3.6.2: only with more than one mailbox in From


@pytest.mark.parametrize(
    "headers",
    [
        [],
        [b"Date: x\r\n"],
        [b"Date: x\r\n", b"From: a@b.example\r\n", b"from: a@b.example\r\n"],
        [b"Date: x\r\n", b"From: a@b.example\r\n", b"Subject: a\r\n", b"Subject: b\r\n"],
        [b"Date: x\r\n", b"From: a@b.example\r\n", b"MIME-Version: 1.0\r\n"],
    ],
)
def test_wrong_counts_are_refused(headers: list[bytes]) -> None:
    with pytest.raises(ValueError, match="field"):  # R03, RFC 5322 §3.6
        message(headers, [], [])


def test_optional_fields_stay_out() -> None:
    envelope = replace(ENVELOPE, reply_to=None, unsubscribe=(), language="", list_id="")
    names = [field.partition(b":")[0] for field in envelope_headers(envelope)]
    assert names == [b"Date", b"From", b"To", b"Subject", b"Message-ID"]


def test_one_click_needs_https() -> None:
    fields = b"".join(envelope_headers(ENVELOPE))
    assert b"List-Unsubscribe-Post: List-Unsubscribe=One-Click\r\n" in fields  # R25, RFC 8058 §3.1
    assert b"<" + ENVELOPE.unsubscribe[0].encode() + b">,\r\n <mailto:" in fields  # R23, R30
    by_mail = replace(ENVELOPE, unsubscribe=("mailto:leave@orrowby.example",))
    fields = b"".join(envelope_headers(by_mail))
    assert b"List-Unsubscribe: <mailto:leave@orrowby.example>\r\n" in fields
    assert b"List-Unsubscribe-Post" not in fields


@pytest.mark.parametrize(
    "wrong",
    [
        {"to": ()},
        {"subject": "Sale\r\nBcc: all@orrowby.example"},
        {"sender": Mailbox("Orrowby\n", "news@orrowby.example")},
        {"sender": Mailbox("Orrowby", "news")},
        {"message_id": "0123@orrowby.example"},
        {"message_id": "<01 23@orrowby.example>"},  # R08, RFC 5322 §3.6.4
        {"message_id": "<0123@orrowby.example>\r\nX: y"},
        {"date": datetime(2027, 1, 15)},
        {"language": "en_GB"},
        {"language": "en\r\nX: y"},
        {"list_id": "news list"},
        {"unsubscribe": ("https://orrowby.example/u\r\nX: y",)},
    ],
)
def test_wrong_envelopes_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(Fault):
        envelope_headers(replace(ENVELOPE, **wrong))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "wrong",
    [
        {"cid": "kettle"},  # RFC 2392 §2: a content id is an addr-spec
        {"cid": "a%b@orrowby.example"},  # R17
        {"cid": "a@b>\r\nX: y"},
        {"filename": 'a".png'},
        {"filename": "../a.png"},
        {"filename": "a\r\n.png"},
        {"content_type": "image"},
        {"content_type": "image/png\r\nX: y"},
    ],
)
def test_wrong_pictures_are_refused(wrong: dict[str, str]) -> None:
    with pytest.raises(Fault):
        replace(KETTLE, **wrong)  # type: ignore[arg-type]


def test_two_pictures_with_one_cid_are_refused() -> None:
    with pytest.raises(ValueError, match="content id"):
        build(KETTLE, replace(POT, cid=KETTLE.cid))


def test_quoted_printable_example() -> None:
    coded = b"Now's the time =\r\nfor all folk to come=\r\n to the aid of their country.\r\n"
    plain = b"Now's the time for all folk to come to the aid of their country.\n"
    assert quopri.decodestring(coded) == plain.replace(b"\n", b"\r\n")  # R10, RFC 2045 §6.7
    assert quoted_printable(plain) == plain.replace(b"\n", b"\r\n")


@pytest.mark.parametrize(
    ("piece", "coded"),
    [
        (b"", b""),
        (b"\n", b"\r\n"),
        (b"a \n", b"a=20\r\n"),  # R09, RFC 2045 §6.7(3)
        (b"a\t\n", b"a=09\r\n"),
        ("é=\n".encode(), b"=C3=A9=3D\r\n"),  # R09, RFC 2045 §6.7(1): upper case
        (b"a\r\nb\rc\n", b"a\r\nb\r\nc\r\n"),
        (b"\0\x7f\n", b"=00=7F\r\n"),
        (b".\n..\n.a\n", b"=2E\r\n..\r\n.a\r\n"),  # RFC 5321 §4.5.2
        (b"From us\n>From us\nFromage\n", b"=46rom us\r\n>From us\r\nFromage\r\n"),  # RFC 4155
        (b"a" * 76 + b"\n", b"a" * 76 + b"\r\n"),
        (b"a" * 77 + b"\n", b"a" * 75 + b"=\r\naa\r\n"),
        (b"a" * 75 + b" \n", b"a" * 75 + b"=\r\n=20\r\n"),
        (b"a" * 74 + b" \n", b"a" * 74 + b"=\r\n=20\r\n"),
        (b"a" * 74 + b"\t\n", b"a" * 74 + b"=\r\n=09\r\n"),
        (b"a" * 73 + b" \n", b"a" * 73 + b"=20\r\n"),
        (b"From " + b"a" * 69 + b"\n", b"=46rom " + b"a" * 69 + b"\r\n"),
        (b"From " + b"a" * 70 + b"\n", b"=46=\r\nrom " + b"a" * 70 + b"\r\n"),
        (b"a" * 75 + b"From us\n", b"a" * 75 + b"=\r\n=46rom us\r\n"),
    ],
)
def test_quoted_printable(piece: bytes, coded: bytes) -> None:
    assert quoted_printable(piece) == coded


def test_a_piece_ends_in_a_line_break() -> None:
    with pytest.raises(ValueError, match="line break"):
        quoted_printable(b"a")


chunk = st.sampled_from(
    [b"From ", b".", b" ", b"\t", b"\n", b"\r\n", b"=", b"a" * 25, b"a" * 70, b"\xc3\xa9", b"b"]
)
pieces = st.one_of(st.lists(chunk, max_size=30).map(b"".join), st.binary(max_size=200)).map(
    lambda b: b + b"\n"
)


@given(pieces)
def test_quoted_printable_comes_back(piece: bytes) -> None:
    coded = quoted_printable(piece)
    assert quopri.decodestring(coded.replace(b"\r\n", b"\n")) == re.sub(rb"\r\n?", b"\n", piece)
    for line in coded.split(b"\r\n"):
        assert len(line) <= 76  # R09, RFC 2045 §6.7(5)
        assert re.fullmatch(rb"(?:[\t !-<>-~]|=[0-9A-F]{2})*(?:=|(?<![\t ]))", line)  # R09
        assert line != b"."
        assert not line.startswith(b"From ")


@given(st.lists(pieces, max_size=4))
def test_coded_pieces_concatenate(parts: list[bytes]) -> None:
    assert b"".join(map(quoted_printable, parts)) == quoted_printable(b"".join(parts))


@given(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\r"), max_size=200))
def test_any_bodies_come_back(body: str) -> None:
    text, html = body + "\n", f"<p>{body}</p>\n"
    raw = message(
        envelope_headers(ENVELOPE),
        [quoted_printable(text.encode())],
        [quoted_printable(line.encode() + b"\n") for line in html.split("\n")[:-1]],
        [KETTLE],
    )
    mail = parse(raw)
    assert leaf(mail, "plain") == text
    assert leaf(mail, "html") == html
