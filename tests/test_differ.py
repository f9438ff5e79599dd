"""Two mails compared in words: the demo's sale against itself with one thing changed at a time."""

# ruff: noqa: E501 - sentences whole, on one line

from __future__ import annotations

import re
from itertools import permutations
from pathlib import Path

import pytest
from tests.conftest import Shop

from handbill.apps.differ import Part, Side, _merged, _moved, apart, differences, side, summary
from handbill.apps.seen import stands
from handbill.apps.told import cells, sentences, wrapped
from handbill.base.cache import Cache
from handbill.base.source import parse_yaml
from handbill.loader import Loader
from handbill.pipeline import resolve_doc

ROOT = Path(__file__).parents[1] / "demo"
NAME = "campaigns/winter-last-call.yaml"
# the demo's sale, with the picture at its top as plain as can be
SALE = re.sub(
    r"    picture:(?:\n      .*)+\n",
    "    picture: {file: hero.jpg, alt: A kettle on a stove}\n",
    (ROOT / NAME).read_text("utf-8").partition("\nvariants:")[0] + "\n",
    count=1,
)


@pytest.fixture(scope="module")
def loader() -> Loader:
    return Loader(ROOT, Cache())


@pytest.fixture(scope="module")
def before(loader: Loader) -> Side:
    return made(loader, SALE)


def made(loader: Loader, text: str) -> Side:
    return side(resolve_doc(loader, parse_yaml(text.encode(), NAME)))


def changed(loader: Loader, before: Side, *pairs: tuple[str, str]) -> tuple[Part, ...]:
    text = SALE
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return differences(before, made(loader, text))


def said(parts: tuple[Part, ...]) -> list[tuple[str, str, str]]:
    """What is said, with pictures' heights as N: the demo's pictures are not this test's."""
    return [
        (part.id, change.kind, re.sub(r"× \d+ px", "× N px", change.said))
        for part in parts
        for change in part.changes
    ]


def test_a_mail_does_not_differ_from_itself(loader: Loader, before: Side) -> None:
    assert changed(loader, before) == ()
    assert summary(()) == ""


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("subject: Up to ${offer.best_percent} off, gone by sunrise", "subject: Last hours",
         [("", "words", "subject: “Up to 60% off, gone by sunrise” becomes “Last hours”")]),
        ("headline: Gone by sunrise.", "headline: The shelf is bare.",
         [("top", "words", "headline: “Gone by sunrise.” becomes “The shelf is bare.”")]),
        ("{label: See what is left, link: /sale}", "{label: See what is left, link: /kettles}",
         [("top", "link", "button link leads to https://orrowby.example/kettles instead of https://orrowby.example/sale")]),
        ("{file: hero.jpg, alt", "{file: sunrise.jpg, alt",
         [("top", "picture", "picture: hero.jpg, 600 × N px becomes sunrise.jpg, 600 × N px")]),
        ("{file: hero.jpg, alt", "{file: hero.jpg, dark: sunrise.jpg, alt",
         [("top", "picture", "picture: hero.jpg, 600 × N px becomes hero.jpg, 600 × N px, sunrise.jpg on dark screens")]),
        ("{file: sunrise.jpg, dark: sunrise-dark.jpg, alt", "{file: sunrise.jpg, density: 1, dark: sunrise-dark.jpg, alt",
         [("closing", "picture", "picture: sunrise.jpg, 600 × N px, sunrise-dark.jpg on dark screens as before, but cut, coloured or drawn otherwise")]),
        ("    tone: sunrise\n", "    tone: frost\n", [("closing", "look", "tone: frost instead of sunrise")]),
        ("  - block: masthead\n", "", [("masthead", "dropped", "the section is left out (masthead)")]),
        ("  - block: masthead\n", "  - block: masthead\n  - {block: note, copy: Until Sunday}\n",
         [("note", "added", "a new section, after masthead (note: “Until Sunday”)")]),
        ("    kicker: Up to ${offer.best_percent} off, winter’s\xa0last\xa0chance\n", "",
         [("top", "dropped", "kicker “Up to 60% off, winter’s\xa0last\xa0chance” is left out")]),
        ("    headline: Gone by sunrise.\n", "    headline: Gone by sunrise.\n    size: title\n",
         [("top", "look", "size: title instead of display")]),
    ],
)  # fmt: skip
def test_one_thing_at_a_time(
    loader: Loader, before: Side, old: str, new: str, expected: list[tuple[str, str, str]]
) -> None:
    assert said(changed(loader, before, (old, new))) == expected


def test_products_left_out_and_in_another_order(loader: Loader, before: Side) -> None:
    lines = SALE.splitlines(keepends=True)
    at = next(number for number, one in enumerate(lines) if "sku: S-110" in one)
    fewer = differences(before, made(loader, "".join(lines[:at] + lines[at + 1 :])))
    assert ("product-stack", "dropped", "product “Wick” is left out") in said(fewer)
    assert not any("Wick" in one and "price" in one for _id, _kind, one in said(fewer))
    lines[at], lines[at + 1] = lines[at + 1], lines[at]
    (change, *_sides) = differences(before, made(loader, "".join(lines)))[0].changes
    assert change.kind == "order"
    assert change.said.startswith("products in another order: Tarn, Drover, Wick, Flint")
    assert "; was Tarn, Wick, Drover, Flint" in change.said


def told(parts: tuple[Part, ...]) -> dict[str, list[str]]:
    return {part.id: [re.sub(r"× \d+ px", "× N px", one) for one in sentences(part)] for part in parts}


def test_what_products_share_is_said_once(loader: Loader, before: Side) -> None:
    lines = SALE.splitlines(keepends=True)
    kept = [one for one in lines if "sku: S-110" not in one and "sku: B-120" not in one]
    fewer = told(differences(before, made(loader, "".join(kept))))
    assert fewer["product-stack"] == ["products: “Wick”, “Drover” left out"]
    one = told(differences(before, made(loader, "".join(one for one in lines if "sku: S-110" not in one))))
    assert one["product-stack"] == [
        "product “Wick” is left out",
        "side: start instead of end in Drover, Ember, Burrow, Dawn and Dusk",
        "side: end instead of start in Flint, Lee",
    ]
    alone = changed(loader, before, ('button: {label: "Get', 'now_word: alone\n    button: {label: "Get'))
    assert told(alone)["product-stack"][1] == (
        "old price left out: Tarn €89, Wick €48, Drover €54, Flint €72, Ember €129, Burrow €118, Lee €40"
    )
    assert summary(alone) == "product-stack: now word, old price of 7, the word for was"


def test_another_block_says_what_it_says(loader: Loader, before: Side) -> None:
    """What stays under the same name is compared; how each block is made is not told."""
    start, end = SALE.index("  - block: closing"), SALE.index("  - standing: footer")
    text = (
        SALE[:start]
        + "  - {block: copy, id: closing, headline: Then it is day., copy: The end.}\n"
        + SALE[end:]
    )
    parts = differences(before, made(loader, text))
    assert told(parts) == {
        "closing": [
            "the block copy instead of closing",
            "tone: base instead of sunrise",
            "caption “7.04 sunrise” is left out",
            "copy: “Twenty-six more pieces are still on the shelf. No second round, no extra hour.” becomes “The end.”",
            "button “Shop the whole sale” is left out",
            "picture sunrise.jpg, 600 × N px, sunrise-dark.jpg on dark screens is left out",
        ]
    }
    assert summary(parts) == "closing: block, tone, caption, copy, 2 more"


def test_links_that_are_not_shown_are_not_told(loader: Loader, before: Side) -> None:
    """The brand's navigation stands in one section and leaves another."""
    parts = changed(
        loader, before, ("  - block: masthead\n", "  - {block: masthead, navigation: inline}\n"),
        ("    set:\n", "    set:\n      footer-nav.navigation: none\n"),
    )  # fmt: skip
    assert told(parts) == {
        "masthead": [
            "navigation: inline instead of none",
            "navigation: “Kettles”, “Cookware”, “Repairs”, “Shops” new",
        ],
        "footer-nav": [
            "navigation: none instead of inline",
            "navigation: “Kettles”, “Cookware”, “Repairs”, “Shops” left out",
        ],
    }
    assert summary(parts).startswith("masthead: navigation, with Kettles, Cookware, Repairs, Shops; footer")


def test_another_shops_address_is_said_once(shop: Shop) -> None:
    shop.put(
        "brands/tern/brand.yaml",
        "handbill: 1\nbrand: tern\nextends: pellow\nname: Tern\nsite: https://tern.example\n",
    )
    for name in ("products.csv", "reviews.csv"):
        shop.put(f"brands/tern/{name}", (shop.root / f"brands/pellow/{name}").read_bytes())
    stack = "  - {block: closing, button: {label: All, link: /all}}\n  - {block: product-stack, products: [L-100, L-200]}\n"
    loader = Loader(shop.root, Cache())
    first = side(resolve_doc(loader, loader.read(shop.campaign(stack, name="a"))))
    moved = stack.replace("/all", "/sale")
    second = side(resolve_doc(loader, loader.read(shop.campaign(moved, "brand: tern", name="b"))))
    parts = differences(first, second)
    assert told(parts) == {
        "": [
            "shop: “Pellow” becomes “Tern”",
            "the shop's links lead to https://tern.example instead of https://pellow.example",
        ],
        "closing": ["button link leads to https://tern.example/sale instead of https://pellow.example/all"],
    }
    assert summary(parts) == "for Tern; closing: button link"


def test_links_of_one_product_are_told_together(shop: Shop) -> None:
    path = shop.campaign("  - {block: product-stack, products: [L-100], button: {label: Get it}}\n")
    first = side(resolve_doc(Loader(shop.root, Cache()), Loader(shop.root, Cache()).read(path)))
    shop.change("brands/pellow/products.csv", "/lamps/wren", "/lamps/wren-2")
    again = Loader(shop.root, Cache())
    (lines,) = told(differences(first, side(resolve_doc(again, again.read(path))))).values()
    (line,) = lines
    assert line.startswith(
        "3 links lead to https://pellow.example/lamps/wren-2 instead of https://pellow.example/lamps/wren: "
    )
    assert set(line.rpartition(": ")[2].split(", ")) == {"Wren link", "Wren picture link", "Wren button link"}


def test_long_texts_are_cut_down_to_what_differs() -> None:
    old = "On Sunday at seven the sun clears the ridge. Whatever is still on the shelf then goes back to full price."
    assert apart(old, old.replace("then goes", "after that goes")) == (
        "… still on the shelf then goes back to full …",
        "… still on the shelf after that goes back to full …",
    )
    assert apart(old, f"{old} So be quick.") == (
        "… back to full price.",
        "… back to full price. So be quick.",
    )
    assert apart(old, old.replace("On", "Next")) == ("On Sunday at seven the …", "Next Sunday at seven the …")
    other = "Nothing of it is the same, whichever way you turn it and wherever you begin to read it, truly nothing."
    assert apart(old, other) == (old, other)
    assert apart("One two", "One three") == ("One two", "One three")


@pytest.mark.parametrize("columns", [40, 57, 80, 200])
def test_sentences_go_on_below_themselves(columns: int) -> None:
    """Every line fits; the words are those that went in; Japanese takes two cells a character (UAX 11)."""
    text = "headline: “Gone by sunrise.” becomes “夜明けには、 もう ありません。” and a verylongwordthatstaysinone"
    lines = list(wrapped(text, columns, 2, 4))
    assert " ".join(line.strip() for line in lines) == text
    assert all(cells(line) <= columns for line in lines)
    assert [len(line) - len(line.lstrip()) for line in lines] == [2, *[4] * (len(lines) - 1)]
    assert list(wrapped(text, None, 2, 4)) == [f"  {text}"]
    assert cells("夜明け") == 6
    assert cells("e\u0301") == 1


def test_a_section_that_moved(loader: Loader, before: Side) -> None:
    start, end = SALE.index("  - block: closing"), SALE.index("  - standing: footer")
    stack = SALE.index("  - block: product-stack")
    text = SALE[:stack] + SALE[start:end] + SALE[stack:start] + SALE[end:]
    parts = differences(before, made(loader, text))
    assert said(parts) == [("closing", "moved", "moved up: now after top")]
    assert summary(parts) == "closing: moved"


def test_prices_of_another_catalogue(shop: Shop) -> None:
    path = shop.campaign("  - {block: product-stack, products: [L-100]}\n")
    first = side(resolve_doc(Loader(shop.root, Cache()), Loader(shop.root, Cache()).read(path)))
    shop.change("brands/pellow/products.csv", ",40,80,", ",35,80,")
    again = Loader(shop.root, Cache())
    second = side(resolve_doc(again, again.read(path)))
    assert said(differences(first, second)) == [
        ("product-stack", "price", "Wren price: €40.00 becomes €35.00")
    ]


def test_link_tags_are_said_once(shop: Shop) -> None:
    path = shop.campaign("  - {block: closing, button: {label: All, link: /all}}\n")
    first = side(resolve_doc(Loader(shop.root, Cache()), Loader(shop.root, Cache()).read(path)))
    shop.change("brands/pellow/brand.yaml", "{from: letter,", "{from: arm-b,")
    again = Loader(shop.root, Cache())
    parts = differences(first, side(resolve_doc(again, again.read(path))))
    assert said(parts)[0] == ("", "link", "every link carries from=arm-b instead of letter")
    assert not any(kind == "link" for part, kind, _said in said(parts) if part)


def test_who_gets_a_section(shop: Shop) -> None:
    loader = Loader(shop.root, Cache())
    one = "  - {block: copy, copy: Welcome}\n"
    plain = side(resolve_doc(loader, loader.read(shop.campaign(one, name="a"))))
    path = shop.campaign(
        "  - {block: copy, copy: Welcome, when: recipient.vip, otherwise: {copy: Hello}}\n", name="b"
    )
    split = side(resolve_doc(loader, loader.read(path)))
    told = said(differences(plain, split))
    assert next(kind for part, kind, _said in told if part == "copy") == "condition"
    assert ("copy", "added", "otherwise copy “Hello” is new") in told


def pair(shop: Shop, first: str, second: str, head: str = "") -> tuple[Part, ...]:
    """A section `copy` written in two ways, the second one's campaign with more in its head, compared."""
    loader = Loader(shop.root, Cache())
    made_ = [
        side(
            resolve_doc(loader, loader.read(shop.campaign(f"  - {{block: copy, {one}}}\n", more, name=name)))
        )
        for one, more, name in ((first, "", "a"), (second, head, "b"))
    ]
    return differences(made_[0], made_[1])


def test_what_the_others_get_is_one_thing_in_a_summary(shop: Shop) -> None:
    parts = pair(shop, "copy: Hi", "copy: Hi, when: recipient.vip, otherwise: {copy: Ho, kicker: Ha}")
    assert summary(parts) == "copy: when, otherwise"
    assert "otherwise copy “Ho” is new" in told(parts)["copy"]
    assert not any("otherwise align" in one for one in told(parts)["copy"])


def test_when_it_is_sent_and_which_way_it_reads(shop: Shop) -> None:
    parts = pair(shop, "copy: Hi", "copy: Hi", "send: 2027-01-16T09:30\ndir: rtl")
    assert told(parts) == {
        "": [
            "sent: 2027-01-16 09:30 instead of 2027-01-15 08:00",
            "direction: right to left instead of left to right",
        ]
    }
    assert summary(parts) == "sent, direction"


def test_a_sections_own_language_is_heard(shop: Shop) -> None:
    parts = pair(shop, "copy: Chat", "copy: Chat, lang: fr-FR")
    assert told(parts) == {"copy": ["language: fr-FR instead of en-IE"]}


def test_words_count_in_another_countrys_form_of_a_language(shop: Shop) -> None:
    assert summary(pair(shop, "copy: Gray", "copy: Grey", "language: en-GB")) == "in en-GB; copy: copy"
    assert summary(pair(shop, "copy: Gray", "copy: Grau", "language: de-DE")) == "in de-DE"
    assert summary(pair(shop, "copy: Gray", "copy: אפור", "language: he")) == "in he"


def test_words_inside_longer_ones_are_not_seen() -> None:
    assert not stands("statt", "<p>Lampenreparaturwerkstatt</p>")
    assert stands("statt", "<p>Werkstatt</p><s>statt</s>")
    assert stands("was", "was 12")
    assert not stands("was", "wasp")
    assert stands("元", "次元の")  # a script that writes without spaces


def test_spaces_that_cannot_be_seen_are_named(loader: Loader, before: Side) -> None:
    parts = changed(loader, before, ("5.10\xa0\xa0still dark", "5.10 still dark"))
    assert said(parts) == [
        (
            "product-stack",
            "words",
            "Tarn caption: “5.10 still dark” as before, with other spaces or line breaks",
        )
    ]


def test_a_summary_fits_a_line(loader: Loader, before: Side) -> None:
    parts = changed(
        loader, before, ("subject: Up", "subject: Still up"), ("headline: Gone by", "headline: Bare by"),
        ("{label: See what is left", "{label: See it"), ("  - block: masthead\n", ""),
    )  # fmt: skip
    assert summary(parts) == "subject; without masthead; top: headline, button label"


def test_the_fewest_sections_move() -> None:
    """Against every way to keep a run in order, by brute force."""
    names = list("abcde")
    for order in permutations(names):
        moved = _moved(names, order)
        still = [one for one in order if one not in moved]
        assert still == sorted(still)
        longest = max(
            (mask.bit_count() for mask in range(32)
             if (kept := [one for at, one in enumerate(order) if mask >> at & 1]) == sorted(kept)),
        )  # fmt: skip
        assert len(still) == longest


def test_what_is_left_out_stands_where_it_was() -> None:
    assert _merged(["a", "b", "c"], ["c", "x", "a"]) == ["c", "x", "a", "b"]
    assert _merged(["a", "b"], ["b"]) == ["a", "b"]
