"""Copy: what CommonMark says of the subset, both ways of parsing, and text that never breaks out.

Expected HTML comes from the CommonMark 0.31.2 specification's examples, named by number (from memory), and
from the full CommonMark parser (markdown-it-py); what is read back, from the stdlib's HTML parser.
"""

from __future__ import annotations

import subprocess
import sys
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from handbill.base.errors import Fault
from handbill.resolve.copy import Copy, Tree, fill_copy, parse_copy
from handbill.resolve.dialects import JINJA, MUSTACHE, Sample
from handbill.resolve.facts import Fact
from handbill.resolve.markdown import paragraphs, parse_marked
from handbill.resolve.text import Filled, Send, Voice

FACTS = {
    "offer.best": Fact("percent", 60, "60%"),
    "offer.code": Fact("code", "A B", "A B"),
    "product.name": Fact("text", "", "*K* [x](y) <b>_1_"),
    "product.colour": Fact("text", None, ""),
    "product.link": Fact("url", "", "https://s.example/k?a=1&b=2"),
}
ATTRS = {
    "p": " class=p",
    "p-last": " class=l",
    "a": " class=a",
    "ul": " class=u",
    "ol": " class=o",
    "li": " class=i",
}
ANN = Sample({"first_name": "<Ann> *&*"}, {"unsubscribe": "https://s.example/u?a=1&b=2"})


def judge(target: Filled) -> Filled:
    """Like the real one: no scheme but the usual, the site's own paths made absolute."""
    first = target[0]
    if isinstance(first, Send):
        return target
    if first.startswith("/"):
        return (f"https://s.example{first}", *target[1:])
    if not first.startswith(("https:", "mailto:", "tel:")):
        raise Fault(f"links may not lead to {first}")
    return target


def copy(source: str, voice: Voice = ANN, rtl: bool = False) -> Copy:
    return Copy.of(fill_copy(parse_copy(source), FACTS, {}, link=judge, rtl=rtl), voice)


@pytest.mark.parametrize(
    ("source", "want"),
    [
        ("*foo bar*", "<p><em>foo bar</em></p>"),  # example 350
        ("a * foo bar*", "<p>a * foo bar*</p>"),  # 351
        ("foo*bar*", "<p>foo<em>bar</em></p>"),  # 355
        ("foo_bar_", "<p>foo_bar_</p>"),  # 360
        ("**foo bar**", "<p><strong>foo bar</strong></p>"),  # 378
        ("***foo** bar*", "<p><em><strong>foo</strong> bar</em></p>"),  # 418
        ("aaa\n\nbbb", "<p>aaa</p>\n<p>bbb</p>"),  # 219
        ("  aaa\n bbb", "<p>aaa bbb</p>"),  # 222, our soft break is a space
        ("foo  \nbaz", "<p>foo<br>baz</p>"),  # 633, without the line feed
        ("foo\\\nbaz", "<p>foo<br>baz</p>"),  # 634
        ("\\*not emphasised*", "<p>*not emphasised*</p>"),  # 14
        ("- a\n- b", "<ul>\n<li>a</li>\n<li>b</li>\n</ul>"),
        ("3) a\n4) b", '<ol start="3">\n<li>a</li>\n<li>b</li>\n</ol>'),  # 302
        ("- a\n  - b", "<ul>\n<li>a\n<ul>\n<li>b</li>\n</ul></li>\n</ul>"),
        ("[a *b*](/c)", '<p><a href="https://s.example/c">a <em>b</em></a></p>'),
        ("[a](</b c>)", '<p><a href="https://s.example/b c">a</a></p>'),
    ],
)
def test_the_subset(source: str, want: str) -> None:
    assert copy(source).html({}) == want


@pytest.mark.parametrize(
    "source",
    [
        "# Title",
        "> quote",
        "![alt](/x.png)",
        "`code`",
        "<b>x</b>",
        "&copy; &lt;",
        "~~x~~",
        "***",
        "https://s.example",
        "<https://s.example>",
        "[a][b]",
    ],
)
def test_all_else_shows_as_text(source: str) -> None:
    assert copy(source).plain == source


def test_tables_code_blocks_and_definitions_show_as_text() -> None:
    for source in ("a | b\n--|--\nc | d", "    code\n    more", "```\nx\n```", "a\n===", "[a]: /b\n\nc"):
        assert "".join(copy(source).plain.split()) == "".join(source.split())


def test_attributes() -> None:
    source = "a\n\n*b* [c](/d)\n\n- e\n\n1. f\n\ng"
    assert copy(source).html(ATTRS) == (
        "<p class=p>a</p>\n"
        '<p class=p><em>b</em> <a href="https://s.example/d" class=a>c</a></p>\n'
        "<ul class=u>\n<li class=i>e</li>\n</ul>\n"
        "<ol class=o>\n<li class=i>f</li>\n</ol>\n"
        "<p class=l>g</p>"
    )
    assert copy("a").html({"p": " class=p"}) == "<p class=p>a</p>"
    assert copy("a").html({}) == "<p>a</p>"


def test_where_only_inline_content_fits() -> None:
    assert copy("a **b**  \nc\n\nd\n\n- e\n- f\n\n2. g").inline_html({"strong": " class=s"}) == (
        "a <strong class=s>b</strong><br>c<br>d<br>- e<br>- f<br>2. g"
    )


def test_plain_text() -> None:
    source = (
        "Up to **${offer.best}** [off](/sale), ask\n[us@s.example](mailto:us@s.example).\n\n"
        "- one\n  more\n  - two\n\n- [three](/3)\n\n  para\n\n9. a\n10. b\n\n*[See all](/all)*  \nend"
    )
    assert copy(source).plain == (
        "Up to 60% off (https://s.example/sale), ask us@s.example.\n\n"
        "- one more\n  - two\n- three: https://s.example/3\n\n  para\n\n"
        "9. a\n10. b\n\n"
        "See all (https://s.example/all)\nend"
    )
    assert copy("[See all](/all)").plain == "See all: https://s.example/all"
    assert copy("**[See all](/all)**").plain == "See all: https://s.example/all"
    assert copy("[https://s.example/](https://s.example/)").plain == "https://s.example/"


def test_facts_are_opaque_to_the_parser() -> None:
    # `**` beside punctuation would not open or close (CommonMark §6.2); a fact counts as a word.
    assert copy("now**${offer.best}**off").html({}) == "<p>now<strong>60%</strong>off</p>"
    # What a fact's value holds is text.
    assert copy("${product.name}").html({}) == "<p>*K* [x](y) &lt;b&gt;_1_</p>"
    assert copy('[a](/s?c=${offer.code}&d=${recipient.city or "b c)"})').links == (
        ("https://s.example/s?c=A%20B&d=", Send(("recipient", "city"), "b c)")),
    )
    assert copy("[a](${product.link})").html({}) == '<p><a href="https://s.example/k?a=1&amp;b=2">a</a></p>'
    assert (
        copy("[out](${link.unsubscribe})").html({})
        == '<p><a href="https://s.example/u?a=1&amp;b=2">out</a></p>'
    )
    assert copy("pay $${x} *now*").html({}) == "<p>pay ${x} <em>now</em></p>"


def test_one_tree_in_two_voices() -> None:
    tree = fill_copy(parse_copy("Hi ${recipient.first_name} {{ *x*"), FACTS, {}, link=judge)
    tagged, shown = Copy.of(tree, MUSTACHE), Copy.of(tree, ANN)
    assert tagged.html({}) == (
        '<p>Hi <span dir="auto">{{recipient.first_name}}</span> &#123;{ <em>x</em></p>'
    )
    assert shown.html({}) == '<p>Hi <span dir="auto">&lt;Ann&gt; *&amp;*</span> {{ <em>x</em></p>'
    assert tagged.send
    assert not copy("plain *x*", JINJA).send
    assert copy("[x](https://s.example/{{)", JINJA).send


def test_prices_are_isolated_in_right_to_left_copy() -> None:
    assert copy("עד *${offer.best}*", rtl=True).plain == "עד \u206660%\u2069"


def test_truth() -> None:
    assert not copy("")
    assert not copy(" \n\n ")
    assert not copy('${product.colour or " "}')
    assert copy("${recipient.first_name}")


@pytest.mark.parametrize(
    ("source", "message"),
    [
        ("[a](javascript:alert)", "may not lead"),
        ("[a](data:text/html,x)", "may not lead"),
        ("- a\n  - b\n    - c", "a list in a list"),
        ("[](/x)", "no words"),
        ("[ ](/x)", "no words"),
        ("[a]()", "leads nowhere"),
        ('[a](/x "title")', "title"),
        ("a ${b", "not closed"),
        ("a\x00", "U\\+0000"),
    ],
)
def test_faults(source: str, message: str) -> None:
    with pytest.raises(Fault, match=message):
        copy(source)


likely = st.text(st.sampled_from("ab1 \n.-+)(!*_[]\\`#>&<~\"'\u00a0\u3000é{}$|=:\t"), max_size=40)


@given(st.one_of(likely, st.text(max_size=30)))
def test_the_fast_way_equals_the_parser(source: str) -> None:
    try:
        tree = parse_copy(source)
    except Fault:
        return
    assert tree.blocks == parse_marked(source.replace("$${", "${"), [])


@given(st.text(st.sampled_from("ab \n.,!&<>\"'\u00a0\u3000\u2003é{}|"), max_size=60))
def test_unmarked_text_equals_the_parser(source: str) -> None:
    if "  \n" not in source:
        assert paragraphs(source, []) == parse_marked(source, [])


class Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.text = ""
        self.tags: list[str] = []

    def handle_data(self, data: str) -> None:
        self.text += data

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        assert [name for name, _ in attrs] in ([], ["href"], ["start"], ["dir"])


@given(likely)
def test_no_text_breaks_out(source: str) -> None:
    try:
        made = copy(source + " ${recipient.first_name}")
    except Fault:
        return
    for html in (made.html({}), made.inline_html({})):
        reader = Reader()
        reader.feed(html)
        reader.close()
        assert set(reader.tags) <= {"p", "a", "ul", "ol", "li", "strong", "em", "br", "span"}
        assert reader.tags.count("span") == 1
        assert "<Ann> *&*" in reader.text


@given(st.text(st.sampled_from("ab *_\n()"), max_size=30))
def test_emphasis_is_as_the_full_parser_has_it(source: str) -> None:
    """Against markdown-it-py's own CommonMark preset and renderer, for text without block constructs."""
    source = f"x{source}"
    if any(line.lstrip()[:1] in ("*", "_", "") or line.startswith(" ") for line in source.split("\n")):
        return
    full = MarkdownIt("commonmark").render(source)
    assert copy(source).html({}).replace("<br>", "<br />") == full.rstrip("\n").replace(
        "<br />\n", "<br />"
    ).replace("\n", " ")


def test_the_parser_is_imported_only_for_marks() -> None:
    program = (
        "import sys; from handbill.resolve.copy import parse_copy;"
        "parse_copy('Up to ${offer.best} off.\\n\\nAnd more.'); print('markdown_it' in sys.modules);"
        "parse_copy('*x*'); print('markdown_it' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "True"]


def test_a_tree_without_facts_is_kept_as_it_is() -> None:
    tree = parse_copy("plain *x*")
    assert fill_copy(tree, {}, {}, link=judge) is tree
    assert isinstance(tree, Tree)
    assert hash(tree) == hash(parse_copy("plain *x*"))
