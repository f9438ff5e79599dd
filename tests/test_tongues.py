"""Sections for some recipients and what the others get; sections in a language or direction of their own.

Prices and dates are CLDR's, by Babel; isolates are those of UAX #9 §2.4.
"""

from __future__ import annotations

import datetime
import re
from email import message_from_bytes, policy
from typing import Any

import jinja2
import pytest
from babel.dates import format_date
from babel.numbers import format_currency

from handbill.pipeline import renderer_for
from handbill.render.render import pieces
from handbill.resolve.slots import area_of

LRI, PDI = "\u2066", "\u2069"

CHANGED = """\
  - block: copy
    id: hello
    when: recipient.vip
    headline: For you alone
    copy: Come early.
    otherwise: {headline: For everybody}
"""
WHOLE = """\
  - block: headline
    when: recipient.vip
    headline: Yours first
    otherwise:
      block: copy
      copy: Soon for you too.
"""
VIP = "fields: {first_name: Ida, ref: a b}"


def filled(made: Any, part: str, **fields: str) -> str:
    """A file of the mail as jinja2 itself fills it."""
    environment = jinja2.Environment(keep_trailing_newline=True)
    data = {"recipient": fields, "link": dict.fromkeys(("unsubscribe", "preferences", "view_online"), "")}
    return environment.from_string(getattr(made.built, part).decode()).render(data)


def sampled(made: Any) -> tuple[str, str]:
    message = message_from_bytes(made.built.eml, policy=policy.default)
    text, html = message.iter_parts()
    return str(html.get_content()), str(text.get_content())


# -- what the others get


def test_fields_that_differ_take_the_place_of_the_sections_own(shop: Any) -> None:
    made = shop.compile(CHANGED)
    for part in ("html", "text"):
        vip, others = filled(made, part, vip="yes"), filled(made, part)
        assert "For you alone" in vip
        assert "For everybody" not in vip
        assert "For everybody" in others
        assert "For you alone" not in others
        assert "Come early." in vip
        assert "Come early." in others


def test_a_whole_section_takes_its_place(shop: Any) -> None:
    made = shop.compile(WHOLE)
    vip, others = filled(made, "text", vip="1"), filled(made, "text")
    assert "Yours first" in vip
    assert "Soon" not in vip
    assert "Soon for you too." in others
    assert "Yours" not in others


def test_a_standing_section_takes_its_place(shop: Any) -> None:
    shop.put("brands/pellow/standing/greeting.yaml", "block: copy\ncopy: Good day.\nheadline: Day\n")
    use = "  - {block: copy, copy: Hi., when: recipient.vip, otherwise: {standing: greeting, headline: Hi}}\n"
    others = filled(shop.compile(use), "text")
    assert others.startswith("Hi\n\nGood day.\n")


@pytest.mark.parametrize("vip", [True, False])
def test_the_sample_reads_the_branch_that_is_its_own(shop: Any, vip: bool) -> None:
    if vip:
        shop.change("handbill.yaml", VIP, "fields: {first_name: Ida, ref: a b, vip: gold}")
    for read in sampled(shop.compile(CHANGED)):
        assert ("For you alone" in read) is vip
        assert ("For everybody" in read) is not vip
        assert "{%" not in read


def test_both_branches_are_one_section_of_the_manifest(shop: Any) -> None:
    made = shop.compile(CHANGED + WHOLE)
    sections = made.built.manifest["sections"]
    assert [one["id"] for one in sections] == ["hello", "headline", "footer-nav"]
    start, end = sections[0]["bytes"]
    piece = made.built.html[start:end].decode()
    assert piece.startswith("{% if recipient.vip %}\n<tr>")
    assert piece.endswith("{% endif %}\n")
    assert "For you alone" in piece
    assert "For everybody" in piece


def test_links_of_both_branches_are_listed_and_tagged_with_the_same_section(shop: Any) -> None:
    stack = """\
  - block: button
    id: go
    when: recipient.vip
    button: {label: In, link: /early}
    otherwise: {button: {label: Wait, link: /later}}
"""
    links = [one["address"] for one in shop.compile(stack).built.manifest["links"] if one["section"] == "go"]
    assert links == [
        "https://pellow.example/early?from=letter&part=go",
        "https://pellow.example/later?from=letter&part=go",
    ]


def test_kept_pieces_are_the_same_piece(shop: Any) -> None:
    from handbill.base.kept import Kept

    mail = shop.compile(CHANGED).mail
    kept: Any = Kept(10)
    renderer = renderer_for(mail)
    first, _ = pieces(mail, renderer, kept)
    again, _ = pieces(mail, renderer, kept)
    assert all(one is other for one, other in zip(first, again, strict=True))


def test_an_unsubscribe_in_both_branches_reaches_everybody(shop: Any) -> None:
    stack = "  - {block: copy, copy: Hi.}\n"
    foot = "  - {block: footer-nav, when: recipient.vip, otherwise: {show_logo: false}}\n"
    half = foot.replace("{show_logo: false}", "{block: note, copy: Bye.}")
    (line,) = shop.mistakes(shop.campaign(stack, foot=half))
    assert "does not reach every recipient" in line
    shop.compile(shop.campaign(stack, foot=foot))


def test_there_is_one_h1_for_everybody(shop: Any) -> None:
    made = shop.compile(CHANGED)
    for fields in ({"vip": "1"}, {}):
        assert filled(made, "html", **fields).count("<h1") == 1


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("otherwise: {headline: B}", "otherwise stands without a when; expected when: recipient.name"),
        ("when: recipient.vip, otherwise: B", "otherwise: otherwise is a mapping"),
        ("when: recipient.vip, otherwise: {}", "otherwise changes nothing"),
        ("when: recipient.vip, otherwise: {id: x, copy: B}", "id cannot stand in otherwise"),
        ("when: recipient.vip, otherwise: {when: recipient.ref, copy: B}", "when cannot stand in otherwise"),
        ("when: recipient.vip, otherwise: {hedline: B}", "otherwise, hedline: unknown field hedline"),
        ("when: recipient.vip, otherwise: {block: cpy}", "otherwise cpy: no block cpy"),
        ("when: recipient.vip, otherwise: {standing: end}", "end holds several sections, and otherwise"),
        ("when: recipient.vip, otherwise: {standing: odd}", "has a when: of its own"),
        ("when: recipient.vip, otherwise: {copy: '${recipient.nam}'}", "recipient.nam"),
    ],
)  # fmt: skip
def test_mistakes_in_otherwise_have_their_place(shop: Any, written: str, expected: str) -> None:
    shop.put(
        "brands/pellow/standing/end.yaml", "sections:\n  - {block: copy, copy: A}\n  - {block: hairline}\n"
    )
    shop.put("brands/pellow/standing/odd.yaml", "{block: copy, copy: A, when: recipient.vip}\n")
    (found,) = shop.mistakes("  - {block: copy, copy: A, " + written + "}\n")
    assert re.match(r"campaigns/spring\.yaml:7:\d+: |brands/pellow/standing/odd\.yaml:1:", found), found
    assert expected in found


DIALECT = """\
dialect:
  name: square
  openers: ["[["]
  html: {tag: "[[{name}]]", fallback: "[[{name}|{fallback}]]"}
  attribute: {tag: "[[{name}]]", fallback: "[[{name}|{fallback}]]"}
  url: {tag: "[[{name}]]", fallback: "[[{name}|{fallback}]]"}
  plain: {tag: "[[{name}]]", fallback: "[[{name}|{fallback}]]"}
  header: {tag: "[[{name}]]", fallback: "[[{name}|{fallback}]]"}
  when: WHEN
"""


def test_a_dialect_without_else_writes_the_opposite(shop: Any) -> None:
    when = '{open: "[[if {name}]]", unless: "[[unless {name}]]", close: "[[end]]"}'
    shop.change("handbill.yaml", "handbill: 1\n", "handbill: 1\n" + DIALECT.replace("WHEN", when))
    html = shop.compile(CHANGED).built.html.decode()
    assert "[[if recipient.vip]]\n<tr>" in html
    assert "</tr>\n[[end]][[unless recipient.vip]]\n<tr>" in html


def test_a_dialect_with_no_way_to_say_it_is_a_mistake_at_its_place(shop: Any) -> None:
    when = '{open: "[[if {name}]]", close: "[[end]]"}'
    shop.change("handbill.yaml", "handbill: 1\n", "handbill: 1\n" + DIALECT.replace("WHEN", when))
    (line,) = shop.mistakes(CHANGED)
    assert line == (
        "campaigns/spring.yaml:12:5: stack[0] copy: the dialect square has no way to say what the others "
        "get; expected otherwise or unless in the dialect's when, or no otherwise here"
    )


# -- languages and directions


PRICES = "  - {block: product-stack, lang: LANG, products: [L-100]}\n"


def section(made: Any, number: int = 0) -> str:
    start, end = made.built.manifest["sections"][number]["bytes"]
    return str(made.built.html[start:end].decode())


@pytest.mark.parametrize("tag", ["de-DE", "fr-FR", "es", "it", "nl", "pt", "ja"])
def test_a_section_in_another_language_has_its_words_and_formats(shop: Any, tag: str) -> None:
    made = shop.compile(PRICES.replace("LANG", tag) + "  - {block: product-stack, products: [L-100]}\n")
    own, mails = section(made), section(made, 1)
    assert own.startswith(f'<tr><td lang="{tag}" dir="ltr"')
    price = format_currency(40, "EUR", locale=tag.replace("-", "_"))
    assert price.replace("\xa0", "&#160;") in own or price in own
    assert mails.startswith('<tr><td lang="en-IE" dir="ltr"')
    assert "was" in mails
    assert ">was" not in own or tag == "nl"


def test_dates_of_a_section_in_another_language(shop: Any) -> None:
    stack = "  - {block: copy, lang: de, copy: 'Bis ${offer.ends:date}'}\n"
    made = shop.compile(stack, "offer: {kind: markdown, ends: 2027-03-02T10:00}")
    assert format_date(datetime.date(2027, 3, 2), "long", locale="de") in section(made)


def test_a_section_from_right_to_left_in_a_mail_from_left_to_right(shop: Any) -> None:
    made = shop.compile(PRICES.replace("LANG", "he") + "  - {block: product-stack, products: [L-100]}\n")
    own, mails = section(made), section(made, 1)
    assert own.startswith('<tr><td lang="he" dir="rtl"')
    assert "text-align:right" in own
    assert "text-align:left" not in own
    assert "text-align:left" in mails
    assert "text-align:right" not in mails
    classes = {name for group in re.findall(r'class="([^"]+)"', own) for name in group.split()}
    head = made.built.html.decode().partition("</head>")[0]
    assert all(f".{name}{{" in head for name in classes)
    assert '<html lang="en-IE" dir="ltr"' in made.built.html.decode()


def test_a_mirrored_section_is_what_the_whole_mail_would_have_been(shop: Any) -> None:
    """The same section in a mail that is right-to-left as a whole, apart from the short classes' names."""
    alone = section(shop.compile(PRICES.replace("LANG", "he")))
    whole = section(shop.compile(PRICES.replace("lang: LANG, ", ""), "language: he"))
    assert re.sub(r'class="[^"]*"', "", alone) == re.sub(r'class="[^"]*"', "", whole)


def test_a_direction_alone_keeps_the_language(shop: Any) -> None:
    made = shop.compile("  - {block: copy, dir: rtl, copy: Hello}\n")
    assert section(made).startswith('<tr><td lang="en-IE" dir="rtl"')


def test_the_others_may_read_another_language(shop: Any) -> None:
    stack = """\
  - block: copy
    when: recipient.vip
    lang: he
    copy: שלום
    otherwise: {lang: en-IE, copy: Hello}
"""
    html = section(shop.compile(stack))
    assert html.index('lang="he" dir="rtl"') < html.index("{% else %}") < html.index('lang="en-IE" dir="ltr"')


def test_the_shop_speaks_the_sections_language_too(shop: Any) -> None:
    shop.put(
        "brands/pellow/texts/de-DE.yaml",
        "handbill: 1\nlegal: Sie haben diese Briefe bestellt.\nproducts: {file: products-de.csv}\n",
    )
    rows = "sku,name,kind,price,was,picture,link\nL-100,Zaunkönig,Lampe,40,80,wren.png,/de/zaunkoenig\n"
    shop.put("brands/pellow/products-de.csv", rows)
    foot = "  - {block: footer-nav, lang: de-DE}\n"
    made = shop.compile(shop.campaign(PRICES.replace("LANG", "de-DE"), foot=foot))
    html = made.built.html.decode()
    assert "Zaunkönig" in html
    assert "Sie haben diese Briefe bestellt." in html
    assert "Abmelden" in html


def test_three_languages_of_both_directions_in_one_mail(shop: Any) -> None:
    """Each with a house style of its own: no class of the head means two things."""
    for tag, face in (("he", "David, serif"), ("ar", "Tahoma, sans-serif")):
        shop.put(f"brands/pellow/texts/{tag}.yaml", f"handbill: 1\ntype: {{text: {{face: '{face}'}}}}\n")
    made = shop.compile("".join(PRICES.replace("LANG", tag) for tag in ("he", "de", "ar")))
    head, _, body = made.built.html.decode().partition("</head>")
    assert "David,serif" in body.replace(", ", ",")
    assert "Tahoma,sans-serif" in body.replace(", ", ",")
    classes = {name for group in re.findall(r'class="([^"]+)"', body) for name in group.split()}
    assert all(f".{name}{{" in head for name in classes)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("lang: xx-YY", "campaigns/spring.yaml:7:25: stack[0] copy, lang: "),
        ("lang: pl", "campaigns/spring.yaml:7:25: stack[0] copy: block copy has no words in pl: "),
        (
            "dir: up",
            "campaigns/spring.yaml:7:24: stack[0] copy, dir: up is no direction; expected ltr or rtl",
        ),
        ("lang: [de]", "stack[0] copy, lang: this is not a language tag"),
    ],
)
def test_mistakes_have_their_place(shop: Any, written: str, expected: str) -> None:
    (line,) = shop.mistakes("  - {block: copy, " + written + ", copy: A}\n")
    assert expected in line


def test_the_shop_need_not_make_the_other_direction(shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A mail of one direction builds one library; a second is built for the first section that asks."""
    from handbill import pipeline
    from handbill.base.cache import Cache
    from handbill.loader import Loader

    built: list[bool] = []
    real = pipeline.build
    monkeypatch.setattr(pipeline, "build", lambda *a, **k: (built.append(k["rtl"]), real(*a, **k))[1])
    for tag, wanted in (("de", [False]), ("he", [False, True])):
        path = shop.campaign("  - {block: copy, lang: " + tag + ", copy: A}\n")
        pipeline.resolve_campaign(Loader(shop.root, Cache()), path)
        assert built == wanted
        built.clear()


def test_a_price_with_marks_of_its_own_keeps_its_order(shop: Any) -> None:
    """CLDR's Hebrew pattern holds right-to-left marks: an isolate from left to right would tear it apart."""
    text = shop.compile(PRICES.replace("lang: LANG, ", ""), "language: he").built.text.decode()
    assert f"\u2067{format_currency(40, 'EUR', locale='he')}{PDI}" in text
    dressed = shop.compile(PRICES.replace("lang: LANG", "dir: rtl")).built.text.decode()
    assert f"{LRI}{format_currency(40, 'EUR', locale='en_IE')}{PDI}" in dressed


def test_a_name_runs_as_its_own_letters_do(shop: Any) -> None:
    stack = "  - {block: testimonial, reviews: [R-1]}\n"
    text = shop.compile(stack, "language: he").built.text.decode()
    assert f"\u2068Nan Ashe{PDI}, \u2068Corrin{PDI}\n" in text
    assert "\u2068" not in shop.compile(stack).built.text.decode()


def test_copy_changes_sides_and_the_picture_does_not() -> None:
    """CSS Writing Modes 3 section 2.1: start is the right where text runs from right to left."""
    assert area_of("0 0.1 0.4 0.9", 0, 100) == (0, 0.1, 0.4, 0.9)
    assert area_of("0 0.1 0.4 0.9", 0, 100, rtl=True) == (0.6, 0.1, 1, 0.9)
    assert area_of("overlap", 30, 100, rtl=True) == area_of("overlap", 30, 100) == (0, 0, 1, 0.3)


def test_focal_points_are_of_the_picture_whatever_the_direction(shop: Any) -> None:
    picture = "{file: wren.png, alt: A, crop: {ratio: '1:2', focus: 0.1 0.5}}"
    stack = f"  - block: hero\n    headline: Words\n    picture: {picture}\n"
    left, right = (shop.compile(stack, f"dir: {way}").mail.plans for way in ("ltr", "rtl"))
    assert {plan.box for plan in left} == {plan.box for plan in right}
    assert any(plan.box[0] == 0 and plan.box[2] < plan.source.width for plan in left)


def test_names_of_the_other_direction_keep_the_signs_at_their_ends(shop: Any) -> None:
    """UAX #9 §2.4.2, FSI: without it "Wren (small)" shows its last bracket at the other end in Hebrew."""
    shop.change("brands/pellow/products.csv", "Wren", "Wren (small)")
    shop.change("brands/pellow/brand.yaml", "4 Tin Lane, Harrowmere", "4 Tin Lane, Harrowmere.")
    stack = "  - {block: product-stack, products: [L-100], button: {label: 'קנו ${product.name}'}}\n"
    right = shop.compile(stack, "language: he").built.text.decode()
    assert f"\u2068Wren (small){PDI}\n" in right
    assert f"קנו \u2068Wren (small){PDI}: " in right
    assert f"\u20684 Tin Lane, Harrowmere.{PDI}" in right
    left = shop.compile(stack.replace("קנו", "Buy")).built.text.decode()
    assert "\u2068" not in left
    shop.change("brands/pellow/products.csv", "Wren (small)", "גדרון!")
    assert f"\u2068גדרון!{PDI}\n" in shop.compile(stack.replace("קנו", "Buy")).built.text.decode()
