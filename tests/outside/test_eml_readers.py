"""The .eml read alike by four MIME parsers that are not ours.

They are the standard library's (policy.default), PyPI's mail-parser, npm's postal-mime, Perl's MIME::Parser.
Sources: RFC 5322 (header fields), RFC 2047 (encoded words), RFC 2045 and 2046 (bodies), RFC 3676 section 4
(flowed text).
"""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from email import message_from_bytes
from email.policy import default
from email.utils import parseaddr
from pathlib import Path
from typing import Any

import mailparser
import pytest

from .mails import ROOT, TOOLS, Mail


@dataclass(frozen=True)
class Reading:
    """What one parser made of a mail; `headers` are (name in lower case, unfolded value), sorted."""

    subject: str
    sender: tuple[str, str]
    text: str
    html: str
    headers: tuple[tuple[str, str], ...]


def lines(text: str) -> str:
    """Line ends and the last of them differ between parsers, and say nothing."""
    return text.replace("\r\n", "\n").rstrip("\n")


def unflowed(text: str) -> str:
    """RFC 3676 section 4: lines that end in a space go on in the next, one leading space is stuffing."""
    joined = ""
    for line in lines(text).split("\n"):
        joined += line.removeprefix(" ")
        joined += "" if line.endswith(" ") and line != "-- " else "\n"
    return joined.rstrip("\n")


def reading(subject: str, sender: tuple[str, str], text: str, html: str, headers: list[Any]) -> Reading:
    pairs = sorted((name.lower(), re.sub(r"\s+", " ", value).strip()) for name, value in headers)
    return Reading(subject, sender, lines(text), lines(html), tuple(pairs))


def by_stdlib(eml: bytes) -> Reading:
    mail = message_from_bytes(eml, policy=default)
    text, html = mail.get_body(("plain",)), mail.get_body(("html",))
    assert text is not None
    assert html is not None
    sender = parseaddr(str(mail["From"]))
    raw = message_from_bytes(eml)  # the compat32 policy leaves values as they were sent
    return reading(
        str(mail["Subject"]),
        sender,
        unflowed(text.get_content()),
        html.get_content(),
        [(name, str(value)) for name, value in raw.items()],
    )


def by_mail_parser(eml: bytes) -> Reading:
    mail = mailparser.parse_from_bytes(eml)
    assert mail.defects == []
    return reading(
        mail.subject,
        mail.from_[0],
        unflowed("".join(mail.text_plain)),
        "".join(mail.text_html),
        # Address fields come as lists of (name, address).
        [(name, str(value)) for name, value in mail.headers.items()],
    )


def from_program(command: list[str], eml: bytes) -> dict[str, Any]:
    done = subprocess.run(command, input=eml, capture_output=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr.decode()
    found = json.loads(done.stdout)
    assert isinstance(found, dict)
    return found


def program_reading(found: dict[str, Any], join: Callable[[str], str]) -> Reading:
    name, address = found["from"]
    return reading(found["subject"], (name, address), join(found["text"]), found["html"], found["headers"])


def by_postal_mime(eml: bytes) -> Reading:
    script = ROOT / "tests" / "tools" / "read_mail.mjs"
    return program_reading(from_program(["node", str(script), str(TOOLS.parent)], eml), lines)


def by_perl(eml: bytes) -> Reading:
    script: Path = ROOT / "tests" / "tools" / "read_mail.pl"
    return program_reading(from_program(["perl", str(script)], eml), unflowed)


READERS = [by_mail_parser, by_postal_mime, by_perl]
# Encoded words may stand in these, and some parsers decode them. Subject and sender have a test above.
DECODED = ("subject", "from", "to", "reply-to", "sender")


@pytest.mark.parametrize("read", READERS)
def test_subject_and_sender_are_read_alike(mail: Mail, read: Callable[[bytes], Reading]) -> None:
    """RFC 5322 section 3.6.2 and 3.6.5, RFC 2047 section 6.2."""
    ours, theirs = by_stdlib(mail.eml), read(mail.eml)
    assert ours.subject
    assert ours.sender[1]
    assert (theirs.subject, theirs.sender) == (ours.subject, ours.sender)


@pytest.mark.parametrize("read", READERS)
def test_bodies_are_read_alike(mail: Mail, read: Callable[[bytes], Reading]) -> None:
    """RFC 2045 section 6.7, RFC 2046 section 5.1.4, RFC 3676 section 4."""
    ours, theirs = by_stdlib(mail.eml), read(mail.eml)
    assert len(ours.text) > 200
    assert len(ours.html) > 2000
    assert theirs.text == ours.text
    assert theirs.html == ours.html


@pytest.mark.parametrize("read", READERS)
def test_header_fields_are_read_alike(mail: Mail, read: Callable[[bytes], Reading]) -> None:
    """RFC 5322 section 2.2.3 (unfolding); RFC 2369 section 2 and RFC 8058 section 3.1 for the List fields."""
    ours, theirs = by_stdlib(mail.eml), read(mail.eml)
    names = [name for name, _ in ours.headers]
    assert {"date", "from", "message-id", "mime-version", "list-unsubscribe"} <= set(names)
    assert [name for name, _ in theirs.headers] == names
    plain = [pair for pair in ours.headers if pair[0] not in DECODED]
    assert [pair for pair in theirs.headers if pair[0] not in DECODED] == plain


def test_html_of_the_mail_is_that_of_the_web_file_but_for_the_sample(mail: Mail) -> None:
    """The two outputs are one mail: the same elements in the same order (WHATWG HTML section 13.1)."""
    tags = re.compile(r"<(/?[a-z0-9:]+)", re.IGNORECASE)
    file = (mail.folder / "email.html").read_text("utf-8")
    assert tags.findall(mail.html) == tags.findall(file)
