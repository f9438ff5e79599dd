"""Reading HTML back. Sources: html5lib (the HTML standard's parser), CSS Cascade 4, Media Queries 4."""

from __future__ import annotations

from typing import Any

import html5lib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handbill.dom import Document, Element, Styler, View, parse, text_of
from handbill.dom.css import media_matches, read_declarations
from handbill.dom.repair import repair
from handbill.dom.scan import scan

WHOLE = (
    '<!DOCTYPE html><html lang="en"><head><title>A &amp; b</title><style>.a{color:#ff0000}</style></head>'
    "<body>{}</body></html>"
)
FITS = (
    '<table width="100%"><tr><td class="a b" align=left>one &lt; two</td><td>&#160;</td></tr></table>',
    '<p style="margin:0">text <b>bold</b><br>é<img src="a.png" alt="x &gt; y"></p>',
    "<!--[if mso]><table><tr><td><![endif]--><div>shown</div><!--[if mso]></td></tr></table><![endif]-->",
    "<!--[if !mso]><!--><p>shown</p><!--<![endif]-->",
    "<ul><li>one</li><li>two</li></ul>",
    "<h1>Head</h1><h2>less</h2>",
)
BROKEN = (
    "<p>one<p>two",
    "<table><td>loose</table>",
    "<table>text<tr><td>x</td></tr></table>",
    "<b><i>crossed</b></i>",
    "<p><table><tr><td>x</td></tr></table></p>",
    '<a href="#">one<a href="#">two</a></a>',
    "<ul><li>one<li>two</ul>",
    "<div>never closed",
    "<td>stray</td>",
    "a < b",
)


def plain(element: Element) -> Any:
    children: list[Any] = []
    for child in element.children:
        if isinstance(child, Element):
            children.append(plain(child))
        elif child.strip(" \n"):
            add_text(children, child)
    return element.tag, element.attributes, children


def add_text(children: list[Any], text: str) -> None:
    if children and isinstance(children[-1], str):
        children[-1] += text
    else:
        children.append(text)


def standard(node: Any) -> Any:
    """html5lib's tree in the same shape: comments and white space alone out, implied row groups out."""
    children: list[Any] = []
    if node.text and node.text.strip(" \n"):
        add_text(children, node.text)
    for child in node:
        if isinstance(child.tag, str):
            found = standard(child)
            if child.tag == "tbody" and not child.attrib:
                children.extend(found[2])
            else:
                children.append(found)
        if child.tail and child.tail.strip(" \n"):
            add_text(children, child.tail)
    return node.tag, dict(node.attrib), children


def by_standard(html: str) -> Any:
    return standard(html5lib.parse(html, treebuilder="etree", namespaceHTMLElements=False))


@pytest.mark.parametrize("markup", FITS)
def test_the_quick_way_sees_what_the_standard_says(markup: str) -> None:
    html = WHOLE.replace("{}", markup)
    quick = scan(html.encode())
    assert quick is not None
    assert plain(quick[0]) == by_standard(html)
    slow = repair(html.encode())
    assert plain(slow[0]) == plain(quick[0])
    assert [(one.tag, one.start, one.inner) for one in slow[0].iter()] == [
        (one.tag, one.start, one.inner) for one in quick[0].iter()
    ]


@pytest.mark.parametrize("markup", BROKEN)
def test_broken_markup_is_repaired_by_the_standard(markup: str) -> None:
    html = WHOLE.replace("{}", markup)
    assert scan(html.encode()) is None
    document = parse(html.encode())
    assert plain(document.root) == by_standard(html)
    assert "repairs" in document.notes[0]


PIECES = st.sampled_from(
    ["<p>", "</p>", "<b>", "</b>", "<table>", "</table>", "<tr>", "</tr>", "<td>", "</td>", "<a href='#'>",
     "</a>", "<div class='x'>", "</div>", "<br>", "text", " ", "&amp;", "<!-- c -->", "<ul>", "<li>", "</li>",
     "</ul>"]
)  # fmt: skip


@given(st.lists(PIECES, max_size=12))
def test_no_markup_is_taken_for_plain_that_is_not(pieces: list[str]) -> None:
    """Whatever the quick way accepts is what html5lib makes of it."""
    html = WHOLE.replace("{}", "".join(pieces))
    quick = scan(html.encode())
    if quick is not None:
        assert plain(quick[0]) == by_standard(html)


def test_places_are_bytes() -> None:
    html = WHOLE.replace("{}", '<p title="é">ü</p><table><tr><td><img src="x"></td></tr></table>').encode()
    document = parse(html)
    for element in document.body.iter():
        assert html[element.start : element.start + 1 + len(element.tag)] == b"<" + element.tag.encode()
        assert html[element.inner - 1 : element.inner] == b">"
        if element.tag != "img":
            assert html[element.inner : element.end].endswith(f"</{element.tag}>".encode())
    assert document.title == "A & b"
    assert text_of(document.body) == "ü"


def test_sections_are_rows_unless_given() -> None:
    html = WHOLE.replace("{}", "<table><tr><td>1</td></tr><tr><td>2</td></tr></table>").encode()
    document = parse(html)
    assert [section.id for section in document.sections] == ["row-1", "row-2"]
    cell = next(one for one in document.body.iter("td"))
    assert document.section_of(cell) == document.sections[0]
    named = parse(html, [("top", cell.start, cell.end)])
    assert [section.id for section in named.sections] == ["top"]


def styled(css: str, markup: str, view: View | None = None) -> tuple[Document, Styler]:
    html = f"<!DOCTYPE html><html><head><style>{css}</style></head><body>{markup}</body></html>"
    document = parse(html.encode())
    return document, Styler(document, view or View(390))


CASCADE = [  # CSS Cascade 4 section 6: importance, the element's own style, specificity, order
    (".a{color:#010101} .b{color:#020202}", '<p class="b a">x</p>', 2),
    ("p.a{color:#010101} .a{color:#020202}", '<p class="a">x</p>', 1),
    (".a{color:#010101!important}", '<p class="a" style="color:#020202">x</p>', 1),
    (".a{color:#010101}", '<p class="a" style="color:#020202">x</p>', 2),
    (".a{color:#010101!important}", '<p class="a" style="color:#020202!important">x</p>', 2),
    ("p{color:#010101} p{color:nonsense}", "<p>x</p>", 1),
    ("[data-hook] .a{color:#010101}", '<p class="a" style="color:#020202">x</p>', 2),
    ("div>.a{color:#010101} div .a{color:#020202}", '<div><p class="a">x</p></div>', 2),
    ("div>.a{color:#010101}", '<div><b><i class="a" style="color:#020202">x</i></b></div>', 2),
    ('p[title="t"]{color:#010101}', '<p title="t">x</p>', 1),
    (".a{color:#010101}", '<div class="a"><p>x</p></div>', 1),
    ("@media (max-width:400px){p{color:#010101}}", "<p>x</p>", 1),
    ("@media (min-width:400px){p{color:#010101}} p{color:#020202}", "<p>x</p>", 2),
    ("@media print{p{color:#010101}} p{color:#020202}", "<p>x</p>", 2),
    ("/* } */ p{color:#010101}", "<p>x</p>", 1),
    ('p{font-family:"a}b";color:#010101}', "<p>x</p>", 1),
    ("p{color:#010101;;color}", "<p>x</p>", 1),
]


@pytest.mark.parametrize(("css", "markup", "shade"), CASCADE)
def test_the_cascade(css: str, markup: str, shade: int) -> None:
    document, styler = styled(css, markup)
    found = [one for one in document.body.iter() if text_of(one) == "x"]
    assert styler.of(found[-1]).color == (shade, shade, shade, 1.0)


def test_schemes_and_notes() -> None:
    css = "@media (prefers-color-scheme:dark){.a{background-color:#000}} p:nth-child(2){color:red}"
    document, styler = styled(css, '<p class="a">x</p>')
    paragraph = next(document.body.iter("p"))
    assert styler.of(paragraph).background_color[3] == 0
    assert styler.notes == ("selector not understood: p:nth-child(2)",)
    dark = Styler(document, View(390, scheme="dark"))
    assert dark.of(paragraph).background_color == (0, 0, 0, 1.0)


def test_attributes_count_less_than_rules() -> None:
    """HTML standard section 15.3: presentational hints come before author rules."""
    markup = (
        '<table cellpadding="7" cellspacing="3" bgcolor="#ff0000" width="50%">'
        '<tr><td width="20" valign="top">x</td></tr></table>'
    )
    document, styler = styled("td{width:30px}", markup)
    table, cell = (styler.of(next(document.body.iter(tag))) for tag in ("table", "td"))
    assert table.background_color == (255, 0, 0, 1.0)
    assert table.width == (0.5,)
    assert table.border_spacing == (3.0, 3.0)
    assert cell.padding == (7.0, 7.0, 7.0, 7.0)
    assert cell.width == 30.0
    assert cell.vertical_align == "top"


@pytest.mark.parametrize(
    ("query", "width", "matches"),
    [
        ("only screen and (min-width:600px)", 600, True),
        ("only screen and (min-width:600px)", 599, False),
        ("(max-width:480px) and (min-width:320px)", 390, True),
        ("print", 390, False),
        ("not print", 390, True),
        ("screen, print", 390, True),
        ("(hover:hover)", 390, False),
        ("(unknown-thing:1)", 390, False),
        ("not all and (unknown-thing:1)", 390, False),
        ("(min-width:30em)", 480, True),
        ("", 390, True),
    ],
)
def test_media_queries(query: str, width: int, matches: bool) -> None:
    assert media_matches(query, View(width)) is matches


def test_declarations_are_read_as_tinycss2_reads_them() -> None:
    """CSS Syntax 3 section 5.4.4: the quick way by hand against tinycss2, which a quote calls for."""
    for text in ("color:red; ;width:1px!important", "a:b", "color", "x:1;y", "margin : 0 auto;b: 2 "):
        assert read_declarations(text) == read_declarations(f'{text};quoted:""')[:-1]
