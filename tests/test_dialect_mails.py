"""Whole mails in each dialect: what its own engine writes for a recipient is what the sample's mail says.

Engines: jinja2, python-liquid, chevron (Mustache); Handlebars' own is asked in tests/outside. HTML is
compared after decoding character references (stdlib html.unescape, HTML standard §13.5): engines write quotes
in their own ways.
"""

from __future__ import annotations

import html
import re
from collections.abc import Mapping
from typing import Any

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


def resolved(shop: Any, dialect: str, fields: Mapping[str, str]) -> tuple[dict[str, str], dict[str, str]]:
    """The mail's files with tags, and as the sample recipient reads them."""
    from handbill.base.cache import Cache
    from handbill.loader import Loader
    from handbill.pipeline import renderer_for, resolve_campaign
    from handbill.render.render import assemble, pieces

    shop.put("handbill.yaml", workspace(dialect, fields))
    mail = resolve_campaign(Loader(shop.root, Cache()), shop.campaign(STACK, HEAD))
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
