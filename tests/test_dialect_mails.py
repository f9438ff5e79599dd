"""Whole mails in each dialect: what its own engine writes for a recipient is what the sample's mail says.

Engines: jinja2, python-liquid, chevron (Mustache); Handlebars' own is asked in tests/outside. HTML is
compared after decoding character references (stdlib html.unescape, HTML standard §13.5): engines write quotes
in their own ways.
"""

from __future__ import annotations

import html
import json
import re
from collections.abc import Mapping
from email import message_from_bytes
from email.policy import default
from typing import Any
from urllib.parse import parse_qs, unquote, urlsplit

import jinja2
import pytest
from tests.test_dialects import by_chevron, by_jinja, by_liquid

LINKS = {
    "unsubscribe": "https://pellow.example/stop?reader=ida&x='1'",
    "preferences": "https://pellow.example/settings?reader=ida",
    "view_online": "https://pellow.example/online?reader=ida",
}
RECIPIENTS: Mapping[str, dict[str, str]] = {
    "plain": {"first_name": "Ida", "vip": "yes", "token": "a%20b"},
    "long": {"first_name": "Wilhelmina-Konstanze Amalie Theodora von und zu Immergrün", "token": "x"},
    "missing": {},
    "right-to-left": {"first_name": "שלומית", "vip": "1", "token": "%D7%A9"},
    "hostile": {"first_name": 'O\'Neil & "Sons" <b>50% off</b> {{x}} {% y %}', "token": "q%26r"},
}
STACK = """\
  - block: masthead
  - block: hero
    headline: Hello ${recipient.first_name or "you"}
    copy: For **${recipient.first_name or "you & yours"}**, [your page](/me?key=${recipient.token}).
    button: {label: "In, ${recipient.first_name}", link: "/go?key=${recipient.token}"}
    picture: {file: wren.png, alt: "A lamp for ${recipient.first_name or \\"you\\"}"}
  - block: copy
    when: recipient.vip
    headline: Yours first
    copy: Come early, ${recipient.first_name}.
    otherwise: {headline: "Soon, ${recipient.first_name or \\"friend\\"}"}
  - block: note
    when: recipient.vip
    copy: Only for some.
  - block: headline
    when: recipient.vip
    headline: One
    otherwise: {block: copy, copy: Two.}
"""
HEAD = """\
subject: A letter for ${recipient.first_name or "you"}
preheader: Dear ${recipient.first_name or "reader"}
"""
ENGINES = {"jinja": by_jinja, "liquid": by_liquid, "mustache": by_chevron}


def workspace(dialect: str, fields: Mapping[str, str]) -> str:
    def listed(values: Mapping[str, str]) -> str:
        return ", ".join(f"{name}: '{value.replace(chr(39), chr(39) * 2)}'" for name, value in values.items())

    return (
        f"handbill: 1\ndialect: {dialect}\n"
        "fields: {first_name: {}, vip: {}, token: {encoded: true}}\n"
        f"samples:\n  - address: ida@reader.example\n    fields: {{{listed(fields)}}}\n"
        f"    links: {{{listed(LINKS)}}}\n"
    )


def resolved(
    shop: Any, dialect: str, fields: Mapping[str, str], stack: str = STACK, own: str = ""
) -> tuple[dict[str, str], dict[str, str]]:
    """The mail's files with tags, and as the sample recipient reads them; `own` is a handbill.yaml."""
    from handbill.base.cache import Cache
    from handbill.loader import Loader
    from handbill.pipeline import renderer_for, resolve_campaign
    from handbill.render.render import assemble, pieces

    shop.put("handbill.yaml", own or workspace(dialect, fields))
    mail = resolve_campaign(Loader(shop.root, Cache()), shop.campaign(stack, HEAD))
    made, wrong = pieces(mail, renderer_for(mail))
    assert not wrong
    whole = assemble(mail, made)
    tagged = {"html": "".join(whole.html), "text": "".join(whole.text), "subject": mail.subject.tagged.header}
    sample = {"html": "".join(whole.sample_html), "text": "".join(whole.sample_text)}
    return tagged, {**sample, "subject": mail.subject.sampled.header}


def shown(text: str, part: str) -> str:
    """What is read: references decoded; line ends around a condition's tags say nothing."""
    read = html.unescape(text) if part == "html" else text
    return re.sub(r"\n\s*\n+", "\n", read).strip()


@pytest.mark.parametrize("recipient", RECIPIENTS)
@pytest.mark.parametrize("dialect", ENGINES)
def test_the_engine_writes_the_mail_that_the_sample_shows(shop: Any, dialect: str, recipient: str) -> None:
    fields = RECIPIENTS[recipient]
    tagged, sample = resolved(shop, dialect, fields)
    data = {"recipient": dict(fields), "link": LINKS}
    for part, template in tagged.items():
        got, want = shown(ENGINES[dialect](template, data), part), shown(sample[part], part)
        assert got == want, (dialect, recipient, part)
    assert ("Yours first" in sample["html"]) is bool(fields.get("vip"))
    assert ("Two." in sample["text"]) is not bool(fields.get("vip"))


# -- headers


@pytest.mark.parametrize("recipient", RECIPIENTS)
@pytest.mark.parametrize("dialect", ENGINES)
def test_headers_are_those_of_the_sample(shop: Any, dialect: str, recipient: str) -> None:
    """The manifest's headers, filled in by the engine, are those that the sample's mail has on the wire, as
    Python's email package decodes them (RFC 2047, RFC 2369)."""
    shop.put("handbill.yaml", workspace(dialect, RECIPIENTS[recipient]))
    made = shop.compile(shop.campaign(STACK, HEAD))
    tagged = json.loads((made.folder / "manifest.json").read_text("utf-8"))["headers"]
    mail = message_from_bytes((made.folder / "email.eml").read_bytes(), policy=default)
    data = {"recipient": dict(RECIPIENTS[recipient]), "link": LINKS}
    assert {"Subject", "List-Unsubscribe", "List-Unsubscribe-Post"} <= set(tagged)
    for name, template in tagged.items():
        assert ENGINES[dialect](template, data) == str(mail[name]), name


# -- links that the engine encodes

LINKED = """\
  - block: hero
    headline: Yours
    copy: Your [page](/me/${recipient.first_name or "you"}), [settings](${link.preferences}), [online](${link.view_online}).
    button: {label: In, link: "/go?name=${recipient.first_name}&from=letter&again=${recipient.first_name or \\"you & me\\"}"}
    picture: {file: wren.png, alt: "For ${recipient.first_name}", link: "/see?who=${recipient.first_name}#${recipient.first_name or \\"top\\"}"}
  - block: closing
    when: recipient.vip
    button: {label: "First, ${recipient.first_name}", link: "/first?name=${recipient.first_name}"}
    otherwise: {button: {label: "Later, ${recipient.first_name or \\"friend\\"}", link: "/later?name=${recipient.first_name}"}}
  - block: product-stack
    products: [L-100]
    button: {label: "Get it, ${recipient.first_name or \\"friend\\"}", link: "/lamps/wren?for=${recipient.first_name}"}
"""  # noqa: E501


@pytest.mark.parametrize("recipient", RECIPIENTS)
@pytest.mark.parametrize("dialect", ["jinja", "liquid"])
def test_a_field_in_a_link_is_one_component_of_it(shop: Any, dialect: str, recipient: str) -> None:
    """The engine's links are the sample's, and take apart (urllib, RFC 3986) into what was put in."""
    fields = RECIPIENTS[recipient]
    tagged, sample = resolved(shop, dialect, fields, LINKED)
    data = {"recipient": dict(fields), "link": LINKS}
    got = ENGINES[dialect](tagged["html"], data)
    assert shown(got, "html") == shown(sample["html"], "html")
    assert shown(ENGINES[dialect](tagged["text"], data), "text") == shown(sample["text"], "text")
    name = fields.get("first_name", "")
    hrefs = [urlsplit(html.unescape(one)) for one in re.findall(r'href="([^"]*)"', got)]
    of = {one.path: parse_qs(one.query, keep_blank_values=True) for one in hrefs}
    assert of["/go"]["name"] == [name]
    assert of["/go"]["again"] == [name or "you & me"]
    assert of["/go"]["from"] == ["letter"]
    assert of["/see"]["who"] == [name]
    assert {unquote(one.fragment) for one in hrefs if one.path == "/see"} == {name or "top"}
    assert unquote(next(one.path for one in hrefs if one.path.startswith("/me/"))) == f"/me/{name or 'you'}"
    assert of["/first" if fields.get("vip") else "/later"]["name"] == [name]
    assert ("/later" if fields.get("vip") else "/first") not in of
    assert of["/lamps/wren"]["for"] == [name]
    assert {LINKS["preferences"], LINKS["view_online"]} <= {one.geturl() for one in hrefs}


# -- a dialect of one's own

SQUARE = """\
handbill: 1
dialect:
  name: square
  openers: ["[[", "[%", "[#"]
  html: "[[ ({name} or '')|e ]]"
  attribute: "[[ ({name} or '')|e ]]"
  url: "[[ ({name} or '')|string|urlencode|replace('/', '%2F') ]]"
  plain: "[[ {name} or '' ]]"
  header: "[[ {name} or '' ]]"
  when: {open: "[% if {name} %]", otherwise: "[% else %]", close: "[% endif %]"}
  literal: "[[ '{text}' ]]"
"""


def by_square(template: str, data: Mapping[str, Any]) -> str:
    """jinja2 with other delimiters: the engine of a dialect of one's own."""
    environment = jinja2.Environment(
        block_start_string="[%", block_end_string="%]", variable_start_string="[[", variable_end_string="]]",
        comment_start_string="[#", comment_end_string="#]", keep_trailing_newline=True,
    )  # fmt: skip
    return environment.from_string(template).render(data)


@pytest.mark.parametrize("stack", [STACK, LINKED], ids=["mail", "links"])
@pytest.mark.parametrize("recipient", RECIPIENTS)
def test_a_whole_mail_in_a_dialect_of_ones_own(shop: Any, recipient: str, stack: str) -> None:
    fields = RECIPIENTS[recipient]
    own = SQUARE + workspace("square", fields).partition("dialect: square\n")[2]
    tagged, sample = resolved(shop, "square", fields, stack.replace("Yours", "Yours [[1]]"), own)
    data = {"recipient": dict(fields), "link": LINKS}
    for part, template in tagged.items():
        assert shown(by_square(template, data), part) == shown(sample[part], part), part
    assert ("Yours [[1]]" in sample["text"]) is (stack == LINKED or bool(fields.get("vip")))
