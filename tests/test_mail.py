"""Whole mails resolved: subject, clock, headings, samples, conditions and what a manifest will list."""

from __future__ import annotations

from typing import Any

import html5lib
import pytest

COPY = "  - block: copy\n    headline: {0}\n    copy: Words.\n"
VIP = "    when: recipient.vip\n"


def levels(html: bytes) -> list[str]:
    tree = html5lib.parse(html, namespaceHTMLElements=False)
    return [one.tag + " " + "".join(one.itertext()) for one in tree.iter() if one.tag in ("h1", "h2", "h3")]


def test_the_first_heading_is_the_only_h1(shop: Any) -> None:
    made = shop.compile("  - block: masthead\n" + COPY.format("One") + COPY.format("Two"))
    assert levels(made.built.html) == ["h1 One", "h2 Two"]


def test_a_heading_that_only_some_get_is_not_the_h1(shop: Any) -> None:
    made = shop.compile(COPY.format("Some") + VIP + COPY.format("All"))
    assert [section.level for section in made.mail.sections] == [2, 1, 2]
    only = shop.compile(COPY.format("Some") + VIP + "  - block: copy\n    copy: Words.\n")
    assert [section.level for section in only.mail.sections] == [1, 2, 2]


def test_items_of_an_untitled_section_are_of_the_second_level(shop: Any) -> None:
    made = shop.compile("  - block: product-stack\n    products: [L-100]\n    button: {label: Buy}\n")
    assert levels(made.built.html) == ["h2 Wren"]


@pytest.mark.parametrize(
    ("head", "expected"),
    [
        ("subject: Hi ${recipient.frist_name}", ":5:10: subject: there is no recipient field `frist_name`"),
        ("subject: '${link.unsubscribe}'", "a link cannot stand in the subject"),
        ('subject: "a\\nb"', "subject: the subject takes no line break"),
        ("subject: '  '", "subject: the subject is empty"),
        ("preheader: '${link.preferences}'", "a link cannot stand in the preheader"),
        (
            "offer: {kind: markdown, ends: 2027-01-15T08:00}",
            "offer.ends: the offer ends before the mail is sent",
        ),
        (
            "offer: {kind: markdown, starts: 2027-01-18T08:00, ends: 2027-01-17T08:00}",
            "offer.starts: the offer starts after it ends",
        ),
        # summer time begins on the last Sunday of March at 1.00 UTC (Directive 2000/84/EC, article 2)
        ("send: 2027-03-28T01:30", "send: the clocks of Europe/Dublin skip 2027-03-28T01:30"),
        ("offer: {kind: markdown, ends: 2027-03-28T01:59}", "offer.ends: the clocks of Europe/Dublin skip"),
    ],
)
def test_what_is_wrong_in_the_head(shop: Any, head: str, expected: str) -> None:
    lines = shop.mistakes(COPY.format("One"), head)
    assert len(lines) == 1
    assert expected in lines[0]


def test_an_hour_that_exists_is_fine(shop: Any) -> None:
    shop.compile(COPY.format("One"), "send: 2027-03-28T02:00")
    shop.compile(COPY.format("One"), "send: 2027-10-31T01:30")  # twice that night: the first is taken


@pytest.mark.parametrize(
    ("extra", "what"),
    [
        ("    button: {label: 'Hi ${recipient.first_name}', link: /x}\n", "recipient.first_name"),
        (VIP, "recipient.vip"),
    ],
)
def test_a_workspace_without_fields_says_where_to_declare_them(shop: Any, extra: str, what: str) -> None:
    shop.put("handbill.yaml", "handbill: 1\n")
    (line,) = shop.mistakes(COPY.format("One") + extra)
    name = what.removeprefix("recipient.")
    assert f"{what} is used, but the workspace declares no recipient fields" in line
    assert line.endswith(f"expected fields: {{{name}: {{}}}} in handbill.yaml")


def test_samples_alone_declare_fields(shop: Any) -> None:
    shop.put("handbill.yaml", "handbill: 1\nsamples: [{fields: {town: Corrin}}]\n")
    made = shop.compile(COPY.format("One"), "subject: News for ${recipient.town}")
    assert made.mail.subject.sampled.header == "News for Corrin"
    assert "recipient.town" in made.mail.subject.tagged.header


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            "{first_name: Ida,",
            "{frist_name: Ida,",
            "samples[0].fields.frist_name: there is no recipient field frist_name",
        ),
        ("unsubscribe:", "unsubscrib:", "nearest: unsubscribe"),
        ("first_name: Ida", 'first_name: "I\\u0002da"', "U+0002"),
        ("ida@reader.example", "ida at reader", "samples[0].address"),
        ('"https://pellow.example/stop?reader=ida"', "ftp://x", "samples[0].links.unsubscribe"),
        ("handbill: 1\n", "handbill: 1\ndialect: ninja\n", "dialect: no dialect ninja"),
    ],
)
def test_what_is_wrong_in_the_workspace(shop: Any, old: str, new: str, expected: str) -> None:
    shop.change("handbill.yaml", old, new)
    lines = shop.mistakes(COPY.format("One"))
    assert len(lines) == 1, lines
    assert lines[0].startswith("handbill.yaml")
    assert expected in lines[0]


@pytest.mark.parametrize(
    ("when", "expected"),
    [
        (
            "recipient.vpi",
            "there is no recipient field `vpi`; expected one of first_name, ref, vip; nearest: recipient.vip",
        ),
        ("vip", "when: vip is not a recipient field"),
    ],
)
def test_conditions_are_checked(shop: Any, when: str, expected: str) -> None:
    (line,) = shop.mistakes(COPY.format("One") + f"    when: {when}\n")
    assert line.startswith("campaigns/spring.yaml:10:")
    assert expected in line


def test_words_of_another_language_are_asked_for_where_they_are_used(shop: Any) -> None:
    lines = shop.mistakes(COPY.format("Raz"), "language: pl-PL")
    (foot,) = [line for line in lines if "footer-nav" in line]
    assert "block footer-nav has no words in pl-PL: " in foot
    assert "unsubscribe" in foot
    assert not [line for line in lines if "testimonial" in line]


def test_facts_used_are_listed_and_no_others(shop: Any) -> None:
    stack = "  - block: product-stack\n    title: From ${offer.lowest_price}\n    products: [L-100, L-200]\n"
    made = shop.compile(stack + '    button: {label: "Get ${product.name}"}\n')
    assert made.built.manifest["facts"] == {"offer.lowest_price": "€30.50"}
    assert made.built.manifest["product_facts"] == {
        "L-100": {"product.name": "Wren"},
        "L-200": {"product.name": "Rook"},
    }
