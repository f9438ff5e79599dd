"""Rendering: conditions around a section, what makes a mail unfit, and blocks that fail.

Conditions are run by Jinja itself, with which the dialect `jinja` must agree.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import chevron
import jinja2
import pytest

from handbill.base.cache import Cache
from handbill.base.errors import MistakesError
from handbill.base.kept import Kept
from handbill.loader import Loader
from handbill.pipeline import render, renderer_for, resolve_campaign
from handbill.render import shell
from handbill.render.render import Piece, assemble, pieces

ONE = "  - block: copy\n    headline: One\n    copy: First words.\n"
SOME = "  - block: copy\n    headline: Some\n    copy: For some.\n    button: {label: Go, link: /go}\n"
TWO = "  - block: copy\n    headline: Two\n    copy: Last words.\n"
VIP = "    when: recipient.vip\n"
LINKS = {name: f"https://pellow.example/{name}" for name in ("unsubscribe", "preferences", "view_online")}


def sent(template: bytes, **recipient: str) -> str:
    """What a sending program with Jinja makes of it."""
    return jinja2.Template(template.decode()).render(recipient=recipient, link=LINKS)


def test_a_condition_holds_html_and_text(shop: Any) -> None:
    stack = "  - block: masthead\n" + ONE + SOME
    some = shop.compile(stack + VIP + TWO).built
    everyone = shop.compile(stack + TWO).built
    nobody = shop.compile("  - block: masthead\n" + ONE + TWO).built
    # the text is the very one of a mail without condition; in HTML only line ends between rows differ
    assert sent(some.text, vip="yes") == sent(everyone.text)
    for part in ("First words.", "Last words."):
        assert part in sent(some.text)
    assert sent(some.text) == sent(nobody.text).replace("part=copy-2", "part=copy-3")
    assert "".join(sent(some.html, vip="yes").split()) == "".join(sent(everyone.html).split())
    assert "For some." not in sent(some.html)


@pytest.mark.parametrize("vip", ["yes", ""])
def test_logic_less_templates_give_the_same_text(shop: Any, vip: str) -> None:
    """As chevron runs mustache, which drops a line that holds a section's tag alone (mustache(5))."""
    shop.change("handbill.yaml", "handbill: 1\n", "handbill: 1\ndialect: mustache\n")
    values = {"recipient": {"vip": vip}, "link": LINKS}

    def text(stack: str) -> str:
        made: str = chevron.render(shop.compile(stack).built.text.decode(), values)
        return made

    some = text(ONE + SOME + VIP + TWO)
    expected = text(ONE + SOME + TWO) if vip else text(ONE + TWO)
    assert some == (expected if vip else expected.replace("part=copy-2", "part=copy-3"))


@pytest.mark.parametrize(("fields", "inside"), [("{vip: yes}", True), ("{vip: ''}", False), ("{}", False)])
def test_the_sample_gets_what_a_recipient_like_it_gets(shop: Any, fields: str, inside: bool) -> None:
    shop.change("handbill.yaml", "{first_name: Ida, ref: a b}", fields)
    made = shop.compile(ONE + SOME + VIP)
    assert (b"For some." in made.built.eml) is inside
    assert b"{%" not in made.built.eml
    assert b"{% if recipient.vip %}" in made.built.html


def test_an_unsubscribe_that_only_some_get_is_none(shop: Any) -> None:
    (line,) = shop.mistakes(shop.campaign(ONE, foot="  - block: footer-nav\n" + VIP))
    assert "the unsubscribe link does not reach every recipient" in line
    assert "without when:" in line


def test_a_mail_without_unsubscribe_is_refused(shop: Any) -> None:
    (line,) = shop.mistakes(shop.campaign(ONE, foot=""))
    assert line.startswith("campaigns/spring.yaml:7:5: stack: no link of this mail is the unsubscribe")


def test_an_unsubscribe_in_copy_will_do(shop: Any) -> None:
    copy = "  - block: copy\n    copy: 'Enough? [Leave](${link.unsubscribe}).'\n"
    assert sent(shop.compile(shop.campaign(copy, foot="")).built.html).count(LINKS["unsubscribe"]) == 1


def test_styles_past_the_budget_are_refused(shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    made = shop.compile(ONE)
    mail = made.mail
    rendered = assemble(mail, pieces(mail, renderer_for(mail))[0])
    assert 0 < rendered.style_size <= 8192  # one large webmail drops more (check value E15, common practice)
    monkeypatch.setattr(shell, "MAX_STYLE", rendered.style_size)
    render(mail)
    monkeypatch.setattr(shell, "MAX_STYLE", rendered.style_size - 1)
    with pytest.raises(MistakesError, match=f"have {rendered.style_size:,} characters"):
        render(mail)


CUSTOM = """\
dialect:
  name: own
  openers: ["{opener}"]
  html: "{opener}{{name}}]"
  attribute: "{opener}{{name}}]"
  url: "{opener}{{name}}]"
  plain: "{opener}{{name}}]"
  header: "{opener}{{name}}]"
  when: {{open: "{opener}if {{name}}]", otherwise: "{opener}else]", close: "{opener}end]"}}
"""


@pytest.mark.parametrize(("opener", "clash"), [("[data-og", True), ("@media", True), ("[:", False)])
def test_openers_that_css_holds_are_refused(shop: Any, opener: str, clash: bool) -> None:
    shop.change("handbill.yaml", "handbill: 1\n", "handbill: 1\n" + CUSTOM.format(opener=opener))
    # a colour of its own in the dark gives hooks for readers that rewrite colours
    shop.change(
        "brands/pellow/brand.yaml", "legal:", 'colours: {text: {light: "#101010", dark: "#f0f0f0"}}\nlegal:'
    )
    if not clash:
        assert "[:link.unsubscribe]" in shop.compile(ONE).built.html.decode()
        return
    (line,) = shop.mistakes(ONE)
    assert line.startswith("handbill.yaml: dialect: the dialect own would read")
    assert opener in line


@pytest.mark.parametrize(
    ("html", "text", "file", "number"),
    [
        ("<p>\n{{ words.nope.deep }}</p>\n", "x\n", "block.html.j2", 2),
        ("<p>{{ words }}</p>\n", "x\n\n\n{{ words.nope.deep }}\n", "block.txt.j2", 4),
        ("<p>x</p>\n\n{% for one in amount %}{% endfor %}\n", "x\n", "block.html.j2", 3),
    ],
)
def test_a_block_that_fails_names_its_file_and_line(
    shop: Any, html: str, text: str, file: str, number: int
) -> None:
    folder = "brands/pellow/blocks/odd"
    fields = "fields: {words: {type: text}, amount: {type: number}}\n"
    shop.put(f"{folder}/block.yaml", f"handbill: 1\nblock: odd\nabout: Fails.\n{fields}")
    shop.put(f"{folder}/block.html.j2", html)
    shop.put(f"{folder}/block.css", "")
    shop.put(f"{folder}/block.txt.j2", text)
    lines = shop.mistakes(ONE + "  - block: odd\n    words: A\n    amount: 3\n")
    assert any(f"{folder}/{file}:{number}" in line for line in lines), lines


def test_pieces_that_did_not_change_are_taken_as_they_are(shop: Any) -> None:
    loader = Loader(shop.root, Cache())
    mail = resolve_campaign(loader, shop.campaign(ONE + TWO))
    renderer = renderer_for(mail)
    kept: Kept[Piece] = Kept(1)
    first, _ = pieces(mail, renderer, kept)  # keeps the last one
    foot = mail.sections[-1]
    again, _ = pieces(replace(mail, sections=(foot, *mail.sections[:-1])), renderer, kept)
    assert again == (first[-1], *first[:-1])
    assert again[0] is first[-1]
    assert again[1] is not first[0]


def test_every_html_piece_ends_in_a_newline(shop: Any) -> None:
    mail = resolve_campaign(Loader(shop.root, Cache()), shop.campaign(ONE + SOME + VIP + TWO))
    made, _ = pieces(mail, renderer_for(mail))
    assert all(piece.html.endswith("\n") for piece in made)
    assert all(not piece.sample_html or piece.sample_html.endswith("\n") for piece in made)
