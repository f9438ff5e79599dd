"""Where the mail finds its pictures: at the shop's address, where a map says, inside the mail, beside it.

Against: RFC 3986 (addresses), RFC 2392 and 2387 (cid, related) by the standard library's parser, file status.
"""

from __future__ import annotations

import re
from email import message_from_bytes
from email.policy import default
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import handbill
from handbill.cli.main import cli

from .many import campaign, touched
from .workspaces import picture

STACK = """\
  - block: hero
    id: top
    headline: One
    picture: {file: wren.png, alt: A lamp}
  - block: picture
    id: more
    picture: {file: rook.png, alt: Another lamp}
"""
BASE = "https://pictures.pellow.example/"
BRAND = "brands/pellow/brand.yaml"


class Sources(HTMLParser):
    """Every address from which a mail loads something."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name in ("src", "background") and value:
                self.found.append(value)
            if name == "style" and value:
                self.found += re.findall(r"url\(['\"]?([^'\")]+)", value)


def sources(folder: Path) -> set[str]:
    return set(Sources((folder / "email.html").read_text("utf-8")).found)


def base_of(shop: Any) -> str:
    found = re.search(r"^pictures_at: (.+)$", (shop.root / BRAND).read_text("utf-8"), re.MULTILINE)
    assert found
    return found[1].strip().rstrip("/") + "/"


def hosted(shop: Any, rows: str | dict[str, str], file: str = "hosted.csv") -> None:
    text = (shop.root / BRAND).read_text("utf-8")
    if "hosted:" not in text:
        shop.put(BRAND, text + f"hosted: {file}\n")
    if isinstance(rows, dict):
        rows = "file,address\n" + "".join(f"{name},{address}\n" for name, address in rows.items())
    shop.put(f"brands/pellow/{file}", rows)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / "pictures").iterdir())


def test_each_way_leads_to_every_picture(shop: Any) -> None:
    path = shop.campaign(STACK)
    made = handbill.compile(path)
    pictures = names(made.folder)
    assert len(pictures) >= 2
    assert sources(made.folder / "main") == {base_of(shop) + name for name in pictures}
    handbill.compile(path, pictures="relative")
    beside = {(made.folder / "main" / one).resolve() for one in sources(made.folder / "main")}
    assert beside == {made.folder / "pictures" / name for name in pictures}
    files = {name: (made.folder / "pictures" / name).read_bytes() for name in pictures}

    handbill.compile(path, pictures="cid")
    assert not list((made.folder / "pictures").iterdir())
    mail = message_from_bytes((made.folder / "main" / "email.eml").read_bytes(), policy=default)
    related = mail.get_body(("related",))
    assert related is not None
    assert related.get_param("type") == "text/html"  # RFC 2387 §3.1
    parts = {str(one["content-id"]).strip("<>"): one for one in related.iter_attachments()}
    html = related.get_body(("html",))
    assert html is not None
    asked = {one.removeprefix("cid:") for one in Sources(html.get_content()).found}
    assert asked == set(parts)
    assert sorted(one.get_content() for one in parts.values()) == sorted(files.values())


def test_the_folder_to_upload_holds_each_picture_once_under_a_name_of_its_content(shop: Any) -> None:
    one, other = shop.campaign(STACK, name="spring"), shop.campaign(STACK, name="autumn")
    first, second = handbill.compile(one), handbill.compile(other)
    assert names(first.folder) == names(second.folder)
    shop.put("brands/pellow/pictures/wren.png", (shop.root / "brands/pellow/pictures/rook.png").read_bytes())
    assert names(first.folder) != names(handbill.compile(one).folder)


def test_a_map_says_where_each_picture_is(shop: Any) -> None:
    path = shop.campaign(STACK)
    made = handbill.compile(path)
    first, *rest = names(made.folder)
    address = "https://cdn.pellow.example/i/7f3a?w=1200&q=%20"
    hosted(shop, {first: address})
    made = handbill.compile(path)
    assert sources(made.folder / "main") == {address, *(base_of(shop) + name for name in rest)}
    (open_,) = made.hosting
    assert (open_.file, open_.base) == ("brands/pellow/hosted.csv", base_of(shop))
    assert (open_.missing, open_.unknown) == (tuple(rest), ())
    assert handbill.compile(path).hosting == made.hosting  # said again when nothing changed
    for other in ("relative", "cid"):  # there is nothing to look up
        assert handbill.compile(path, pictures=other).hosting == ()  # type: ignore[arg-type]
        assert address not in sources(made.folder / "main")


def test_a_map_may_be_json_and_may_come_from_a_parent(shop: Any) -> None:
    path = shop.campaign(STACK)
    first = names(handbill.compile(path).folder)[0]
    hosted(shop, f'[{{"file": "{first}", "address": "https://cdn.pellow.example/a.png"}}]', "hosted.json")
    shop.put("brands/north/brand.yaml", "handbill: 1\nbrand: north\nextends: pellow\n")
    made = handbill.compile(path, brand="north")
    assert "https://cdn.pellow.example/a.png" in sources(made.variants[0].folder)


def test_what_a_map_leaves_open_is_told(shop: Any) -> None:
    path = shop.campaign(STACK)
    kept, lost = names(handbill.compile(path).folder)[:2]
    hosted(shop, {kept: "https://cdn.pellow.example/a.png", "gone-0123456789ab.png": "https://x.example/b"})
    said = CliRunner().invoke(cli, ["compile", str(path)]).stderr.splitlines()
    assert "hosted.csv: no address for 2 pictures of spring, sought at" in said[0]
    assert lost in said[0]
    assert base_of(shop) in said[0]
    assert said[1].endswith(" has: gone-0123456789ab.png")
    json = CliRunner().invoke(cli, ["compile", str(path), "--format", "json"]).stdout
    assert '"unknown": [\n            "gone-0123456789ab.png"' in json.replace("\r", "")


def test_only_mails_whose_addresses_changed_are_written_again(shop: Any) -> None:
    """The variant `short` has a picture of its own; its address alone is new."""
    shop.put("brands/pellow/pictures/crow.png", picture(40, 20))
    path = campaign(shop)
    text = path.read_text("utf-8").replace(
        "short: {drop: [more]}", "short: {set: {top.picture.file: crow.png}}"
    )
    path.write_text(text, "utf-8")
    made = handbill.compile(path)
    short, plain = (sources(made.folder / f"arm={arm},wording=plain") for arm in ("short", "control"))
    (address,) = short - plain
    own = address.rpartition("/")[2]
    hosted(shop, "file,address\n")
    handbill.compile(path)
    before = touched(made.folder)
    hosted(shop, {own: "https://cdn.pellow.example/rook.png"})
    again = handbill.compile(path)
    written = {one.id for one in again.variants if one.written}
    assert written == {one.id for one in again.variants if one.id.startswith("arm=short")}
    after = touched(made.folder)
    changed = {name for name in after if after[name] != before.get(name)}
    assert {Path(name).parts[0] for name in changed} == written
    assert {Path(name).name for name in changed} == {"email.html", "email.eml", "manifest.json"}


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("http://cdn.pellow.example/a.png", "is loaded by http; expected https, which no reader blocks"),
        ("cdn.pellow.example/a.png", "is not a web address; expected https:// and a host before the path"),
        ("https:///a.png", "is not a web address; expected https:// and a host before the path"),
        ("https://[a/b.png", "is not a web address; expected https:// and a host before the path"),
        ("https://cdn.pellow.example/a b.png", "holds what no address may; expected spaces and quotes as"),
        ("https://cdn.pellow.example/a).png", "holds what no address may; expected spaces and quotes as"),
        ("https://cdn.pellow.example/ä.png", "holds what no address may; expected spaces and quotes as"),
        ("", "no address; expected such as https://"),
    ],
)
def test_a_wrong_address_is_one_line(shop: Any, address: str, said: str) -> None:
    hosted(shop, f"file,address\nwren-0123456789ab.png,{address}\n")
    (line,) = shop.mistakes(STACK)
    assert line.startswith("brands/pellow/hosted.csv:2:23: row 2, address: ")
    assert said in line


@pytest.mark.parametrize(
    ("rows", "line"),
    [
        ("name,address\n", "brands/pellow/hosted.csv:1:1: no column for file; expected file, address"),
        (
            "file,address\na.png,https://x.example/1\na.png,https://x.example/2\n",
            "brands/pellow/hosted.csv:3:1: row 3, file: a.png has another address at line 2; "
            "expected one address",
        ),
        (
            "file,address\n,https://x.example/1\n",
            "brands/pellow/hosted.csv:2:1: row 2, file: no file; "
            "expected a finished picture's name, as in out/",
        ),
    ],
)
def test_a_wrong_map_is_one_line(shop: Any, rows: str, line: str) -> None:
    hosted(shop, rows)
    assert shop.mistakes(STACK) == [line]


def test_a_map_that_is_not_there_is_told_at_its_field(shop: Any) -> None:
    shop.put(BRAND, (shop.root / BRAND).read_text("utf-8") + "hosted: hosted.csv\n")
    (line,) = shop.mistakes(STACK)
    assert line.startswith("brands/pellow/brand.yaml:")
    assert "hosted: no such file: hosted.csv" in line


OVER = """\
  - block: story
    layout: over
    copy_on: picture
    headline: Hardly
    copy: To be read.
    picture: {file: wren.png, decorative: true}
"""


def test_preflight_finds_a_picture_wherever_it_is_hosted(shop: Any) -> None:
    """Copy on a picture is judged by the picture's own pixels."""
    path = shop.campaign(OVER)
    found = names(handbill.compile(path).folder)

    def findings() -> str:  # without the readings: a longer address makes a larger mail
        return CliRunner().invoke(cli, ["preflight", str(path)]).stdout.partition("\nreadings\n")[0]

    before = findings()
    assert "contrast-picture" in before
    hosted(shop, {name: f"https://cdn.pellow.example/{at}?w=9&f=auto" for at, name in enumerate(found)})
    assert findings() == before
