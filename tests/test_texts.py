"""Texts in other languages: what there is to translate, the file's form, and how the two meet."""

# ruff: noqa: E501, PT018 - sources and messages whole, on one line

from __future__ import annotations

from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from tests.conftest import Shop

from handbill.base.cache import Cache
from handbill.base.errors import MistakesError, Place
from handbill.base.source import Doc, find, parse_yaml, place, plain, put
from handbill.cli.shelf import spec_of
from handbill.expand import Expanded, Section, expand
from handbill.library.find import blocks, standing
from handbill.loader import Loader
from handbill.models.read import FORMAT
from handbill.texts.apply import Translator
from handbill.texts.language import translator
from handbill.texts.read import Texts, find_texts, load_texts, read_texts
from handbill.texts.source import Key, Source, sources, stamp, worded

STACK = """\
  - block: hero
    id: top
    headline: Light for a year
    copy: It burns.
    button: {label: See it, link: /lamps}
    picture: {file: wren.png, alt: A lamp}
  - block: selling-points
    points:
      - {icon: parcel, words: Sent in two days}
      - {figure: "60", words: Days to return}
  - block: product-stack
    products:
      - L-200
      - {sku: L-100, caption: Our best, button: {label: "Take the ${product.name}"}}
"""
HEAD = "subject: A letter\npreheader: From ${brand.name}"
GERMAN = """\
handbill: 1
mail: {subject: Ein Brief, preheader: "Von ${brand.name}"}
sections:
  top:
    headline: Licht für ein Jahr
    copy: Sie brennt.
    button.label: Ansehen
    picture: {alt: Eine Lampe}
  selling-points:
    points:
      - words: In zwei Tagen verschickt
      - words: Tage zur Rückgabe
  product-stack:
    products.L-100:
      caption: Unsere beste
      button.label: "${product.name} nehmen"
"""


def opened(shop: Shop, stack: str = STACK, head: str = HEAD) -> tuple[Expanded, Any]:
    path = shop.campaign(stack, head)
    loader = Loader(shop.root, Cache())
    shelves = loader.shelves(loader.brand("pellow"))
    expanded, mistakes = expand(loader.read(path), standing(shelves), loader)
    assert mistakes == []
    return expanded, {name: spec_of(found) for name, found in blocks(shelves).items()}


def texts_of(text: str, language: str = "de-DE") -> Texts:
    texts, mistakes = read_texts(
        parse_yaml(text.encode(), "texts/de-DE.yaml").root, "texts/de-DE.yaml", language
    )
    assert mistakes == []
    return texts


def wrong(text: str) -> list[str]:
    doc = parse_yaml(text.encode(), "t.yaml")
    return [str(one) for one in read_texts(doc.root, "t.yaml", "de-DE")[1]]


def found(expanded: Expanded, specs: Any) -> dict[str, Source]:
    return {str(one.key): one for one in sources(expanded, specs)}


# -- what there is to translate


def test_what_counts_as_words(shop: Shop) -> None:
    expanded, specs = opened(shop)
    demanded = {name: one.text for name, one in found(expanded, specs).items() if one.demanded}
    assert demanded == {
        "subject": "A letter",
        "preheader": "From ${brand.name}",
        "top: headline": "Light for a year",
        "top: copy": "It burns.",
        "top: button.label": "See it",
        "top: picture.alt": "A lamp",
        "selling-points: points.0.words": "Sent in two days",
        "selling-points: points.1.words": "Days to return",
        "product-stack: products.L-100.caption": "Our best",
        "product-stack: products.L-100.button.label": "Take the ${product.name}",
    }


def test_links_and_pictures_may_differ_and_need_not(shop: Shop) -> None:
    expanded, specs = opened(shop)
    optional = [name for name, one in found(expanded, specs).items() if not one.demanded]
    assert "top: button.link" in optional and "top: picture.file" in optional
    assert "selling-points: points.0.icon.file" in optional
    assert "footer-nav: legal" in optional


def test_the_limits_are_those_that_a_mail_is_held_to(shop: Shop) -> None:
    expanded, specs = opened(shop)
    seen = found(expanded, specs)
    assert seen["top: headline"].most == specs["hero"].fields["headline"].most == 80
    assert seen["top: button.label"].most == 60
    assert seen["subject"].best == 60  # what a desktop's list shows (common practice)
    assert seen["preheader"].best == 90  # 35 to 90 are shown (common practice)


@pytest.mark.parametrize(
    ("text", "says"),
    [("60", False), ("18:00", False), ("${offer.code}", False), ("1 %", False), ("→ ★", False),
     ("No. 4", True), ("שלום", True), ("${offer.code} off", True), ("$${x}", True),
     ('${recipient.first_name or "you"}', True), ("${offer.ends:day}", False)],
)  # fmt: skip
def test_figures_and_facts_say_nothing_in_words(text: str, says: bool) -> None:
    assert worded(text) is says


def test_a_second_use_of_a_product_goes_by_its_number(shop: Shop) -> None:
    stack = "  - block: product-stack\n    products:\n      - {sku: L-100, caption: One}\n      - {sku: L-100, caption: Two}\n"
    expanded, specs = opened(shop, stack)
    captions = {name: one.text for name, one in found(expanded, specs).items() if name.endswith("caption")}
    assert captions == {
        "product-stack: products.L-100.caption": "One",
        "product-stack: products.1.caption": "Two",
    }


def test_the_reviewers_words_are_not_the_translators(shop: Shop) -> None:
    stack = "  - block: testimonial\n    reviews: [{id: R-1, quote: all of it is bright}]\n"
    expanded, specs = opened(shop, stack)
    assert found(expanded, specs)["testimonial: reviews.R-1.quote"].demanded is False


def test_cells_are_walked_by_their_own_blocks(shop: Shop) -> None:
    stack = (
        "  - block: pair\n    cells:\n      - {block: copy, copy: Left}\n      - {block: copy, copy: Right}\n"
    )
    expanded, specs = opened(shop, stack)
    texts = {name: one.text for name, one in found(expanded, specs).items() if one.demanded}
    assert texts["pair: cells.1.copy"] == "Right"


def test_the_hash_is_the_beginning_of_a_sha_256() -> None:
    assert stamp(" A letter\n") == sha256(b"A letter").hexdigest()[:10]  # FIPS 180-4, by the standard library


# -- translating


def test_a_whole_campaign_in_german(shop: Shop) -> None:
    expanded, specs = opened(shop)
    german = Translator(texts_of(GERMAN), expanded, specs)
    made, mistakes = german.run(expanded, {"language": "de-DE"})
    assert mistakes == [] and german.unused({}) == []
    assert plain(made.head)["subject"] == "Ein Brief" == plain(made.doc.root)["subject"]
    top, points, stack, foot = made.sections
    assert plain(top.node)["button"] == {"label": "Ansehen", "link": "/lamps"}
    assert plain(top.node)["picture"] == {"file": "wren.png", "alt": "Eine Lampe"}
    assert plain(top.whole)["headline"] == "Licht für ein Jahr" and plain(top.whole)["id"] == "top"
    assert plain(points.node)["points"][1] == {"figure": "60", "words": "Tage zur Rückgabe"}
    assert plain(stack.node)["products"][0] == "L-200"
    assert plain(stack.node)["products"][1]["button"] == {"label": "${product.name} nehmen"}
    assert foot is expanded.sections[3]
    assert (top.id, top.path, top.when) == ("top", "stack[0] hero", None)


def test_the_campaign_itself_stays_as_it_was(shop: Shop) -> None:
    expanded, specs = opened(shop)
    before = plain(expanded.doc.root), [plain(one.whole) for one in expanded.sections]
    Translator(texts_of(GERMAN), expanded, specs).run(expanded, {})
    assert (plain(expanded.doc.root), [plain(one.whole) for one in expanded.sections]) == before


def test_a_mistake_in_a_translation_has_its_line_there(shop: Shop) -> None:
    expanded, specs = opened(shop)
    made, _ = Translator(texts_of(GERMAN), expanded, specs).run(expanded, {})
    label, whole = find(made.sections[0].node, ("button", "label"))
    assert whole and str(place(label)) == "texts/de-DE.yaml:7:19"


def test_one_translated_section_serves_all_variants_that_share_it(shop: Shop) -> None:
    expanded, specs = opened(shop)
    german = Translator(texts_of(GERMAN), expanded, specs)
    first, _ = german.run(expanded, {"arm": "control"})
    second, _ = german.run(expanded, {"arm": "quiet"})
    assert all(a is b for a, b in zip(first.sections, second.sections, strict=True))


def test_links_and_pictures_of_their_own(shop: Shop) -> None:
    stack = "  - block: picture\n    id: view\n    picture: wren.png\n  - {block: closing, button: {label: All, link: /}}\n"
    expanded, specs = opened(shop, stack, "subject: '1'")
    text = "handbill: 1\nsections:\n  view: {picture.file: rook.png}\n  closing: {button: {label: Alles, link: /de}}\n"
    made, mistakes = Translator(texts_of(text), expanded, specs).run(expanded, {})
    assert mistakes == []
    assert plain(made.sections[0].node)["picture"] == {"file": "rook.png"}
    assert plain(made.sections[1].node)["button"] == {"label": "Alles", "link": "/de"}


def test_missing_texts_are_named_where_they_stand(shop: Shop) -> None:
    expanded, specs = opened(shop, "  - {block: copy, copy: One word}\n")
    made, mistakes = Translator(texts_of("handbill: 1\n"), expanded, specs).run(
        expanded, {"language": "de-DE"}
    )
    assert made is expanded
    assert [str(one) for one in mistakes] == [
        "campaigns/spring.yaml:5:10: subject: not translated into de-DE; expected subject: in texts/de-DE.yaml, "
        "under mail",
        "campaigns/spring.yaml:6:12: preheader: not translated into de-DE; expected preheader: in "
        "texts/de-DE.yaml, under mail",
        "campaigns/spring.yaml:8:25: copy: copy: not translated into de-DE; expected copy: in "
        "texts/de-DE.yaml, under sections, copy",
    ]


def test_missing_texts_may_stay(shop: Shop) -> None:
    expanded, specs = opened(shop)
    text = "handbill: 1\nuntranslated: keep\nsections: {top: {headline: Licht}}\n"
    made, mistakes = Translator(texts_of(text), expanded, specs).run(expanded, {})
    assert mistakes == []
    assert plain(made.sections[0].node)["headline"] == "Licht"
    assert made.sections[1] is expanded.sections[1]


def test_a_changed_original_flags_its_translation(shop: Shop) -> None:
    expanded, specs = opened(shop)
    old = f"made_from: {{sections: {{top: {{headline: {stamp('Light for two years')}, copy: {stamp('It burns.')}}}}}}}\n"
    _, mistakes = Translator(texts_of(GERMAN + old), expanded, specs).run(expanded, {})
    assert [str(one) for one in mistakes] == [
        "texts/de-DE.yaml:5:5: top: headline: made from a text that has changed (campaigns/spring.yaml:10:15); "
        "expected a translation of the text as it is now, marked by handbill texts import or texts accept"
    ]
    kept = texts_of("out_of_date: keep\n" + GERMAN + old)
    assert Translator(kept, expanded, specs).run(expanded, {})[1] == []


def test_unused_texts_are_named_with_the_nearest(shop: Shop) -> None:
    expanded, specs = opened(shop)
    text = "handbill: 1\nsections:\n  top: {headlin: Licht}\n  tops: {copy: Ja}\nmail: {subjet: Ein}\n"
    lines = [str(one) for one in Translator(texts_of(text), expanded, specs).unused({})]
    assert lines[0] == (
        "texts/de-DE.yaml:5:8: subjet: the campaign has no such text; expected one of subject, preheader; "
        "nearest: subject"
    )
    assert lines[1].startswith("texts/de-DE.yaml:3:9: top: headlin: top has no such text; expected one of ")
    assert lines[1].endswith("nearest: headline")
    assert lines[2].startswith("texts/de-DE.yaml:4:10: tops: copy: no section tops with words of its own; ")
    assert lines[2].endswith("nearest: top")


def test_what_the_other_recipients_get_is_translated_too(shop: Shop) -> None:
    stack = (
        "  - {block: copy, when: recipient.vip, copy: Welcome back, otherwise: {copy: Good to see you}}\n"
        "  - {block: copy, when: recipient.vip, copy: More, otherwise: {block: note, copy: Small print}}\n"
    )
    expanded, specs = opened(shop, stack, "subject: '1'")
    assert [name for name, one in found(expanded, specs).items() if one.demanded] == [
        "copy: copy", "copy: otherwise.copy", "copy-2: copy", "copy-2: otherwise.copy",
    ]  # fmt: skip
    text = (
        "handbill: 1\nsections:\n  copy: {copy: Willkommen, otherwise.copy: Guten Tag}\n"
        "  copy-2: {copy: Mehr, otherwise: {copy: Kleingedruckt}}\n"
    )
    made, mistakes = Translator(texts_of(text), expanded, specs).run(expanded, {})
    assert mistakes == []
    first, second = made.sections[:2]
    assert first.other is not None and second.other is not None
    assert plain(first.node) == {"copy": "Willkommen"} and plain(first.other.node) == {"copy": "Guten Tag"}
    assert second.other.block == "note" and plain(second.other.node) == {"copy": "Kleingedruckt"}


def test_a_section_in_a_language_of_its_own_may_stay(shop: Shop) -> None:
    stack = "  - {block: copy, lang: fr-FR, copy: Bonjour}\n"
    expanded, specs = opened(shop, stack, "subject: '1'")
    assert [one for one in sources(expanded, specs) if one.demanded] == []
    text = "handbill: 1\nsections: {copy: {copy: Guten Tag}}\n"
    made, mistakes = Translator(texts_of(text), expanded, specs).run(expanded, {})
    assert mistakes == [] and plain(made.sections[0].node) == {"copy": "Guten Tag"}


FOOT = (
    "handbill: 1\nsections:\n  - {block: copy, copy: Mended for life}\n  - {block: note, copy: Small print}\n"
)


def test_texts_beside_standing_sections_serve_every_campaign(shop: Shop) -> None:
    shop.put("brands/pellow/standing/foot.yaml", FOOT)
    words = (
        "handbill: 1\nsections:\n  copy: {copy: Ein Leben lang repariert}\n  note: {copy: Kleingedrucktes}\n"
    )
    shop.put("brands/pellow/standing/texts/de-DE.yaml", words)
    stack = "  - {block: copy, copy: First}\n  - {standing: foot, set: {note.copy: Other print}}\n"
    expanded, specs = opened(shop, stack, "subject: '1'")
    shop.put("campaigns/texts/de-DE.yaml", "handbill: 1\nsections:\n  copy: {copy: Zuerst}\n")
    loader, path = Loader(shop.root, Cache()), shop.root / "campaigns/spring.yaml"
    made, mistakes = translator(loader, path, "spring", "de-DE", expanded, specs)
    assert made is not None and mistakes == []
    german_mail, mistakes = made.run(expanded, {})
    assert [plain(one.node)["copy"] for one in german_mail.sections[:3]] == [
        "Zuerst", "Ein Leben lang repariert", "Other print",
    ]  # fmt: skip
    assert [one.path for one in mistakes] == [
        "note: copy"
    ]  # the campaign's own words are its own to translate
    assert [one.id for one in german_mail.sections[:3]] == ["copy", "copy-2", "note"]


def test_numbered_standing_sections_are_told_apart_by_what_they_were_made_from(shop: Shop) -> None:
    foot = "handbill: 1\nsections:\n  - {block: copy, copy: One word}\n  - {block: copy, copy: Two words}\n"
    shop.put("brands/pellow/standing/foot.yaml", foot)
    expanded, specs = opened(shop, "  - {block: copy, copy: First}\n  - {standing: foot}\n", "subject: '1'")
    own = texts_of("handbill: 1\nsections: {copy: {copy: Zuerst}}\n")
    words = "handbill: 1\nsections: {copy: {copy: Ein Wort}, copy-2: {copy: Zwei Worte}}\n"
    file = "brands/pellow/standing/foot.yaml"
    _, mistakes = Translator(own, expanded, specs, standing={file: texts_of(words)}).run(expanded, {})
    assert [one.path for one in mistakes] == ["copy-2: copy", "copy-3: copy"]
    words += f"made_from: {{sections: {{copy: {{copy: {stamp('One word')}}}, copy-2: {{copy: {stamp('Two words')}}}}}}}\n"
    made, mistakes = Translator(own, expanded, specs, standing={file: texts_of(words)}).run(expanded, {})
    assert mistakes == []
    assert [plain(one.node)["copy"] for one in made.sections[:3]] == ["Zuerst", "Ein Wort", "Zwei Worte"]


def test_a_language_without_a_file(shop: Shop) -> None:
    expanded, specs = opened(shop)
    loader, path = Loader(shop.root, Cache()), shop.root / "campaigns/spring.yaml"
    made, mistakes = translator(loader, path, "spring", "de-DE", expanded, specs, at=Place("c.yaml", 3, 4))
    assert made is None
    assert [str(one) for one in mistakes] == [
        "c.yaml:3:4: no texts in de-DE for spring; expected campaigns/texts/de-DE.yaml or "
        "campaigns/texts/spring/de-DE.yaml; handbill texts export begins one"
    ]


# -- variants


def changed(expanded: Expanded, number: int, name: str, text: str) -> Expanded:
    """`expanded` with one field of one section set, as an arm would."""
    section = expanded.sections[number]
    value = parse_yaml(f'"{text}"'.encode(), "arm.yaml").root
    made = Section(
        section.id,
        section.block,
        put(section.node, name, value),
        put(section.whole, name, value),
        section.path,
    )
    sections = list(expanded.sections)
    sections[number] = made
    return Expanded(Doc(expanded.doc.name, expanded.doc.root), expanded.head, tuple(sections))


def test_a_text_that_an_arm_changes_asks_for_its_own(shop: Shop) -> None:
    expanded, specs = opened(shop)
    arm = changed(expanded, 0, "headline", "The shelf is bare")
    choices = {"arm": "quiet", "language": "de-DE"}
    _, mistakes = Translator(texts_of(GERMAN), expanded, specs).run(arm, choices)
    assert [str(one) for one in mistakes] == [
        "arm.yaml:1:1: arm=quiet, top: headline: not translated into de-DE; expected headline: in "
        "texts/de-DE.yaml, under variants, arm=quiet, sections, top"
    ]
    own = "variants:\n  arm=quiet: {sections: {top: {headline: Das Regal ist leer}}}\n"
    german = Translator(texts_of(GERMAN + own), expanded, specs)
    made, mistakes = german.run(arm, choices)
    assert mistakes == [] and german.unused({"arm": ("control", "quiet")}) == []
    assert plain(made.sections[0].node)["headline"] == "Das Regal ist leer"
    assert plain(made.sections[0].node)["copy"] == "Sie brennt."
    control, _ = german.run(expanded, {"arm": "control", "language": "de-DE"})
    assert plain(control.sections[0].node)["headline"] == "Licht für ein Jahr"


def test_the_narrowest_condition_counts(shop: Shop) -> None:
    expanded, specs = opened(shop)
    own = (
        "variants:\n  arm=quiet: {mail: {subject: A}}\n  segment=new: {mail: {subject: B}}\n"
        "  segment=new,arm=quiet: {mail: {subject: C}}\n"
    )
    german = Translator(texts_of(GERMAN + own), expanded, specs)
    for choices, subject in (
        ({"arm": "quiet", "segment": "old"}, "A"), ({"arm": "x", "segment": "new"}, "B"),
        ({"arm": "quiet", "segment": "new"}, "C"), ({"arm": "x", "segment": "old"}, "Ein Brief"),
    ):  # fmt: skip
        made, mistakes = german.run(expanded, choices)
        assert mistakes == [] and plain(made.head)["subject"] == subject


def test_two_conditions_that_fit_equally_well(shop: Shop) -> None:
    expanded, specs = opened(shop)
    own = "variants:\n  arm=quiet: {mail: {subject: A}}\n  segment=new: {mail: {subject: B}}\n"
    german = Translator(texts_of(GERMAN + own), expanded, specs)
    _, mistakes = german.run(expanded, {"arm": "quiet", "segment": "new"})
    assert [str(one) for one in mistakes] == [
        "texts/de-DE.yaml:19:24: segment=new, subject: arm=quiet and segment=new both translate it for one "
        "variant; expected one for arm=quiet,segment=new as well"
    ]


def test_conditions_that_no_variant_meets(shop: Shop) -> None:
    expanded, specs = opened(shop)
    own = "variants:\n  arm=quite: {mail: {subject: A}}\n  amr=quiet: {mail: {subject: A}}\n"
    german = Translator(texts_of(GERMAN + own), expanded, specs)
    assert [str(one) for one in german.unused({"arm": ("control", "quiet")})] == [
        "texts/de-DE.yaml:18:3: variants, arm=quite: arm has no quite; expected one of control, quiet; nearest: quiet",
        "texts/de-DE.yaml:19:3: variants, amr=quiet: the campaign has no axis amr; expected one of arm; nearest: arm",
    ]


def test_narrow_texts_that_meet_nothing(shop: Shop) -> None:
    expanded, specs = opened(shop)
    own = "variants:\n  arm=quiet: {sections: {top: {kicker: Still}}}\n"
    german = Translator(texts_of(GERMAN + own), expanded, specs)
    usual = {"arm": "control", "segment": "old"}
    lines = [str(one) for one in german.unused_narrow(expanded, {"arm": "quiet", "segment": "old"}, usual)]
    assert len(lines) == 1 and lines[0].startswith(
        "texts/de-DE.yaml:18:32: arm=quiet, top: kicker: top has no"
    )
    assert german.unused_narrow(expanded, {"arm": "control", "segment": "old"}, usual) == []
    assert german.unused_narrow(expanded, {"arm": "quiet", "segment": "new"}, usual) == []


# -- the file


def test_dotted_nested_and_listed_fields_are_the_same() -> None:
    one = texts_of("handbill: 1\nsections: {a: {b.0.c: x, b.1.c: y}}\n").entries
    two = texts_of("handbill: 1\nsections: {a: {b: [{c: x}, {c: y}]}}\n").entries
    assert {key: entry.text for key, entry in one.items()} == {key: entry.text for key, entry in two.items()}
    assert list(one) == [Key("a", "b.0.c"), Key("a", "b.1.c")]


def test_what_is_wrong_in_a_file() -> None:
    text = (
        "handbill: 2\nuntranslated: kep\nsection: {}\nmail: Hello\nsections:\n  Top: {copy: x}\n  top: x\n"
        "  end: {copy: a, button.label: b, button: {label: c}}\nvariants:\n  quiet: {mail: {subject: x}}\n"
        "  language=de: {mail: {subject: x}}\n  arm=x: {mial: {subject: x}}\nmade_from: {mail: {subject: 12}}\n"
    )
    assert sorted(wrong(text)) == sorted(
        [
            f"t.yaml:1:11: handbill: format version 2 is not one this handbill reads; expected handbill: {FORMAT}",
            "t.yaml:3:1: unknown field section; expected one of handbill, untranslated, out_of_date, mail, sections, "
            "variants, made_from; nearest: sections",
            "t.yaml:2:15: untranslated: kep is not a choice; expected what a text without a translation is: error or "
            "keep; nearest: keep",
            "t.yaml:13:29: made_from, subject: 12 is not a hash; expected 10 hexadecimal digits, as handbill writes "
            "them, or no line",
            "t.yaml:4:7: mail: a mapping is expected here; expected field: text",
            "t.yaml:6:3: sections: Top is not an id; expected a section's id, and its fields below it",
            "t.yaml:7:8: sections, top: a mapping is expected here; expected field: text",
            "t.yaml:8:44: end: button.label: the text is given twice; expected one text (the other at line 8)",
            "t.yaml:10:3: variants, quiet: quiet names no variants; expected axis=value, such as arm=quiet",
            "t.yaml:11:3: variants, language=de: this file is for de-DE alone; expected other axes, such as arm=quiet",
            "t.yaml:12:11: variants, arm=x: unknown field mial; expected one of mail, sections; nearest: mail",
        ]
    )


def test_lines_that_wait_for_words_are_not_translations() -> None:
    assert texts_of("handbill: 1\nsections: {a: {b: , c: ''}}\nmail:\n").entries == {}


def test_a_campaigns_own_file_or_a_shared_one(shop: Shop) -> None:
    path = shop.campaign(STACK)
    loader = Loader(shop.root, Cache())
    assert load_texts(loader, path, "spring", "de-DE") is None
    shared = shop.put("campaigns/texts/de-DE.yaml", GERMAN)
    assert find_texts(loader, path, "spring", "de-DE") == shared
    texts = load_texts(loader, path, "spring", "de-DE")
    assert texts is not None and texts.name == "campaigns/texts/de-DE.yaml"
    own = shop.put("campaigns/texts/spring/de-DE.yaml", GERMAN)
    assert find_texts(loader, path, "winter", "de-DE") == shared
    with pytest.raises(MistakesError) as caught:
        find_texts(loader, path, "spring", "de-DE")
    assert [str(one) for one in caught.value.mistakes] == [
        "campaigns/texts/spring/de-DE.yaml: campaigns/texts/de-DE.yaml holds texts for spring in de-DE as well; "
        "expected one of the two files"
    ]
    shared.unlink()
    assert find_texts(loader, path, "spring", "de-DE") == own


def test_a_language_is_no_way_out_of_the_folder(shop: Shop, tmp_path: Path) -> None:
    path = shop.campaign(STACK)
    loader = Loader(shop.root, Cache())
    with pytest.raises(MistakesError, match="is not a language"):
        find_texts(loader, path, "spring", "../../secret")
    (tmp_path / "elsewhere.yaml").write_text(GERMAN)
    (shop.root / "campaigns/texts").mkdir()
    (shop.root / "campaigns/texts/de-DE.yaml").symlink_to(tmp_path / "elsewhere.yaml")
    with pytest.raises(MistakesError, match="passes through a link"):
        load_texts(loader, path, "spring", "de-DE")
