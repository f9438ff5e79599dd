"""References in text: grammar, faults, filling, isolation, and one form of a value per context.

Isolates are checked against Unicode's character properties (unicodedata), escaping by reading it back with
the stdlib's HTML parser, percent-encoding against RFC 3986 §2 (row R35 of the project's check values).
"""

from __future__ import annotations

import html
import subprocess
import sys
import unicodedata
from decimal import Decimal
from html.parser import HTMLParser
from typing import Any
from urllib.parse import unquote

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handbill.base.errors import Fault
from handbill.resolve.dialects import JINJA, Sample
from handbill.resolve.facts import Fact, Formats, Ref, fill, parse
from handbill.resolve.text import Filled, Send, Text, escape_attribute, escape_html

FACTS = {
    "offer.best_percent": Fact("percent", 60, "60%"),
    "offer.ends": Fact("date", "2027-01-17", "17 January"),
    "offer.code": Fact("code", "A B&C", "A B&C"),
    "product.price": Fact("money", Decimal("24.00"), "£24.00"),
    "product.name": Fact("text", "Kettle <b>", "Kettle <b>"),
    "product.colour": Fact("text", None, ""),
    "product.link": Fact("url", "", "https://s.example/a?b=1&c=2"),
}
FORMATS: Formats = {
    "date": {"short": lambda value: f"on {value}", "weekday": lambda value: "Sunday"},
    "percent": {"bare": lambda value: f"{value}"},
}


def filled(text: str, **options: Any) -> Filled:
    return fill(parse(text), FACTS, FORMATS, **options)


def test_the_parts_of_a_text() -> None:
    assert parse("") == ()
    assert parse("plain $5 { } $") == ("plain $5 { } $",)
    assert parse("a ${offer.ends:short} b") == ("a ", Ref(("offer", "ends"), "short", None, 2), " b")
    assert parse('${recipient.first_name or "dear friend"}') == (
        Ref(("recipient", "first_name"), None, "dear friend", 0),
    )
    assert parse('${a:b or ""}${c}') == (Ref(("a",), "b", "", 0), Ref(("c",), None, None, 12))


def test_escapes() -> None:
    assert parse("pay $${x}") == ("pay ${x}",)
    assert parse("$$${x}") == ("$${x}",)
    assert parse("$${${a}") == ("${", Ref(("a",), None, None, 3))


@pytest.mark.parametrize(
    ("text", "message", "nearest"),
    [
        ("Up to ${offer.ends", "not closed", ""),
        ("${}", "names nothing", ""),
        ("${ offer.ends }", "a space", "${offer.ends}"),
        ("${Offer.Ends}", "not a name", "${offer.ends}"),
        ("${offer.best-percent}", "not a name", "${offer.best_percent}"),
        ("${offer..ends}", "not a name", ""),
        ("${1st}", "not a name", ""),
        ("${a.b or 'there'}", "wrong quotes", '${a.b or "there"}'),
        ("${a.b or “there”}", "wrong quotes", '${a.b or "there"}'),
        ("${a.b or there}", "cannot be read", ""),
        ('${a.b or "a\nb"}', "cannot be read", ""),
        ('${A.b or "x"}', "not a name", '${a.b or "x"}'),
    ],
)
def test_malformed_references(text: str, message: str, nearest: str) -> None:
    with pytest.raises(Fault, match=message) as caught:
        parse(text)
    assert caught.value.nearest == nearest
    assert caught.value.expected


def test_a_cut_reference_gets_the_yaml_hint() -> None:
    with pytest.raises(Fault) as caught:
        parse("Ends ${offer.ends")
    assert "quotes around a value that holds ${…}" in caught.value.expected


@pytest.mark.parametrize(
    "character", ["\x00", "\x07", "\r", "\x1b", "\x7f", "\x85", "\u2028", "\ufdd0", "\ud800"]
)
def test_control_characters_are_refused(character: str) -> None:
    with pytest.raises(Fault, match=f"U\\+{ord(character):04X} at place 2"):
        parse(f"a{character}b")
    with pytest.raises(Fault, match="U"):
        fill(parse("${a}"), {"a": Fact("text", None, f"x{character}")}, {})


def test_tabs_line_breaks_and_joiners_stay() -> None:
    text = "a\tb\nc 👩\u200d🍳 می\u200cخواهم"
    assert parse(text) == (text,)


def test_filling() -> None:
    assert filled("no facts") == ("no facts",)
    assert filled("Up to ${offer.best_percent} off, ${offer.ends:short}!") == (
        "Up to 60% off, on 2027-01-17!",
    )
    assert filled('In ${product.colour or "many colours"}') == ("In many colours",)
    assert filled('Hi ${recipient.name or "you"}, ${offer.code} ${link.view_online}') == (
        "Hi ",
        Send(("recipient", "name"), "you"),
        ", A B&C ",
        Send(("link", "view_online")),
    )


@pytest.mark.parametrize(
    ("text", "message", "nearest"),
    [
        ("${offer.best_procent}", "no fact", "offer.best_percent"),
        ("${recipent.first_name}", "no fact", "recipient.first_name"),
        ('${offer.endz or "x"}', "no fact", "offer.ends"),
        ("${offer.ends:shrot}", "a format", "short"),
        ("${product.name:upper}", "a format", ""),
        ("${product.colour}", "no value", ""),
        ("${recipient.first_name:short}", "known only when the mail is sent", "${recipient.first_name}"),
        ("${link.unsubscribe:short}", "known only when the mail is sent", "${link.unsubscribe}"),
        ("${link.unsubscrib}", "no system link", "link.unsubscribe"),
        ("${link}", "no system link", ""),
        ("${recipient}", "names no field", ""),
    ],
)
def test_faults_in_filling(text: str, message: str, nearest: str) -> None:
    with pytest.raises(Fault, match=message) as caught:
        filled(text)
    assert caught.value.nearest == nearest


def test_known_recipient_fields_catch_a_typo() -> None:
    known = {"first_name", "vip"}
    assert filled("${recipient.vip}", recipient=known) == (Send(("recipient", "vip")),)
    with pytest.raises(Fault) as caught:
        filled("${recipient.frist_name}", recipient=known)
    assert caught.value.nearest == "recipient.first_name"
    assert caught.value.expected == "one of first_name, vip"


def test_isolation_in_right_to_left_text() -> None:
    (text,) = filled("עד ${offer.best_percent}, ${product.price}, ${offer.code}, ${offer.ends}", rtl=True)
    assert isinstance(text, str)
    kinds = [unicodedata.bidirectional(character) for character in text]
    # UAX #9 §2.4.2: each isolate opened is closed; dates are words and are not isolated.
    assert [kind for kind in kinds if kind in ("LRI", "RLI", "FSI", "PDI")] == ["LRI", "PDI"] * 3
    assert "\u206660%\u2069" in text
    assert filled("${product.price}", rtl=False) == ("£24.00",)


DANA = Sample({"first_name": "דנה"}, {"view_online": "https://a.example/"})


def test_what_is_known_of_a_recipient_runs_by_its_own_first_letter() -> None:
    """HTML, the dir attribute (auto); UAX #9 §2.4.2, FSI: characters for it stand in right-to-left text."""
    for rtl in (False, True):
        said = Text.of(filled("${recipient.first_name}, ${link.view_online}", rtl=rtl), DANA)
        opened, closed = ("\u2068", "\u2069") if rtl else ("", "")
        assert said.html.startswith('<span dir="auto">דנה</span>, ')
        assert said.html.count("span") == 2  # a system link is no name
        assert said.plain.startswith(f"{opened}דנה{closed}, ")
        assert said.header.startswith(f"{opened}דנה{closed}, ")
        assert said.attr.startswith("&#8296;דנה&#8297;, " if rtl else "דנה, ")
    assert "%" in Text.of(filled("/x?n=${recipient.first_name}", rtl=True, url=True), DANA).url
    assert "&#8296;" not in Text.of(filled("/x?n=${recipient.first_name}", rtl=True, url=True), DANA).url


def test_a_value_with_its_own_right_to_left_mark_is_isolated_by_it() -> None:
    facts = {"p": Fact("money", 0, "\u200f24.00\u00a0\u200f₪")}
    (text,) = fill(parse("${p}"), facts, {}, rtl=True)
    assert isinstance(text, str)
    assert unicodedata.bidirectional(text[0]) == "RLI"
    assert unicodedata.bidirectional(text[-1]) == "PDI"


def test_facts_in_urls_are_percent_encoded_once() -> None:
    assert filled("/sale?c=${offer.code}&p=${offer.best_percent}", url=True, rtl=True) == (
        "/sale?c=A%20B%26C&p=60%25",
    )
    assert filled("${product.link}", url=True) == ("https://s.example/a?b=1&c=2",)
    assert filled('/s?c=${product.colour or "a b"}', url=True) == ("/s?c=a%20b",)


class Reader(HTMLParser):
    """What the stdlib's parser finds: text, attribute values, elements."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.text = ""
        self.elements: list[tuple[str, list[tuple[str, str | None]]]] = []

    def handle_data(self, data: str) -> None:
        self.text += data

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, attrs))


@given(st.text())
def test_escaping_is_read_back(text: str) -> None:
    reader = Reader()
    reader.feed(f'<p title="{escape_attribute(text)}">{escape_html(text)}</p>')
    reader.close()
    assert [tag for tag, _ in reader.elements] == ["p"]
    assert reader.text == text
    assert reader.elements[0][1] == [("title", text)]


def test_invisible_characters_stand_as_numbers_in_html() -> None:
    text = Text.of(("a\u00a0b\u2066c\u2069\u200bd\u202fe",), JINJA)
    assert text.html == text.attr == "a&#160;b&#8294;c&#8297;&#8203;d&#8239;e"
    assert html.unescape(text.html) == text.plain == "a\u00a0b\u2066c\u2069\u200bd\u202fe"


def test_one_filled_value_in_two_voices_and_all_contexts() -> None:
    value = filled('Hi ${recipient.first_name or "you"} <&"${product.price}')
    tagged = Text.of(value, JINJA)
    shown = Text.of(value, Sample({"first_name": "Ann & \"Bo'"}, {}))
    assert tagged.html == (
        'Hi <span dir="auto">{{ recipient.first_name|default(\'you\', true)|e }}</span> &lt;&amp;"£24.00'
    )
    assert shown.html == 'Hi <span dir="auto">Ann &amp; "Bo\'</span> &lt;&amp;"£24.00'
    assert shown.attr == "Hi Ann &amp; &quot;Bo&#39; &lt;&amp;&quot;£24.00"
    assert shown.plain == shown.header == 'Hi Ann & "Bo\' <&"£24.00'
    assert tagged.send
    assert tagged.html is tagged.html


def test_urls() -> None:
    value = filled('https://s.example/?c=${offer.code}&n=${recipient.id or "a b"}', url=True)
    shown = Text.of(value, Sample({"id": "ü/&"}, {}))
    assert shown.url == "https://s.example/?c=A%20B%26C&amp;n=%C3%BC%2F%26"
    assert shown.plain_url == "https://s.example/?c=A%20B%26C&n=%C3%BC%2F%26"
    assert unquote(shown.plain_url.partition("n=")[2]) == "ü/&"
    assert Text.of(value, Sample({}, {})).plain_url.endswith("n=a%20b")


def test_send_tells_when_a_sample_needs_its_own_text() -> None:
    assert not Text.of(("plain",), JINJA).send
    assert Text.of(("with {{",), JINJA).send
    assert Text.of((Send(("recipient", "a")),), JINJA).send


def test_truth() -> None:
    assert not Text.of((), JINJA)
    assert not Text.of((" \n",), JINJA)
    assert Text.of(("a",), JINJA)
    assert Text.of((Send(("recipient", "a")),), Sample({}, {}))


def test_headers_refuse_line_breaks() -> None:
    with pytest.raises(Fault, match="line break"):
        _ = Text.of(("a\nb",), JINJA).header


def test_nothing_heavy_is_imported() -> None:
    program = (
        "import sys, handbill.resolve.copy, handbill.resolve.custom;"
        "print([m for m in ('jinja2', 'markdown_it', 'babel', 'pydantic', 'yaml') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
