"""Bad input through the command: each mistake is one clear line with its place, exit 2, nothing written."""

# ruff: noqa: E501 - messages are compared whole, on one line

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from tests.workspaces import BRAND, FOOT, HEAD, PRODUCTS, block, compile_files, make, picture

Files = dict[str, Any]
C, B, P = "campaigns/x.yaml", "brands/orrowby/brand.yaml", "brands/orrowby/products.csv"
J = "library/blocks/jotting"


def stack(text: str) -> Files:
    """A campaign whose stack goes on at line 9."""
    return {C: HEAD + text + FOOT}


def head(old: str, new: str) -> Files:
    assert old in HEAD
    return {C: HEAD.replace(old, new) + FOOT}


def brand(old: str, new: str) -> Files:
    assert old in BRAND
    return {B: BRAND.replace(old, new)}


def jotting(**parts: str | None) -> Files:
    return {**block(J, **parts), C: HEAD + "  - {block: jotting, words: Hello}\n" + FOOT}


CASES: list[tuple[str, Files, list[str]]] = []


def case(name: str, files: Files, *lines: str) -> None:
    CASES.append((name, files, list(lines)))


# --- load
case(
    "YAML syntax", {C: HEAD + "  - block: [\n"}, f"{C}:10:1: YAML syntax: did not find expected node content"
)
case(
    "fact in a flow mapping",
    stack("  - {block: copy, copy: ${offer.ends:date}}\n"),
    f"{C}:9:26: YAML syntax: did not find expected ',' or '}}'; a value that holds ${{…}} needs quotes inside {{ }}, [ ] and before ': '",
)
case(
    "duplicate key",
    head("subject: Last days", "subject: Last days\nsubject: Again"),
    f"{C}:6:1: 'subject' is written twice (first at line 5)",
)
case("empty file", {C: ""}, f"{C}:1:1: the file is empty")
case("list at the root", {C: "- block: copy\n"}, f"{C}:1:1: the file is not a mapping; expected name: value")
case("binary junk", {C: b"\x89PNG\r\n\x1a\n\x00\xff"}, f"{C}:1:1: not UTF-8; expected a file saved as UTF-8")
case(
    "huge file",
    {C: HEAD + "#" * (1 << 20)},
    f"{C}: the file has {len(HEAD) + (1 << 20):,} bytes, more than the 1,048,576 allowed",
)
case("deep nesting", {C: "a: " + "[" * 5000}, f"{C}:1:1003: YAML syntax: exceeded maximum nesting depth")
case(
    "tab",
    {C: "handbill: 1\n\tcampaign: x\n"},
    f"{C}:2:1: YAML syntax: a tab indents this line; expected spaces",
)
case(
    "Windows line ends",
    {C: (HEAD + "  - block: coppy\n" + FOOT).replace("\n", "\r\n")},
    f"{C}:9:12: stack[1] coppy: no block coppy; expected one of *; nearest: copy",
)
case(
    "a folder named as a file",
    {C: None, "campaigns/x.yaml/y": "x"},
    f"{C}: a folder, not a campaign; expected *",
)
case("missing file", {C: None}, f"{C}: no such file")
case("empty brand.yaml", {B: ""}, f"{B}:1:1: the file is empty")
case(
    "format version",
    head("handbill: 1", "handbill: 2"),
    f"{C}:1:11: handbill: format version 2 is not one this handbill reads; expected handbill: 1",
)
case(
    "workspace version",
    {"handbill.yaml": "handbill: 9\n"},
    "handbill.yaml:1:11: handbill: format version 9 is not one this handbill reads; expected handbill: 1",
)
case(
    "library outside",
    {"handbill.yaml": "handbill: 1\nlibrary: ../x\n"},
    "handbill.yaml:2:10: library: ../x leaves the workspace; expected a path inside the workspace",
)
case("CSV row", {P: PRODUCTS + "K-103,Beck,many,,one.png,A pan,/beck\n"}, f"{P}:4:12: row 4, price: *")
case(
    "a code with percent and amount",
    head("{kind: markdown, ends: 2027-01-17T23:59}", "{kind: code, code: SUN, percent: 10, amount: 5}"),
    f"{C}:6:53: offer.amount: a code takes off a percent or an amount, not both; expected one of the two",
)
case(
    "unknown brand",
    head("orrowby", "orowby"),
    f"{C}:3:8: brand: no brand orowby; expected one of orrowby; nearest: orrowby",
)
case(
    "circular extends",
    {B: BRAND + "extends: fell\n", "brands/fell/brand.yaml": "handbill: 1\nbrand: fell\nextends: orrowby\n"},
    "brands/fell/brand.yaml:3:10: extends: brands extend each other in a circle: orrowby → fell → orrowby",
)

# --- campaign and brand
case(
    "variants",
    head("offer:", "variants: {}\noffer:"),
    f"{C}:6:11: variants: this names no variants; expected axes: or named: below variants:",
)
case(
    "unknown campaign field",
    head("subject:", "subjet:"),
    f"{C}:1:1: subject: subject is missing",
    f"{C}:5:1: subjet: unknown field subjet; expected one of *; nearest: subject",
)
case(
    "not a moment",
    head("2027-01-15T08:00", "2027-02-30T08:00"),
    f"{C}:4:7: send: '2027-02-30T08:00' is not a date and time; expected such as 2027-01-15T08:00",
)
case(
    "unknown offer kind",
    head("kind: markdown", "kind: markdwn"),
    f"{C}:6:8: offer: 'markdwn' is not a choice; expected one of markdown, code; nearest: markdown",
)
case(
    "unknown offer field",
    {
        C: HEAD.replace("{kind: markdown, ends: 2027-01-17T23:59}", "{kind: code, code: WARM, percnt: 9}")
        + FOOT
    },
    f"{C}:6:33: offer.percnt: unknown field percnt; expected one of *; nearest: percent",
)
case(
    "header with a line break",
    head("subject: Last days", 'subject: "Last\\ndays"'),
    f"{C}:5:10: subject: the subject takes no line break; expected one line",
)
case(
    "sender with a line break",
    brand("name: Orrowby,", 'name: "Or\\nrowby",'),
    f"{B}:8:9: sender: *line break*",
)
case(
    "unknown colour role",
    brand('title: "#ffffff"', 'titel: "#ffffff"'),
    f"{B}:13:45: tones.ink.titel: unknown colour role titel; expected one of *; nearest: title",
)
case(
    "colour in a circle",
    brand("tones:", "colours: {title: text, text: title}\ntones:"),
    f"{B}:12:24: colours.text: colours borrow in a circle: text → title → text",
)
case(
    "font stack",
    brand("tones:", 'type: {title: {face: "Arial; } x"}}\ntones:'),
    f"{B}:12:22: type.title.face: 'Arial; }} x' is not a font stack; expected families such as Georgia, 'Times New Roman', serif",
)
case(
    "currency",
    brand("timezone:", "currency: euro\ntimezone:"),
    f"{B}:7:11: currency: 'euro' is not a currency; expected an ISO 4217 code such as EUR",
)
case(
    "time zone",
    brand("Europe/Dublin", "Europe/Dubin"),
    f"{B}:7:11: timezone: no time zone Europe/Dubin; expected *; nearest: Europe/Dublin",
)
case(
    "brand in the wrong folder",
    brand("brand: orrowby", "brand: orow"),
    f"{B}:2:1: brand: brand orow lives in the folder orrowby; expected orrowby",
)
case(
    "block of no such name in brand.yaml",
    brand("tones:", "blocks: {coppy: {above: 3}}\ntones:"),
    f"{B}:12:10: blocks.coppy: no block coppy; nearest: copy",
)
case(
    "measure of no such name",
    brand("tones:", "blocks: {copy: {abov: 3}}\ntones:"),
    f"{B}:12:17: blocks.copy.abov: block copy has no measure or choice abov; expected one of *; nearest: above",
)

# --- expand
case(
    "empty stack",
    {C: HEAD.partition("stack:")[0] + "stack: []\n"},
    f"{C}:7:8: stack: the stack holds no section; expected - block: name",
)
case(
    "stack is a mapping",
    {C: HEAD.partition("stack:")[0] + "stack: {block: copy}\n"},
    f"{C}:7:8: stack: the stack is a list of sections; expected - block: name",
)
case(
    "section without a block",
    stack("  - blok: copy\n"),
    f"{C}:9:5: stack[1]: a section names its block; expected block: or standing:; nearest: blok → block",
)
case(
    "unknown block",
    stack("  - block: product-stak\n"),
    f"{C}:9:12: stack[1] product-stak: no block product-stak; expected one of *; nearest: product-stack",
)
case(
    "unknown standing section",
    {**stack("  - standing: footr\n"), "library/standing/footer.yaml": "block: copy\ncopy: x\n"},
    f"{C}:9:15: stack[1] footr: no standing section footr; expected one of *; nearest: footer",
)
case(
    "circular standing",
    {
        **stack("  - standing: aa\n"),
        "library/standing/aa.yaml": "standing: bb\n",
        "library/standing/bb.yaml": "standing: aa\n",
    },
    "library/standing/bb.yaml:1:11: stack[1] aa bb aa: standing sections contain each other in a circle: aa → bb → aa",
)
case(
    "id used twice",
    stack("  - {block: copy, copy: x, id: one}\n  - {block: copy, copy: x, id: one}\n"),
    f"{C}:10:32: stack[2] copy: the id one is used twice; expected another id (first at {C}:9:32)",
)
case(
    "id is no name",
    stack("  - {block: copy, copy: x, id: One.two}\n"),
    f"{C}:9:32: stack[1] copy, id: 'One.two' is not a name; expected lower-case letters, digits and hyphens, a letter first",
)
case(
    "set on a block",
    stack("  - {block: copy, copy: x, set: {a: b}}\n"),
    f"{C}:9:28: stack[1] copy: set belongs to a standing section; expected the field itself, field: value",
)
case(
    "when",
    stack("  - {block: copy, copy: x, when: vip}\n"),
    f"{C}:9:34: stack[1] copy: when: vip is not a recipient field; expected when: recipient.name",
)

# --- validate, resolve
case(
    "unknown field",
    stack("  - {block: copy, coppy: x, copy: x}\n"),
    f"{C}:9:19: stack[1] copy, coppy: unknown field coppy; expected one of *; nearest: copy",
)
case(
    "unknown field of an item",
    stack("  - block: product-stack\n    products: [{sku: K-101, layot: feature}]\n"),
    f"{C}:10:29: stack[1] product-stack, products[0].layot: unknown field layot; expected one of *; nearest: layout",
)
case(
    "unknown choice",
    stack("  - {block: copy, copy: x, align: centre}\n"),
    f"{C}:9:35: stack[1] copy, align: 'centre' is not a choice; expected one of start, center; nearest: center",
)
case(
    "unknown tone",
    stack("  - {block: copy, copy: x, tone: inc}\n"),
    f"{C}:9:34: stack[1] copy, tone: 'inc' is not a choice; expected one of base, ink; nearest: ink",
)
case(
    "unknown product",
    stack("  - block: product-stack\n    products:\n      - K-101\n      - K-1O2\n"),
    f"{C}:12:9: stack[1] product-stack, products[1]: no product K-1O2 in {P}; nearest: K-102",
)
case(
    "unknown review",
    stack("  - {block: testimonial, reviews: [R-2]}\n"),
    f"{C}:9:36: stack[1] testimonial, reviews[0]: no review R-2 in brands/orrowby/reviews.csv; nearest: R-1",
)
case(
    "unknown fact", stack('  - {block: copy, copy: "${product.nam}"}\n'), f"{C}:9:25: stack[1] copy, copy: *"
)
case(
    "missing field",
    stack("  - {block: hero, headline: x}\n"),
    f"{C}:9:5: stack[1] hero, picture: picture is missing",
)
case(
    "missing picture",
    stack("  - {block: hero, headline: x, picture: {file: two.png, alt: x}}\n"),
    f"{C}:9:*: stack[1] hero, picture*two.png*",
)
case(
    "unreadable picture",
    {
        **stack("  - {block: hero, headline: x, picture: {file: bad.png, alt: x}}\n"),
        "brands/orrowby/pictures/bad.png": picture()[:20],
    },
    f"{C}:9:*: stack[1] hero, picture*bad.png*",
)
case(
    "picture outside",
    stack("  - {block: hero, headline: x, picture: {file: ../../../../x.png, alt: x}}\n"),
    f"{C}:9:*: stack[1] hero, picture*leaves the workspace*",
)
case(
    "absolute picture",
    stack("  - {block: hero, headline: x, picture: {file: /etc/x.png, alt: x}}\n"),
    f"{C}:9:*: stack[1] hero, picture*absolute path*",
)
case(
    "forbidden link",
    stack('  - {block: copy, copy: x, button: {label: Go, link: "javascript:x"}}\n'),
    f"{C}:9:54: stack[1] copy, button.link: *",
)

# --- blocks: all in one library, so that one compile says all of it
BROKEN: list[tuple[str, dict[str, str | None], str]] = []


def broken(name: str, line: str, **parts: str | None) -> None:
    BROKEN.append((name, parts, line))


YAML = "handbill: 1\nblock: jotting\nabout: x\n"
broken(
    "no text form",
    "block.yaml:1:1: block jotting has no text form; expected block.txt.j2 beside block.yaml",
    txt=None,
)
broken(
    "newer format",
    "block.yaml:1:11: handbill: format version 2 is not one this handbill reads; expected handbill: 1",
    yaml="handbill: 2\nblock: jotting\nabout: x\n",
)
broken(
    "loop over text",
    "block.html.j2:2:1: template: a loop goes over a list, and words is a text",
    html="\n{% for x in words %}<p>{{ x }}</p>{% endfor %}",
)
broken(
    "loop over a range",
    "block.html.j2:1:1: template: a loop goes over a field, plainly; expected {% for item in products %}",
    html="{% for x in range(9) %}a{% endfor %}",
)
broken(
    "reaching outside",
    "block.html.j2:2:1: template: __class__ cannot be reached; expected the name of a field",
    html="<p>\n{{ words.__class__ }}</p>",
)
broken(
    "reaching outside in the text form",
    "block.txt.j2:1:1: template: __class__ cannot be reached; expected the name of a field",
    txt="{{ words.__class__ }}",
)
broken("template syntax", "block.html.j2:1:1: template: *", html="{% if words %}")
broken(
    "script", "block.html.j2:2:2: <script> is not allowed in a block*", html="<p>\n <script>x</script></p>"
)
broken(
    "event",
    "block.html.j2:1:4: onclick is not allowed: mail runs no script",
    html='<p onclick="x">{{ words }}</p>',
)
broken(
    "fixed address",
    "block.html.j2:1:6: src holds a fixed address; expected a field, such as {{ button.link }}",
    html='<img src="https://x.example/p.png" alt="">',
)
broken(
    "text as an address",
    "block.html.j2:1:4: href takes no words; expected the link of a field, such as {{ button.link }}",
    html='<a href="{{ words }}">x</a>',
)
broken(
    "descendants in CSS",
    "block.css:1:1: selector '.a .b' is not allowed; expected classes of one element, such as .title.large",
    css=".a .b { color: red }",
)
broken(
    "url in CSS",
    "block.css:2:3: background: url() is not allowed; expected pictures through the shared macros",
    css=".a {\n  background: url(x.png);\n}",
)
broken(
    "unknown var", "block.css:1:10: unknown var(--txt); nearest: text", css=".words { color: var(--txt); }"
)
broken(
    "unknown type role",
    "block.css:1:10: --type: no type role titel; expected one of *; nearest: title",
    css=".words { --type: titel; }",
)
broken(
    "class by something else",
    "block.html.j2:1:11: class depends on words, which is not a choice; expected *",
    html='<p class="{{ words }}">x</p>',
)
broken(
    "reserved field",
    "block.yaml:4:9: fields: loop is a reserved name; expected another name",
    yaml=YAML + "fields: {words: {type: text}, loop: {type: text}}\n",
)
broken(
    "slot of no such name",
    "block.yaml:6:30: fields.art.slot: slot: no slot row.pic; expected one of *; nearest: row.picture",
    yaml=YAML
    + "fields:\n  words: {type: text}\n  art: {type: picture, slot: row.pic}\nslots: {row: {columns: {picture: rest}}}\n",
)
broken(
    "the wrong folder",
    "block.yaml:2:1: block: block other lives in a folder named *",
    yaml=YAML.replace("jotting", "other"),
    html="x",
    txt="x",
)
case(
    "missing word",
    jotting(
        yaml="handbill: 1\nblock: jotting\nabout: x\nfields: {words: {type: text}}\nwords: {de: {moin: Moin}}\n"
    ),
    "*moin*",
)


@pytest.mark.parametrize(("files", "lines"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_one_clear_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, files: Files, lines: list[str]
) -> None:
    monkeypatch.chdir(make(tmp_path, files))
    made = compile_files(tmp_path)
    assert made.code == 2
    assert made.files == []
    assert len(made.lines) == len(lines), made.lines
    for line, expected in zip(made.lines, lines, strict=True):
        assert matches(line, expected), made.lines


@pytest.fixture(scope="module")
def broken_library(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """What one compile says of every broken block; no block is used by the campaign."""
    files: Files = {}
    for number, (_name, parts, _line) in enumerate(BROKEN):
        made = block(f"library/blocks/b{number}", **parts)
        named = f"library/blocks/b{number}/block.yaml"
        files |= made | {named: (made[named] or b"").replace("block: jotting", f"block: b{number}")}  # type: ignore[arg-type, union-attr]
    root = make(tmp_path_factory.mktemp("broken"), files)
    before = Path.cwd()
    os.chdir(root)
    try:
        made_all = compile_files(root)
    finally:
        os.chdir(before)
    assert (made_all.code, made_all.files) == (2, [])
    assert all(line.startswith("library/blocks/b") for line in made_all.lines)
    return made_all.lines


@pytest.mark.parametrize("number", range(len(BROKEN)), ids=[one[0] for one in BROKEN])
def test_a_broken_block_is_one_clear_line(broken_library: list[str], number: int) -> None:
    folder = f"library/blocks/b{number}/"
    lines = [line.removeprefix(folder) for line in broken_library if line.startswith(folder)]
    expected = BROKEN[number][2].replace("jotting", f"b{number}")
    assert len(lines) == 1, lines
    assert matches(lines[0], expected), lines


def matches(line: str, expected: str) -> bool:
    """Whether `line` is `expected`, where `*` stands for any text."""
    first, *rest = expected.split("*")
    if not line.startswith(first) or (rest and rest[-1] and not line.endswith(rest[-1])):
        return False
    for part in rest:
        if part not in line:
            return False
        line = line[line.index(part) + len(part) :]
    return bool(rest) or line == expected


def test_links_out_of_the_workspace(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    outside = tmp_path / "outside"
    (outside / "pot").mkdir(parents=True)
    (outside / "p.png").write_bytes(picture())
    root = make(tmp_path / "w", stack("  - {block: hero, headline: x, picture: {file: p.png, alt: x}}\n"))
    monkeypatch.chdir(root)
    os.symlink(outside / "p.png", root / "brands/orrowby/pictures/p.png")
    made = compile_files(root)
    assert (made.code, made.files, len(made.lines)) == (2, [], 1)
    assert "passes through a link (brands/orrowby/pictures/p.png)" in made.lines[0]
    (root / "library").mkdir()
    os.symlink(outside, root / "library/blocks")
    assert (
        compile_files(root).lines[0].startswith("library/blocks: is a link; expected a real file or folder")
    )
    (root / "library/blocks").unlink()
    os.symlink(root / C, root / "campaigns/y.yaml")
    assert compile_files(root, "campaigns/y.yaml").lines == [
        "campaigns/y.yaml: campaigns/y.yaml passes through a link (campaigns/y.yaml); expected a real file or folder"
    ]


def test_the_small_workspace_itself_compiles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(make(tmp_path, {C: (HEAD + FOOT).replace("\n", "\r\n"), **block(J)}))
    made = compile_files(tmp_path)
    assert (made.code, made.lines) == (0, [])
    assert "x/main/email.html" in made.files


def test_all_mistakes_at_once_and_the_other_campaigns_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bad = "  - {block: coppy}\n  - {block: copy, copy: x, align: left}\n  - standing: none\n  - {block: copy, copy: x, id: A}\n"
    good = (HEAD + FOOT).replace("campaign: x", "campaign: good")
    monkeypatch.chdir(make(tmp_path, {**stack(bad), "campaigns/good.yaml": good}))
    made = compile_files(tmp_path, C, "campaigns/good.yaml")
    assert [line.split(" ")[0] for line in made.lines] == [
        f"{C}:{place}:" for place in ("9:13", "10:35", "11:15", "12:32")
    ]
    assert made.code == 2
    assert {name.split("/")[0] for name in made.files} == {"good"}


def test_mistakes_as_data_say_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import json

    monkeypatch.chdir(make(tmp_path, stack("  - {block: copy, copy: x, align: centre}\n")))
    made = compile_files(tmp_path, options=("--format", "json"))
    (mistake,) = json.loads(made.output)["mistakes"]
    assert made.code == 2
    assert mistake == {
        "file": C, "line": 9, "column": 35, "path": "stack[1] copy, align", "message": "'centre' is not a choice",
        "expected": "one of start, center", "nearest": "center",
    }  # fmt: skip
