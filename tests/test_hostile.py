"""Hostile words in every field of every block's sample, and in the shop's own rows, stay where they belong.

Sources: the HTML standard's parser (html5lib, WHATWG HTML section 13.2), which must build the same elements
for hostile words as for harmless ones; RFC 5322 section 2.2 (no line break in a header field); RFC 3986
section 3.1 (schemes); the template languages' own engines (jinja2, python-liquid, chevron).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from email import message_from_bytes
from email.policy import default
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import chevron
import html5lib
import jinja2
import liquid
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.composing import Change, Spot, document, every_sample, mapping, rendered, resolved, rewrite, specs
from tests.workspaces import make

from handbill.apps.samples import has_sample, sample_sections, visible
from handbill.base.cache import Cache
from handbill.base.errors import Mistake, MistakesError
from handbill.base.source import Doc, Node, make_scalar, make_sequence, put
from handbill.library.find import blocks
from handbill.loader import Loader
from handbill.pipeline import render
from handbill.render.render import Piece

NAMES = sorted(found.name for found in blocks(()).values() if has_sample(found))
HARMLESS = "plain words"
# A long word is as long as its field allows; 10,000 letters where it sets no limit.
LONG = "l" * 10_000
MARKUP = (
    '"><script>alert(1)</script>', "</td></tr></table>", "<!--", "--> <b onclick=x()>", "<![endif]-->", "]]>",
    "' style='x:expression(1)", "&lt;i&gt; &#60;", "</title><style>*{}", "</a>", "<img src=x onerror=x>",
    "` onmouseover=x `", "\\", "%0d%0aBcc: x@y.example", "= =?utf-8?q?x?=", "-- ", "a > b < c & d",
)  # fmt: skip
TAGS = (
    "{{ x }}", "{{{x}}}", "{% raw %}", "{% endraw %}", "{#x#}", "{{#if x}}", "{{/if}}", "{{!x}}", "{{> x}}",
    "{{=<% %>=}}", "{%- assign x = 1 -%}", "\\{{x}}", "{{", "}}", "{", "$${x}", "$$${", "{{ recipient }}",
)  # fmt: skip
UNICODE = (
    "\u202eback\u202c", "\u2066אב\u2069", "\u200f", "مرحبا 12", "👩🏽‍🚒🏳️‍🌈",
    "e\u0301\u0301\u0301", "\u00ad\u200b", "ﷺ", "\t",
)  # fmt: skip
HOSTILE = st.lists(st.sampled_from((*MARKUP, *TAGS, *UNICODE, LONG)), min_size=1, max_size=3).map(" x ".join)
CONTROL = ("\x00", "\x07", "\x0b", "\x1b", "\x7f", "\x85", "\u2028", "\ufdd0", "\ufffe")


@pytest.fixture(scope="module")
def loader(tmp_path_factory: pytest.TempPathFactory) -> Loader:
    return workspace(tmp_path_factory.mktemp("shop"))


def workspace(root: Path, dialect: str = "jinja", files: Mapping[str, str | None] | None = None) -> Loader:
    """A shop without tones or pictures of its own, so that the sample shop stands in."""
    head = f"handbill: 1\ndialect: {dialect}\nfields: {{first_name: {{}}}}\n"
    whole: dict[str, str | bytes | None] = {
        "handbill.yaml": head,
        "brands/orrowby/products.csv": None,
        "brands/orrowby/reviews.csv": None,
        "brands/orrowby/brand.yaml": BRAND,
        **(files or {}),
    }
    return Loader(make(root, whole), Cache())


BRAND = """\
handbill: 1
brand: orrowby
name: Orrowby
site: https://orrowby.example
pictures_at: https://pictures.orrowby.example/
languages: [en-IE]
timezone: Europe/Dublin
sender: {name: Orrowby, address: letters@orrowby.example}
postal_address: 4 Tin Lane, Harrowmere
"""


def fits(spot: Spot, text: str) -> str:
    """`text` cut to what its field takes; never empty, never ending inside a `$${`."""
    return (text.strip()[: spot.most].rstrip().rstrip("$") if spot.most else text) or "x"


def with_texts(section: Node, known: Any, say: Change) -> Node:
    """Every field of words; links stay, and so do quotes, which must stand in the review."""

    def change(spot: Spot, text: str) -> str:
        return text if spot.kind == "link" or spot.way[-1] == "quote" else fits(spot, say(spot, text))

    return rewrite(section, known, change)


@cache
def known_specs(root: Path) -> Mapping[str, Any]:
    return specs(Loader(root, Cache()), "orrowby")


def sample(loader: Loader, name: str, say: Change) -> list[Node]:
    found = visible(loader, "orrowby")[name]
    return [with_texts(node, known_specs(loader.root), say) for node in sample_sections(loader, found)]


def footed(sections: Sequence[Node]) -> Doc:
    like = document("orrowby", []).root
    return document("orrowby", [*sections, mapping({"block": "footer-nav"}, like)])


def compiled(loader: Loader, sections: Sequence[Node]) -> tuple[Piece, ...]:
    made, _whole = rendered(resolved(loader, footed(sections)))
    return made[: len(sections)]


#: What copy may turn into; a paragraph's own marks are the author's right.
COPY_TAGS = {"p", "strong", "em", "ul", "ol", "li", "br"}


def elements(html: str) -> list[tuple[str, tuple[str, ...]]]:
    """The elements that the HTML standard's parser builds of a section, and their attributes' names."""
    tree = html5lib.parseFragment(html, container="tbody", namespaceHTMLElements=False)
    return [(one.tag, tuple(sorted(map(str, one.attrib)))) for one in tree.iter() if isinstance(one.tag, str)]


def shown(html: str) -> str:
    tree = html5lib.parseFragment(html, container="tbody", namespaceHTMLElements=False)
    return "".join(
        (one.text or "") * isinstance(one.tag, str) + (one.tail or "")
        for one in tree.iter()
        if one is not tree
    )


def hrefs(html: str) -> Iterator[str]:
    tree = html5lib.parseFragment(html, container="tbody", namespaceHTMLElements=False)
    for one in tree.iter():
        for name in ("href", "src", "background", "action", "formaction"):
            if one.get(name):
                yield one.get(name)


_harmless: dict[tuple[Path, str], list[Any]] = {}


def harmless(loader: Loader, name: str) -> list[Any]:
    """The elements of a sample whose words are all harmless."""
    key = loader.root, name
    if key not in _harmless:
        calm = sample(loader, name, lambda _spot, _text: HARMLESS)
        _harmless[key] = [elements(piece.html) for piece in compiled(loader, calm)]
    return _harmless[key]


def attempt(work: Callable[[], Any]) -> tuple[Any, Sequence[Mistake]]:
    """What comes of it, or what is wrong."""
    try:
        return work(), ()
    except MistakesError as error:
        return None, error.mistakes


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=12)
@given(data=st.data())
def test_words_build_no_elements(loader: Loader, name: str, data: st.DataObject) -> None:
    """WHATWG HTML section 13.2: the tree is that of harmless words, whatever stands in the fields."""
    texts: list[str] = []

    def say(_spot: Spot, _text: str) -> str:
        texts.append(data.draw(HOSTILE))
        return texts[-1]

    pieces = compiled(loader, sample(loader, name, say))
    assert [elements(piece.html) for piece in pieces] == harmless(loader, name)
    for piece in pieces:
        assert "<script" not in piece.html
        assert all(urlsplit(href).scheme in ("https", "") for href in hrefs(piece.html))


@pytest.mark.parametrize("text", ["<b>x</b>", "</td></tr></table>x", "<img src=x onerror=x>"])
def test_the_tree_does_tell(text: str) -> None:
    """Unescaped, each of these would change it."""
    cell = "<tr><td><p>{}</p></td></tr>"
    assert elements(cell.format(text)) != elements(cell.format(HARMLESS))
    assert elements(cell.format(text.replace("<", "&lt;"))) == elements(cell.format(HARMLESS))


@pytest.mark.parametrize("text", [*MARKUP, *TAGS, *UNICODE])
def test_words_are_shown_as_they_are_written(loader: Loader, text: str) -> None:
    """Escaped, not dropped: each is read in the HTML, and in the text part of mail that holds it."""
    like = document("orrowby", []).root
    (piece,) = compiled(loader, [mapping({"block": "deadline", "words": f"x{text}x"}, like)])
    expected = f"x{text}x".replace("$${", "${")
    assert expected in shown(piece.sample_html)
    assert expected in piece.sample_text


MARKDOWN = (
    "[x](javascript:alert(1))", "![x](https://a.example/x.png)", "<https://a.example>", "[x](</y> onclick=z)",
    "[x](data:text/html,x)", "[x](/y \"><b>\")", "**x** _y_", "- x\n- y", "1. x", "# x", "> x", "```x```",
    "[x]: /y", "***", "x\n\ny", "[**x](/y)**", "[x](vbscript:x)", "&#x3c;script>",
)  # fmt: skip


@settings(max_examples=40)
@given(st.lists(st.sampled_from((*MARKDOWN, *MARKUP, *TAGS)), min_size=1, max_size=4).map("\n".join))
def test_copy_builds_only_its_own_elements(loader: Loader, text: str) -> None:
    """CommonMark in copy may make paragraphs, marks, lists and links to the web, and nothing else."""
    like = document("orrowby", []).root
    empty = [
        tag
        for tag, _names in elements(compiled(loader, [mapping({"block": "copy", "copy": "x"}, like)])[0].html)
    ]
    made, wrong = attempt(lambda: compiled(loader, [mapping({"block": "copy", "copy": text}, like)]))
    # A link that a mail may not hold is refused.
    assert all(one.place.line and one.path.startswith("stack[0] copy, copy") for one in wrong)
    if made is None:
        assert wrong
        return
    (piece,) = made
    found = elements(piece.html)
    assert [tag for tag, _names in found if tag not in COPY_TAGS | {"a"}] == [
        tag for tag in empty if tag not in COPY_TAGS | {"a"}
    ]
    assert not any(name.startswith("on") for _tag, names in found for name in names)
    assert all(urlsplit(href).scheme in ("http", "https", "mailto", "tel") for href in hrefs(piece.html))


LINKS = (
    "javascript:alert(1)", "JaVaScRiPt:x", " java\tscript:x", "data:text/html,<script>", "vbscript:x",
    "file:///etc",
    '/x" onclick="y', "/x'><b>", "https://a.example/<b>", "//a.example/x", "/{{ x }}", "/{% x %}", "/a b",
    "https://a.example\\@b.example", "https://a@b.example/",
    "mailto:a@b.example?subject=\"x", "/\u202ex", "?q=&lt;",
    "https://[::1", "/x#\"><", "http://", "#", "https://a.example:99999/",
)  # fmt: skip


@pytest.mark.parametrize("link", LINKS)
@pytest.mark.parametrize("block", ["copy", "selling-points", "press", "hero"])
def test_links_lead_to_the_web_or_are_refused(loader: Loader, link: str, block: str) -> None:
    """RFC 3986 section 3.1; the elements stay those of a harmless link."""

    def linked(target: str) -> list[Node]:
        def change(spot: Spot, text: str) -> str:
            return target if spot.kind == "link" else text

        found = visible(loader, "orrowby")[block]
        return [rewrite(node, known_specs(loader.root), change) for node in sample_sections(loader, found)]

    pieces, wrong = attempt(lambda: compiled(loader, linked(link)))
    assert all(one.place.line and ("link" in one.path or "copy" in one.path) for one in wrong), wrong
    if pieces is None:
        assert wrong
        return
    assert [elements(one.html) for one in pieces] == [
        elements(one.html) for one in compiled(loader, linked("/x"))
    ]
    for piece in pieces:
        assert {urlsplit(href).scheme for href in hrefs(piece.html)} <= {"http", "https", "mailto", "tel", ""}


@pytest.mark.parametrize("name", NAMES)
def test_control_characters_are_refused_with_their_place(loader: Loader, name: str) -> None:
    """HTML section 13.2.3.5 and RFC 5322 section 2.2 let none of them in; each field says where."""
    spots: list[tuple[str, ...]] = []

    def note(spot: Spot, text: str) -> str:
        spots.append(tuple(map(str, spot.way)))
        return text

    sample(loader, name, note)
    for number in range(len(spots)):
        for control in CONTROL if number == 0 else CONTROL[:1]:
            turns = iter(range(len(spots)))

            def say(
                _spot: Spot, text: str, control: str = control, at: int = number, turns: Any = turns
            ) -> str:
                return f"a{control}b" if next(turns) == at else text

            with pytest.raises(MistakesError) as caught:
                compiled(loader, sample(loader, name, say))
            for one in caught.value.mistakes:
                assert f"U+{ord(control):04X}" in one.message, one
                assert one.place.line > 0
                assert control not in str(one)


@pytest.mark.parametrize("name", NAMES)
def test_words_past_the_limit_are_refused_with_their_place(loader: Loader, name: str) -> None:
    limited: list[Spot] = []

    def say(spot: Spot, text: str) -> str:
        if spot.kind == "link" or spot.way[-1] == "quote" or spot.most is None:
            return text
        limited.append(spot)
        return LONG

    found = visible(loader, "orrowby")[name]
    stack = [rewrite(node, known_specs(loader.root), say) for node in sample_sections(loader, found)]
    if not limited:
        compiled(loader, stack)
        return
    with pytest.raises(MistakesError) as caught:
        compiled(loader, stack)
    assert len(caught.value.mistakes) >= len({spot.way for spot in limited})
    for one in caught.value.mistakes:
        assert "characters, more than" in one.message
        assert one.place.line > 0


# -- the shop's own rows


def rows(cell: Callable[[str], str]) -> dict[str, str]:
    def quoted(text: str) -> str:
        return '"' + text.replace('"', '""') + '"'

    products = "sku,name,kind,price,was,colours,picture,alt,link,copy\n" + "".join(
        ",".join([f"S-{n}", *(quoted(cell(field)) for field in ("name", "kind")), "40", "80", "", "one.png",
                  quoted(cell("alt")), f"/{n}", quoted(cell("copy"))]) + "\n"
        for n in range(1, 7)
    )  # fmt: skip
    reviews = "id,product,name,place,stars,text,verified,relationship\n" + "".join(
        ",".join([f"T-{n}", f"S-{n}", quoted(cell("name")), quoted(cell("place")), "4",
                  *(quoted(cell(field)) for field in ("text", "verified", "relationship"))]) + "\n"
        for n in range(1, 5)
    )  # fmt: skip
    brand = BRAND + "products: {file: products.csv}\nreviews: {file: reviews.csv}\n"
    return {"brands/orrowby/products.csv": products, "brands/orrowby/reviews.csv": reviews,
            "brands/orrowby/brand.yaml": brand}  # fmt: skip


_rows: dict[str, Any] = {}


def of_rows(root: Path, cell: Callable[[str], str]) -> list[list[Any]]:
    loader = workspace(root, files=rows(cell))
    like = document("orrowby", []).root

    def several(*keys: str) -> Node:
        return make_sequence([make_scalar(key, like) for key in keys], like)

    button = mapping({"label": 'Get the ${product.name or "it"}'}, like)
    stack = [
        put(
            put(mapping({"block": "product-stack"}, like), "products", several("S-1", "S-2")),
            "button",
            button,
        ),
        put(mapping({"block": "product-strip"}, like), "products", several("S-1", "S-2", "S-3")),
        put(mapping({"block": "testimonial"}, like), "reviews", several("T-1", "T-2")),
    ]
    return [elements(piece.html) for piece in compiled(loader, stack)]


@settings(max_examples=8)
@given(text=st.lists(st.sampled_from((*MARKUP, *TAGS, *UNICODE)), min_size=1, max_size=2).map(" x ".join))
def test_cells_of_the_catalogue_build_no_elements(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    """WHATWG HTML section 13.2; a button's label is short, so a long name is not put in it."""
    wild = of_rows(tmp_path_factory.mktemp("wild"), lambda _field: text[:40].strip() or "x")
    if "calm" not in _rows:
        _rows["calm"] = of_rows(tmp_path_factory.mktemp("calm"), lambda _field: HARMLESS)
    assert wild == _rows["calm"]


# -- what goes round the body, and what the sending program reads


@settings(max_examples=25)
@given(HOSTILE, HOSTILE)
def test_subject_and_preheader_stay_in_their_fields(loader: Loader, subject: str, preheader: str) -> None:
    """RFC 5322 section 2.2 and RFC 2047: the header has the fields of a harmless mail, and the same words."""
    calm, wild = (
        headed(loader, *texts) for texts in ((HARMLESS, HARMLESS), (subject[:300], preheader[:300]))
    )
    assert [name for name, _value in calm.raw_items()] == [name for name, _value in wild.raw_items()]
    said = subject[:300].strip().replace("$${", "${")
    assert " ".join(str(wild["Subject"]).split()) == " ".join(said.split())
    trees = [elements(_html(one).partition("<body")[2].partition(">")[2]) for one in (calm, wild)]
    assert trees[0] == trees[1]
    assert not [tag for tag, _names in trees[1] if tag == "script"]


def headed(loader: Loader, subject: str, preheader: str) -> Any:
    doc = footed([mapping({"block": "copy", "copy": "x"}, document("orrowby", []).root)])
    root = put(doc.root, "subject", make_scalar(subject, doc.root))
    root = put(root, "preheader", make_scalar(preheader, doc.root))
    return message_from_bytes(render(resolved(loader, Doc(doc.name, root))).eml, policy=default)


def _html(message: Any) -> str:
    return str(message.get_body(("html",)).get_content())


@pytest.mark.parametrize("field", ["subject", "preheader"])
@pytest.mark.parametrize("text", ["a\nBcc: x@y.example", "a\r\nBcc: x@y.example", "a\x00b", "a\u2028b"])
def test_line_breaks_in_the_head_are_refused(loader: Loader, field: str, text: str) -> None:
    """RFC 5322 section 2.2."""
    doc = footed([])
    root = put(doc.root, field, make_scalar(text, doc.root))
    with pytest.raises(MistakesError) as caught:
        resolved(loader, Doc(doc.name, root))
    assert [one.path for one in caught.value.mistakes] == [field]
    assert caught.value.mistakes[0].place.line > 0


DATA: dict[str, Any] = {
    "recipient": {"first_name": "Ida"},
    "link": {
        name: f"https://example.com/{name.replace('_', '-')}"
        for name in ("unsubscribe", "preferences", "view_online")
    },
}  # fmt: skip
ENGINES: dict[str, Callable[[str], str]] = {
    "jinja": lambda text: jinja2.Environment(keep_trailing_newline=True).from_string(text).render(DATA),
    "liquid": lambda text: liquid.Environment().from_string(text).render(**DATA),
    "mustache": lambda text: str(chevron.render(text, DATA)),
}


@pytest.mark.parametrize("dialect", ENGINES)
def test_the_sending_program_finds_nothing_of_its_own_in_the_words(tmp_path: Path, dialect: str) -> None:
    """The engine renders the file that is sent; it must come to the sample, whatever looks like its tags."""
    loader = workspace(tmp_path, dialect)
    known = specs(loader, "orrowby")
    texts = [*TAGS, *MARKUP]
    turn = iter(range(10_000))

    def say(spot: Spot, text: str) -> str:
        if spot.kind == "link" or spot.way[-1] == "quote":
            return text
        return fits(spot, f"{texts[next(turn) % len(texts)]} x")

    stack = [rewrite(node, known, say) for node in every_sample(loader, "orrowby")]
    _made, whole = rendered(resolved(loader, document("orrowby", stack)))
    for tagged, sampled in ((whole.html, whole.sample_html), (whole.text, whole.sample_text)):
        sent, wanted = ENGINES[dialect]("".join(tagged)), "".join(sampled)
        assert unescaped(sent) == unescaped(wanted)


def unescaped(text: str) -> str:
    """References decoded (HTML section 13.5): a language's own way to write a brace is as good as ours."""
    return re.sub(r"&#(\d+);", lambda found: chr(int(found[1])), text)
