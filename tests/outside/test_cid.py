"""Mails that carry their pictures, read by MIME parsers that are not ours.

Sources: RFC 2387 section 3.1 (`type`), RFC 2392 section 2 (cid), RFC 2045 section 6.8 (base64).
Readers: PyPI's mail-parser, the standard library's policy.default, npm's postal-mime, Perl's MIME::Parser.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Callable
from email import message_from_bytes
from email.policy import default
from pathlib import Path

import mailparser
import pytest

import handbill

from .mails import CAMPAIGNS
from .test_eml_readers import READERS, Reading


@pytest.fixture(scope="module", params=CAMPAIGNS, ids=lambda path: path.stem)
def compiled(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, Path]:
    """The main mail with its pictures inside, and the folder where the same pictures lie."""
    out = tmp_path_factory.mktemp("cid")
    inside = handbill.compile(request.param, out=out / "inside", pictures="cid")
    beside = handbill.compile(request.param, out=out / "beside", pictures="relative")
    return (inside.variants[0].folder / "email.eml").read_bytes(), beside.folder / "pictures"


def test_every_picture_is_found_by_its_content_id(compiled: tuple[bytes, Path]) -> None:
    eml, pictures = compiled
    mail = mailparser.parse_from_bytes(eml)
    assert mail.defects == []
    found = {one["content-id"].strip("<>"): one for one in mail.attachments}
    asked = set(re.findall(r"cid:([^\"')\s]+)", "".join(mail.text_html)))
    assert asked
    assert asked <= found.keys()  # backgrounds do not show by cid, and are left out
    for one in found.values():
        assert one["content_transfer_encoding"] == "base64"
        data = base64.b64decode(one["payload"])
        # a picture behind words may be laid out otherwise in a mail that cannot show it there
        file = pictures / one["filename"]
        assert not file.exists() or file.read_bytes() == data
    same = [one for one in found.values() if (pictures / one["filename"]).exists()]
    assert len(same) > len(found) / 2


def test_the_related_part_says_what_its_root_is(compiled: tuple[bytes, Path]) -> None:
    mail = message_from_bytes(compiled[0], policy=default)
    (related,) = [part for part in mail.walk() if part.get_content_type() == "multipart/related"]
    assert related.get_param("type") == "text/html"
    first, *others = related.iter_parts()
    assert first.get_content_type() == "text/html"
    assert {one.get_content_maintype() for one in others} == {"image"}
    assert not any(part.defects for part in mail.walk())


@pytest.mark.parametrize("read", READERS)
def test_bodies_are_read_alike(compiled: tuple[bytes, Path], read: Callable[[bytes], Reading]) -> None:
    mail = message_from_bytes(compiled[0], policy=default)
    html = mail.get_body(("html",))
    assert html is not None
    assert read(compiled[0]).html == html.get_content().replace("\r\n", "\n").rstrip("\n")
