"""Writing: what stands in which file, in which order, and what is never touched.

The eml is read by the standard library; RFCs are named beside the checks.
"""

from __future__ import annotations

import json
import re
from datetime import datetime
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from email.utils import parsedate_to_datetime
from html import unescape
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from handbill.base.errors import MistakesError
from handbill.write import store

HERO = "  - block: hero\n    headline: One\n    layout: over\n    picture: {file: wren.png, alt: A lamp}\n"
HERO += "    button: {label: Go, link: '/go?r=${recipient.ref}'}\n"
COPY = "  - block: copy\n    headline: Two – ümlaut\n"
COPY += "    copy: 'Read [on](/a?x=1&y=2) or [leave](${link.unsubscribe}).'\n"
STACK = HERO + COPY


def parsed(eml: bytes) -> EmailMessage:
    message = message_from_bytes(eml, policy=default)
    assert isinstance(message, EmailMessage)
    assert not message.defects
    return message


def part(eml: bytes, kind: str) -> str:
    body = parsed(eml).get_body((kind,))
    assert body is not None
    content = body.get_content()
    assert isinstance(content, str)
    return content


def tree(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


# -- the manifest


def test_byte_ranges_are_the_sections(shop: Any) -> None:
    made = shop.compile(STACK)
    html = (made.folder / "email.html").read_bytes()
    listed = json.loads((made.folder / "manifest.json").read_bytes())["sections"]
    assert [(one["id"], one["source"]) for one in listed] == [
        ("hero", "campaigns/spring.yaml:7:5"),
        ("copy", "campaigns/spring.yaml:12:5"),
        ("footer-nav", "campaigns/spring.yaml:15:5"),
    ]
    ends = [one["bytes"] for one in listed]
    pieces = [html[start:end] for start, end in ends]
    assert all(piece.startswith(b"<tr><td ") and piece.endswith(b"</td></tr>\n") for piece in pieces)
    assert [before[1] for before in ends[:-1]] == [after[0] for after in ends[1:]]
    assert "Two – ümlaut".encode() in pieces[1]
    assert b"Unsubscribe" in pieces[2]
    assert html[: ends[0][0]].endswith(b">\n")
    assert html[ends[-1][1] :].lstrip().startswith(b"</table>")


def test_links_are_those_in_the_html(shop: Any) -> None:
    made = shop.compile(STACK)
    listed = made.built.manifest["links"]
    html = made.built.html.decode()
    hrefs = {unescape(href) for href in re.findall(r'<a [^>]*href="([^"]*)"', html)}
    plain = {one["address"] for one in listed if "{{" not in one["address"]}
    assert plain == {href for href in hrefs if "{{" not in href}
    assert {"section": "copy", "address": "https://pellow.example/a?x=1&y=2&from=letter&part=copy"} in listed
    tagged = [one for one in listed if "recipient.ref" in one["address"]]
    assert tagged[0]["section"] == "hero"
    # as in the text part: the tag is the one for URLs, without the HTML's character references
    assert tagged[0]["address"] in made.built.text.decode()
    assert len({(one["section"], one["address"]) for one in listed}) == len(listed)


def test_the_rest_of_the_manifest(shop: Any) -> None:
    made = shop.compile(STACK, "preheader: For ${recipient.first_name}")
    manifest = made.built.manifest
    assert manifest["headers"]["From"] == "Pellow <letters@pellow.example>"
    assert "link.unsubscribe" in manifest["headers"]["List-Unsubscribe"]
    assert manifest["headers"]["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert "recipient.first_name" in manifest["preheader"]
    assert manifest["sizes"]["html"] == len((made.folder / "email.html").read_bytes())
    assert manifest["sizes"]["eml"] == len((made.folder / "email.eml").read_bytes())
    names = {path.name for path in (made.folder.parent / "pictures").iterdir()}
    assert {one["file"] for one in manifest["pictures"]} == names
    sizes = sum(len(data) for data in tree(made.folder.parent / "pictures").values())
    assert manifest["sizes"]["pictures"] == sizes
    whole = json.loads((made.folder.parent / "manifest.json").read_bytes())
    assert whole["variants"] == [{"id": "main", "pictures": sorted(names)}]


# -- the eml


def test_the_date_is_in_the_shops_zone(shop: Any) -> None:
    for send, offset in (("2027-01-15T08:00", "+0000"), ("2027-07-15T08:00", "+0100")):
        date = str(parsed(shop.compile(STACK, f"send: {send}").built.eml)["Date"])
        assert date.endswith(offset)
        assert parsedate_to_datetime(date) == datetime.fromisoformat(send).replace(
            tzinfo=ZoneInfo("Europe/Dublin")
        )


def test_the_message_id_follows_the_content(shop: Any) -> None:
    def made(stack: str, head: str = "") -> str:
        return str(parsed(shop.compile(stack, head).built.eml)["Message-ID"])

    first = made(STACK)
    assert re.fullmatch(r"<[0-9a-f]{16,}@pellow\.example>", first)
    assert made(STACK) == first
    assert len({first, made(COPY), made(STACK, "subject: Other"), made(STACK, "send: 2027-01-16T08:00")}) == 4


def test_a_long_unsubscribe_link_survives_as_it_is(shop: Any) -> None:
    # RFC 2369 section 2 and RFC 5322 section 2.1.1: one long token cannot be folded, nor may it be encoded
    link = "https://pellow.example/stop?reader=" + "ab12-" * 60
    shop.change("handbill.yaml", "https://pellow.example/stop?reader=ida", link)
    eml = shop.compile(STACK).built.eml
    head = eml.partition(b"\r\n\r\n")[0]
    unfolded = [line.split(None, 1) for line in re.sub(rb"\r\n(?=[ \t])", b"", head).decode().split("\r\n")]
    assert ["List-Unsubscribe:", f"<{link}>"] in unfolded
    assert ["List-Unsubscribe-Post:", "List-Unsubscribe=One-Click"] in unfolded  # RFC 8058 section 3.1


def test_the_sample_is_filled_in(shop: Any) -> None:
    eml = shop.compile(STACK, "subject: Hi ${recipient.first_name}").built.eml
    assert parsed(eml)["Subject"] == "Hi Ida"
    assert parsed(eml)["To"].addresses[0].addr_spec == "ida@reader.example"
    for kind in ("html", "plain"):
        assert "{{" not in part(eml, kind)
        assert "/go?r=a%20b" in part(eml, kind)


# -- pictures


def test_cid_mail_carries_its_pictures(shop: Any) -> None:
    made = shop.compile(STACK, pictures="cid")
    eml = made.built.eml
    message = parsed(eml)
    assert message.get_content_type() == "multipart/alternative"
    text, related = message.iter_parts()
    assert text.get_content_type() == "text/plain"
    # RFC 2387 section 3.1: the type of the root stands in the head of multipart/related
    assert related.get_content_type() == "multipart/related"
    assert related.get_param("type") == "text/html"
    root, *inline = related.iter_parts()
    html = root.get_content()
    wanted = set(re.findall(r'src="cid:([^"]+)"', html))
    assert wanted == {str(one["Content-ID"]).strip("<>") for one in inline}  # RFC 2392 section 2
    assert len(inline) == len(made.mail.plans) == len(wanted)
    assert all(one.get_content().startswith((b"\x89PNG", b"\xff\xd8")) for one in inline)
    # a background does not show by cid in a reader of ours, and brings up its warning
    assert "background-image" not in html
    assert "background=" not in html
    assert "pictures.pellow.example" not in eml.decode("ascii") + made.built.html.decode()
    assert not list((made.folder.parent / "pictures").iterdir())


def test_relative_pictures_lie_beside_the_mail(shop: Any) -> None:
    made = shop.compile(STACK, pictures="relative")
    sources = re.findall(r'src="([^"]+)"', made.built.html.decode())
    assert sources
    assert all((made.folder / source).resolve().is_file() for source in sources)
    assert "pictures.pellow.example" not in made.built.html.decode()


def test_hosted_pictures_have_whole_addresses(shop: Any) -> None:
    html = shop.compile(STACK).built.html.decode()
    sources = re.findall(r'(?:src|background)="([^"]+)"', html)
    assert sources
    assert all(source.startswith("https://pictures.pellow.example/letters/") for source in sources)
    assert "background=" in html


# -- the order of writing, and what stays


def test_a_run_that_breaks_off_leaves_everything_as_it_was(
    shop: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.compile(STACK, brand="pellow")
    campaign = shop.compile(COPY).folder.parent
    before = tree(campaign)
    write = store.write

    def full(path: str, data: bytes) -> None:
        if path.endswith("email.txt"):
            raise OSError(28, "No space left on device", path)
        write(path, data)

    monkeypatch.setattr(store, "write", full)
    with pytest.raises(MistakesError, match=r"out: spring/.*/main/email.txt cannot be written: No space"):
        shop.compile(STACK)
    assert tree(campaign) == before
    monkeypatch.setattr(store, "write", write)
    shop.compile(COPY, brand="pellow")
    listed = json.loads((campaign / "manifest.json").read_bytes())["variants"]
    assert [one["id"] for one in listed] == ["brand=pellow", "main"]


def test_only_files_that_a_manifest_lists_are_deleted(shop: Any) -> None:
    made = shop.compile(STACK)
    pictures = made.folder.parent / "pictures"
    hero = next(name for name in tree(pictures) if name.startswith("wren"))
    (pictures / "mine.png").write_bytes(b"mine")
    (made.folder / "notes.txt").write_text("mine")
    shop.compile(COPY)
    assert hero not in tree(pictures)
    assert (pictures / "mine.png").read_bytes() == b"mine"
    assert (made.folder / "notes.txt").read_text() == "mine"


def test_another_variants_pictures_are_kept(shop: Any) -> None:
    shop.compile(STACK, brand="pellow")
    made = shop.compile(STACK)
    shop.compile(COPY)
    assert any(name.startswith("wren") for name in tree(made.folder.parent / "pictures"))
    shop.compile(COPY, brand="pellow")
    assert not any(name.startswith("wren") for name in tree(made.folder.parent / "pictures"))


@pytest.mark.parametrize("name", ["../../keep.txt", "..", "/etc/hosts", "", "a/b.png", ".hidden"])
def test_a_manifest_cannot_reach_outside(shop: Any, name: str) -> None:
    made = shop.compile(STACK)
    keep = shop.put("out/keep.txt", "mine")
    hidden = shop.put("out/spring/pictures/.hidden", "mine")
    manifest = made.folder.parent / "manifest.json"
    manifest.write_text(
        json.dumps({"variants": [{"id": "main", "pictures": [name]}, {"id": "..", "pictures": []}]})
    )
    shop.compile(COPY)
    assert keep.read_text() == hidden.read_text() == "mine"
    assert [one["id"] for one in json.loads(manifest.read_bytes())["variants"]] == ["main"]


@pytest.mark.parametrize(
    "damage", [b"", b"[]", b'{"variants": 3}', b'{"variants": [3, {"id": 1}]}', b"\xff", b"[" * 9000]
)
def test_a_damaged_manifest_is_none(shop: Any, damage: bytes) -> None:
    made = shop.compile(STACK)
    (made.folder.parent / "manifest.json").write_bytes(damage)
    before = tree(made.folder)
    shop.compile(STACK)
    assert tree(made.folder) == before


@pytest.mark.parametrize("link", ["out", "out/spring", "out/spring/main", "out/spring/pictures"])
def test_links_are_not_followed(shop: Any, tmp_path: Path, link: str) -> None:
    target = tmp_path / "elsewhere"
    target.mkdir()
    path = shop.root / link
    path.parent.mkdir(parents=True, exist_ok=True)
    path.symlink_to(target)
    with pytest.raises(MistakesError, match="is a link"):
        shop.compile(STACK)
    assert not list(target.iterdir())


def test_a_link_in_place_of_a_picture_is_replaced(shop: Any, tmp_path: Path) -> None:
    made = shop.compile(STACK)
    path = next((made.folder.parent / "pictures").iterdir())
    before = path.read_bytes()
    (tmp_path / "other").write_bytes(b"other")
    path.unlink()
    path.symlink_to(tmp_path / "other")
    shop.compile(STACK)
    assert not path.is_symlink()
    assert path.read_bytes() == before
    assert (tmp_path / "other").read_bytes() == b"other"


def test_nothing_of_a_second_run_differs(shop: Any) -> None:
    made = shop.compile(STACK)
    before = tree(made.folder.parent)
    shop.compile(STACK)
    assert tree(made.folder.parent) == before
    assert not [name for name in before if name.endswith(".part")]
