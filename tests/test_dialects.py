"""Dialects against the languages' own engines: Jinja (jinja2), Liquid (python-liquid), Mustache (chevron).

Each tag is rendered by the engine for hostile recipients and compared with the sample-filled text; Handlebars
is held against its own engine in tests/outside. HTML is compared after decoding character references (stdlib
html.unescape, HTML standard §13.5), since engines write quotes in their own ways.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import quote

import chevron
import jinja2
import liquid
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handbill.base.errors import Fault
from handbill.resolve.custom import custom
from handbill.resolve.dialects import (
    CONTEXTS,
    HANDLEBARS,
    JINJA,
    LIQUID,
    MUSTACHE,
    SHIPPED,
    Dialect,
    Sample,
    collisions,
)
from handbill.resolve.text import Context, Send, Text

Render = Callable[[str, Mapping[str, Any]], str]


def by_jinja(template: str, data: Mapping[str, Any], autoescape: bool = False) -> str:
    environment = jinja2.Environment(autoescape=autoescape, keep_trailing_newline=True)
    return environment.from_string(template).render(data)


def by_jinja_escaping(template: str, data: Mapping[str, Any]) -> str:
    return by_jinja(template, data, autoescape=True)


def by_liquid(template: str, data: Mapping[str, Any]) -> str:
    return liquid.Environment().from_string(template).render(**data)


def by_chevron(template: str, data: Mapping[str, Any]) -> str:
    return str(chevron.render(template, dict(data)))


ENGINES: list[Any] = [
    pytest.param(JINJA, by_jinja, id="jinja"),
    pytest.param(JINJA, by_jinja_escaping, id="jinja-autoescape"),
    pytest.param(LIQUID, by_liquid, id="liquid"),
    pytest.param(MUSTACHE, by_chevron, id="mustache"),
]

NAMES = [
    "Anna",
    '<b onclick="x()">&amp; O\'Neil</b>',
    "a & b / c? d=e+f%20g#h",
    "{{ recipient.first_name }} {% if x %} {# c #} }} %}",
    "עַדִי, مريم",
    "back\\slash `tick` $x",
    "",
]
FALLBACKS = [None, "there", "it's <you> & me", "{{ you {% and {# me", "100 % \\", "dir, freund"]
LINKS = {"unsubscribe": "https://s.example/u?a=1&b=%20x'y", "preferences": "https://s.example/p"}
FIELD = ("recipient", "first_name")


def recipient_data(name: str | None) -> dict[str, Any]:
    fields = {} if name is None else {"first_name": name}
    return {"recipient": fields, "link": LINKS}


def same(engine: str, sample: str, context: Context) -> bool:
    if context in ("html", "attribute", "url"):
        return html.unescape(engine) == html.unescape(sample)
    return engine == sample


def contexts(dialect: Dialect) -> list[Context]:
    return [context for context in CONTEXTS if dialect.patterns[context]]


@pytest.mark.parametrize(("dialect", "render"), ENGINES)
@pytest.mark.parametrize("fallback", FALLBACKS)
def test_the_engine_writes_what_the_sample_shows(
    dialect: Dialect, render: Render, fallback: str | None
) -> None:
    for name in [*NAMES, None]:
        sample = Sample({} if name is None else {"first_name": name}, LINKS)
        for context in contexts(dialect):
            tag = dialect.tag(FIELD, context, fallback)
            got = render(tag, recipient_data(name))
            assert same(got, sample.tag(FIELD, context, fallback), context), (tag, name, context)


@pytest.mark.parametrize(("dialect", "render"), ENGINES)
def test_values_cannot_leave_their_context(dialect: Dialect, render: Render) -> None:
    for name in NAMES:
        data = recipient_data(name)
        assert "<" not in render(dialect.tag(FIELD, "html", "x"), data)
        attribute = render(dialect.tag(FIELD, "attribute", "x"), data)
        assert not {'"', "<"} & set(attribute)
        if dialect.patterns["url"]:
            # RFC 3986 §2.3: unreserved characters and percent-encodings only.
            url = render(dialect.tag(FIELD, "url", "x"), data)
            assert url.isascii()
            assert not set(url) & set(" /?#[]@!$&'()*+,;=<>\"{}")


@pytest.mark.parametrize(("dialect", "render"), ENGINES)
def test_system_links_are_not_encoded_again(dialect: Dialect, render: Render) -> None:
    names = ("link", "unsubscribe")
    href = render(dialect.tag(names, "url", None), recipient_data("x"))
    assert '"' not in href
    assert html.unescape(href) == LINKS["unsubscribe"]
    assert render(dialect.tag(names, "plain_url", None), recipient_data("x")) == LINKS["unsubscribe"]
    assert render(dialect.tag(names, "header", None), recipient_data("x")) == LINKS["unsubscribe"]


@pytest.mark.parametrize(("dialect", "render"), ENGINES)
def test_literal_openers_survive_in_every_context(dialect: Dialect, render: Render) -> None:
    texts = [
        "{{ x }}",
        "{{{",
        "a {% if %} {# b #}",
        "{",
        "{{{{x}}}}",
        "}}",
        "\\",
        "c\\{{d}}",
        "{%{{{#{",
        "\\{",
        "{ ",
    ]
    for text in texts:
        filled = (text, Send(FIELD, "you"), text, Send(FIELD), text)
        tagged = Text.of(filled, dialect)
        sample = Text.of(filled, Sample({"first_name": "Ann"}, {}))
        for form in ("html", "attr", "plain", "header"):
            got = render(getattr(tagged, form), recipient_data("Ann"))
            want = getattr(sample, form)
            if form in ("html", "attr"):
                got, want = html.unescape(got), html.unescape(want)
            assert got == want, (form, getattr(tagged, form))


@pytest.mark.parametrize(("dialect", "render"), ENGINES)
@given(
    pieces=st.lists(st.one_of(st.text(st.sampled_from("{}%#\\ a'<&"), max_size=6), st.just(None)), max_size=6)
)
def test_any_mix_of_braces_and_tags_is_read_back(
    dialect: Dialect, render: Render, pieces: list[str | None]
) -> None:
    filled = tuple(Send(FIELD, "you") if piece is None else piece for piece in pieces)
    want = Text.of(filled, Sample({"first_name": "A{{b"}, {}))
    tagged = Text.of(filled, dialect)
    data = recipient_data("A{{b")
    assert render(tagged.plain, data) == want.plain
    assert html.unescape(render(tagged.html, data)) == html.unescape(want.html)


@pytest.mark.parametrize(("dialect", "render"), ENGINES)
def test_conditions(dialect: Dialect, render: Render) -> None:
    opened, otherwise, close = dialect.when("recipient.vip")
    template = f"{opened}yes{otherwise}no{close}"
    for value, want in (("gold", "yes"), ("", "no"), (None, "no"), (True, "yes"), (False, "no")):
        assert render(template, {"recipient": {"vip": value}}) == want
    assert render(f"{opened}yes{close}", {"recipient": {}}) == ""
    assert Sample({"vip": "gold"}, {}).has("recipient.vip")
    assert not Sample({}, {}).has("recipient.vip")


def test_numbers_and_none_in_jinja() -> None:
    tag = JINJA.tag(("recipient", "points"), "html", None)
    assert by_jinja(tag, {"recipient": {"points": 0}}) == "0"
    assert by_jinja(tag, {"recipient": {"points": None}}) == ""


def test_a_field_named_like_a_method_in_jinja() -> None:
    tag = JINJA.tag(("recipient", "items"), "html", None)
    assert by_jinja(tag, {"recipient": {"items": "three"}}) == "three"


def test_headers_take_no_line_break() -> None:
    value = "Anna\r\nBcc: x@y.example\n"
    for dialect, render in ((JINJA, by_jinja), (LIQUID, by_liquid)):
        got = render(dialect.tag(FIELD, "header", "you"), recipient_data(value))
        assert "\n" not in got
        assert "\r" not in got
    assert Sample({"first_name": value}, {}).tag(FIELD, "header", None) == "Anna Bcc: x@y.example"


@pytest.mark.parametrize("dialect", SHIPPED.values(), ids=SHIPPED)
def test_tags_are_one_piece_for_html_and_for_line_breaking(dialect: Dialect) -> None:
    for context in contexts(dialect):
        for fallback in FALLBACKS:
            tag = dialect.tag(FIELD, context, fallback)
            assert "\n" not in tag
            if context in ("html", "attribute", "url"):
                assert '"' not in tag
                assert not {"<", ">"} & set(tag)
            # What no piece covers is the author's own words.
            rest = dialect.tags.sub("|", f"so {tag} far {tag}.")
            assert not [sign for sign in (*dialect.openers, "}}", "recipient") if sign in rest]
            if fallback is None:
                assert rest == "so | far |."
    for piece in dialect.when("recipient.vip"):
        assert dialect.tags.sub("", piece) == ""


def test_unsupported_contexts() -> None:
    for dialect in (HANDLEBARS, MUSTACHE):
        with pytest.raises(Fault, match=r"cannot write `recipient.token` in the context `url`"):
            dialect.tag(("recipient", "token"), "url", None)
    own = custom({**DATA, "url": "unsupported", "pre_encoded": ["recipient.token"]})
    assert own.tag(("recipient", "token"), "url", None) == "[[recipient.token|h]]"
    assert own.tag(("recipient", "token"), "plain_url", None) == "[[recipient.token]]"
    with pytest.raises(Fault, match="context `url`"):
        own.tag(FIELD, "plain_url", None)


DATA: dict[str, Any] = {
    "openers": ["[["],
    "html": {"tag": "[[{name}|h]]", "fallback": "[[{name}|h|'{fallback}']]"},
    "attribute": "[[{name}|h]]",
    "url": "[[{name}|u]]",
    "plain": "[[{name}]]",
    "header": "[[{name}]]",
    "literal": "[[='{text}']]",
    "when": {"open": "[[if {name}]]", "otherwise": "[[else]]", "close": "[[end]]"},
    "quotes": {"'": "\\'"},
    "names": {"recipient.first_name": "FNAME"},
}


def test_a_custom_dialect() -> None:
    own = custom(DATA)
    assert own.tag(FIELD, "html", None) == "[[FNAME|h]]"
    assert own.tag(FIELD, "html", "it's you") == "[[FNAME|h|'it\\'s you']]"
    # No way is given to write `<` inside quotes: the condition writes the words as text.
    assert own.tag(FIELD, "html", "a<b") == "[[if FNAME]][[FNAME|h]][[else]]a&lt;b[[end]]"
    assert own.tag(FIELD, "url", "a b") == "[[if FNAME]][[FNAME|u]][[else]]a%20b[[end]]"
    assert own.literal("x [[ y [", "plain") == "x [[='[']][ y [[='[']]"
    assert own.literal("x [[ y [", "html") == "x &#91;[ y &#91;"
    assert own.tags.findall("a [[if FNAME]]b[[end]]") == ["[[if FNAME]]", "[[end]]"]


def without(key: str) -> dict[str, Any]:
    return {name: value for name, value in DATA.items() if name != key}


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (without("header"), "has no `header`"),
        (without("openers"), "has no `openers`"),
        ({**DATA, "openers": ["a["]}, "cannot be an opener"),
        ({**DATA, "plian": "x"}, "has no `plian`"),
        ({**DATA, "html": "[[name]]"}, r"lacks \{name\}"),
        ({**DATA, "html": "<<{name}>>"}, "none of its openers"),
        ({**DATA, "attribute": '[[{name}|"x"]]'}, "double quote"),
        ({**DATA, "html": {"tag": "[[{name}]]", "fallback": "[[{name}|x]]"}}, r"lacks \{fallback\}"),
        ({**DATA, "html": {"tag": "[[{name}]]", "else": "x"}}, "unknown keys"),
        ({**DATA, "plain": "[[{name}\n]]"}, "line break"),
        ({**DATA, "plain": 3}, "no text"),
        ({**DATA, "when": {"open": "[[if {name}]]"}}, "not whole"),
        ({**DATA, "quotes": ["'"]}, "no mapping"),
        ({**DATA, "pre_encoded": ["first_name"]}, "not a recipient field"),
        (without("when"), "no way to write a fallback in attribute"),
    ],
)
def test_custom_dialects_are_checked(data: dict[str, Any], message: str) -> None:
    with pytest.raises(Fault, match=message):
        custom(data)


def test_the_nearest_key_is_offered() -> None:
    with pytest.raises(Fault) as caught:
        custom({**DATA, "plian": "x"})
    assert caught.value.nearest == "plain"


def test_a_dialect_without_literal_refuses_its_openers_in_text() -> None:
    own = custom(without("literal"))
    assert own.literal("[[a", "html") == "&#91;[a"
    with pytest.raises(Fault, match="read a part of the text"):
        own.literal("a [[ b", "plain")


def test_when_takes_recipient_fields_only() -> None:
    with pytest.raises(Fault, match="not a recipient field"):
        JINJA.when("offer.best")


def test_collisions_in_css() -> None:
    css = "@media all{#id{color:red}}.a{b:c}"
    assert collisions(css, JINJA) == ["{#"]
    assert collisions(css, LIQUID) == []
    assert collisions("a{{%", JINJA) == ["{{", "{%"]


def test_a_sample_lacks_no_link_in_silence() -> None:
    with pytest.raises(Fault) as caught:
        Sample({}, LINKS).tag(("link", "unsubscibe"), "url", None)
    assert caught.value.nearest == "unsubscribe"


@given(st.text())
def test_sample_url_values_are_one_component(value: str) -> None:
    # The stdlib's quote with no safe characters is RFC 3986 §2.1 over UTF-8 (row R35).
    if value and not any("\ud800" <= c <= "\udfff" for c in value):
        assert Sample({"first_name": value}, {}).tag(FIELD, "url", None) == quote(value, safe="")
