"""Each rule: a demo broken in one way makes exactly that rule speak, on the line at fault.

The cases stand in rules-broken.toml, each with its source. What no source backs is common practice, and comes
as a note or a warning.
"""

from __future__ import annotations

import io
import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from tests.breaking import (
    CAMPAIGNS,
    DEMO,
    campaign,
    changed,
    edited,
    marked_up,
    news,
    outcome,
    remade,
    sound,
    workspace,
)

from handbill.apps.outline import draft, outlines, stock
from handbill.apps.preflight import Examiner
from handbill.base.cache import Cache
from handbill.base.errors import Place
from handbill.base.source import parse_yaml
from handbill.brand.parts import load_brand
from handbill.loader import Loader
from handbill.preflight.contract import NOTE
from handbill.preflight.pixels import flashes, motion
from handbill.preflight.registry import every
from handbill.preflight.rules.alt_file_name import fault as alt_fault
from handbill.preflight.rules.mailto_syntax import fault as mailto_fault
from handbill.preflight.rules.placeholder_left import find as left
from handbill.preflight.rules.urgency_without_date import urgent
from handbill.preflight.runner import FAILED, UNREAD, UNUSED
from handbill.preflight.specimen import Specimen

BROKEN: dict[str, Any] = tomllib.loads(Path(__file__).with_name("rules-broken.toml").read_text("utf-8"))
SOURCE = {row["rule"]: row for row in BROKEN["source"]}
MADE = {row["rule"]: row for row in BROKEN["made"]}
SALE, PLANTS = campaign("orrowby"), campaign("quillfern")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return workspace(tmp_path_factory.mktemp("demo"))


@pytest.mark.parametrize("rule", SOURCE)
def test_a_demo_broken_in_one_way_makes_one_rule_speak(rule: str, shop: Path) -> None:
    brand, edits, file = (SOURCE[rule][key] for key in ("brand", "edits", "file"))
    found = news(edited(shop, brand, edits), brand)
    assert {one.rule for one in found} == {rule}
    assert {one.place.file for one in found} == {file}
    for name, old, new in edits:
        text = (shop / name).read_text("utf-8").replace(old, new, 1)
        if name == file:
            assert SOURCE[rule]["line"] in text.splitlines()[found[0].place.line - 1]
    assert all(one.severity == every()[rule].severity for one in found)


@pytest.mark.parametrize("rule", MADE)
def test_markup_broken_in_one_way_makes_one_rule_speak(rule: str) -> None:
    row = MADE[rule]
    found = news(marked_up(row["brand"], row["old"], row["new"], row["part"]), row["brand"])
    assert {one.rule for one in found} == {rule}
    assert all(one.place.line for one in found if one.section)


@pytest.mark.parametrize(
    ("address", "wrong"),
    [
        # RFC 6068 sections 5 and 6, examples
        ("mailto:chris@example.com", False),
        ("mailto:infobot@example.com?subject=current-issue", False),
        ("mailto:infobot@example.com?body=send%20current-issue%0D%0Asend%20index", False),
        ("mailto:list@example.org?In-Reply-To=%3C3469A91.D10AF4C@example.com%3E", False),
        ("mailto:joe@example.com?cc=bob@example.com&body=hello", False),
        ("mailto:joe@example.com?cc=bob@example.com?body=hello", True),
        ("mailto:gorby%25kremvax@example.com", False),
        ("mailto:unlikely%3Faddress@example.com?blat=foop", False),
        ("mailto:Mike%26family@example.org", False),
        ("mailto:%22not%40me%22@example.org", False),
        ("mailto:user@example.org?subject=caf%C3%A9", False),
        ("mailto:?to=joe@example.com", False),
        ("mailto:addr1@an.example,addr2@an.example", False),
        # section 2: no space, no raw letter beyond ASCII; section 5: line breaks are %0D%0A
        ("mailto:user@example.org?subject=two words", True),
        ("mailto:user@example.org?subject=café", True),
        ("mailto:user@example.org?body=one%0Atwo", True),
        ("mailto:not-an-address", True),
        ("mailto:", True),
        # section 4: a reader may leave out headers that could harm
        ("mailto:user@example.org?bcc=spy@example.org", True),
    ],
)
def test_mailto_links_are_held_to_their_standard(address: str, wrong: bool) -> None:
    assert bool(mailto_fault(address)) == wrong


@pytest.mark.parametrize(
    ("text", "language", "found"),
    [
        ("Last chance to save", "en-GB", "Last chance"),
        ("It ends tonight", "en", "ends tonight"),
        ("No hurry: it keeps", "en", ""),
        ("The chance of a last dance", "en", ""),
        ("Hurry, before it’s gone", "en", "Hurry"),
        ("Nur noch heute", "de-DE", "Nur noch heute"),
        ("Keine Eile, nicht beeilen", "de", ""),
        ("Letzte Tage im Laden", "de", "Letzte Tage"),
        ("Derniers jours", "fr", ""),  # not looked for, and the rule says so
    ],
)
def test_urgency_is_told_from_its_words(text: str, language: str, found: str) -> None:
    assert urgent(text, language) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Lorem ipsum dolor", True), ("Price TBD", True), ("Dear [First name]", True), ("XXX", True),
        ("There is so much to do", False), ("Size XXL and XL", False), ("Your text here matters", False),
        ("Hier steht der Text", True), ("[sic]", False),
    ],
)  # fmt: skip
def test_placeholders_are_told_from_words(text: str, found: bool) -> None:
    assert bool(left(text)) == found


@pytest.mark.parametrize(
    ("alt", "wrong"),
    [
        # WCAG 2.2 failure F30: file names and placeholders
        ("hero.jpg", True), ("IMG_1234", True), ("image", True), ("Picture of a kettle", True),
        ("spacer", True),
        ("A kettle on a ridge", False), ("Orrowby", False), ("A photographer at dawn", False),
        ("Image maker", False),
    ],
)  # fmt: skip
def test_alternatives_that_say_nothing(alt: str, wrong: bool) -> None:
    assert bool(alt_fault(alt)) == wrong


def gif(shades: list[int], milliseconds: int, loop: int | None) -> bytes:
    """A GIF of grey frames."""
    frames = [Image.new("L", (64, 64), shade) for shade in shades]
    out = io.BytesIO()
    more = {} if loop is None else {"loop": loop}
    frames[0].save(out, "GIF", save_all=True, append_images=frames[1:], duration=milliseconds, **more)
    return out.getvalue()


def test_motion_is_read_as_browsers_play_it() -> None:
    """GIF89a section 23 (delay in 1/100 s); the loop extension: 0 for ever, absent once (de facto)."""
    for_ever = motion(gif([0, 80, 160], 500, 0))
    assert for_ever is not None
    assert (for_ever.frames, for_ever.seconds, for_ever.lasts) == (3, 1.5, float("inf"))
    once = motion(gif([0, 80, 160], 500, None))
    assert once is not None
    assert once.lasts == 1.5
    assert motion(gif([0], 100, None)) is None
    # Blink's FrameDurationAtIndex: 10 ms or less plays as 100 ms
    quick = motion(gif([0, 80], 10, None))
    assert quick is not None
    assert quick.seconds == pytest.approx(0.2)


def test_flashes_are_pairs_of_opposing_changes() -> None:
    """WCAG 2.2, "general flash": pairs of opposing changes of a tenth of luminance, the darker below 0.80."""
    assert flashes(gif([0, 255] * 5, 100, None)) > 3  # ten changes in a second: four to five pairs
    assert flashes(gif([0, 255, 0, 255], 500, None)) <= 1
    assert flashes(gif([255, 250, 255, 250, 255, 250, 255], 100, None)) == 0  # less than a tenth
    assert flashes(gif([0, 60, 120, 200, 255], 100, None)) == 0  # one way only


def test_a_picture_that_never_rests(shop: Path) -> None:
    """WCAG 2.2 SC 2.2.2 and 2.3.1; a still or brief picture passes."""
    file = shop / "brands/orrowby/pictures/blink.gif"
    use = [(SALE, "{file: sunrise.jpg, dark: sunrise-dark.jpg,", "{file: blink.gif,")]
    for data, words in (
        (gif([0, 80] * 4, 500, 0), ["for ever"]),
        (gif([0, 255] * 6, 100, None), ["flashes"]),
        (gif([0, 80, 160], 500, None), []),
    ):
        file.write_bytes(data)
        found = outcome(edited(shop, "orrowby", use), {"motion"}).findings
        assert [word in one.message for one, word in zip(found, words, strict=True)] == [True] * len(words)
    file.unlink()


def test_a_picture_taller_than_word_processors_show() -> None:
    mail = changed("orrowby", plans=lambda plans: (replace(plans[0], height=1729), *plans[1:]))
    (found,) = outcome(mail, {"picture-tall"}).findings
    assert "1729 px" in found.message
    fine = changed("orrowby", plans=lambda plans: (replace(plans[0], height=1728), *plans[1:]))
    assert outcome(fine, {"picture-tall"}).findings == ()


@pytest.mark.parametrize(
    ("size", "more", "slug", "words"),
    [
        ((90, 60), "", "picture-coarse", "is shown 600 px wide and has 90 pixels for that, 0.15 to the px"),
        ((599, 400), "", "picture-coarse", "0.99 to the px"),
        ((600, 400), "", "", ""),
        ((1999, 40), "", "picture-sliver", "mark.png is shown 600 px wide and 12 px tall: a sliver"),
        ((1999, 40), "decorative: true", "", ""),
        ((1200, 48), "", "", ""),
    ],
)
def test_pictures_against_the_size_they_are_shown_at(
    size: tuple[int, int], more: str, slug: str, words: str, shop: Path
) -> None:
    """CSS Images 3, 5.3: a picture of fewer pixels than its box is enlarged."""
    file = shop / "brands/orrowby/pictures/mark.png"
    Image.effect_mandelbrot(size, (-2, -1.5, 1, 1.5), 90).save(file)
    before = "{file: sunrise.jpg, dark: sunrise-dark.jpg, "
    before += "alt: The sun stands clear of the ridge over hills and fir woods}"
    use = [(SALE, before, f"{{file: mark.png, {more or 'alt: A mark'}}}")]
    found = outcome(edited(shop, "orrowby", use), {"picture-coarse", "picture-sliver"}).findings
    file.unlink()
    assert [one.rule for one in found] == ([slug] if slug else [])
    assert all(words in one.message for one in found)


def test_styles_near_the_limit() -> None:
    """E15: 8,192 characters (common practice)."""
    as_it_is = sound("orrowby")
    for size, count in ((8192, 1), (7000, 0)):
        rendered = replace(as_it_is.rendered, style_size=size)
        made = [part.piece for part in as_it_is.parts]
        mail = Specimen(as_it_is.mail, made, rendered, as_it_is.workspace, as_it_is.workspace_node)
        assert len(outcome(mail, {"style-size"}).findings) == count


def test_a_colour_without_a_ground() -> None:
    """WCAG 2.2, definition of contrast ratio; failure F24."""
    bare = re.compile(
        r'background-color:#[0-9a-f]{6};?|bgcolor="[^"]*"|background-image:[^;"]*;?|background="[^"]*"'
    )
    found = outcome(remade("orrowby", lambda html: bare.sub("", html)), {"colour-without-ground"}).findings
    assert len(found) > 10


def test_products_side_by_side(shop: Path) -> None:
    strip = "  - block: product-strip\n    title: Two more\n    products: [Q-02, Q-03]\n  - standing: footer"
    (found,) = outcome(
        edited(shop, "quillfern", [(PLANTS, "  - standing: footer", strip)]), {"products-one-a-row"}
    ).findings
    assert found.section == "product-strip"


def test_a_tie_that_a_block_leaves_out(shop: Path) -> None:
    """L11: 16 CFR 255.5, a material connection is disclosed; the block testimonial does it."""
    review = "F-01,Q-02,Odile T.,,5,2027-01-12,shop site,matched to an order,"
    tied = [("brands/quillfern/reviews.csv", review, f"{review}Her plant was a gift")]
    mail = edited(shop, "quillfern", tied)
    assert outcome(mail, {"incentive-shown"}).findings == ()
    made = [part.piece for part in mail.parts]
    hidden = [replace(one, sample_html=one.sample_html.replace("Her plant was a gift", "")) for one in made]
    rendered = replace(mail.rendered, sample_html=tuple(
        one.replace("Her plant was a gift", "") for one in mail.rendered.sample_html
    ))  # fmt: skip
    bare = Specimen(mail.mail, hidden, rendered, mail.workspace, mail.workspace_node)
    (found,) = outcome(bare, {"incentive-shown"}).findings
    assert "F-01" in found.message
    assert "HTML" in found.message


def test_without_a_price_history_an_old_price_is_a_warning(shop: Path) -> None:
    """L13: nobody can say whether it may be shown."""
    bare = [("brands/orrowby/brand.yaml", "truth: {prices: prices.csv}", "truth: {}")]
    (found,) = outcome(edited(shop, "orrowby", bare), {"prior-price", "prior-price-unknown"}).findings
    assert (found.rule, found.severity.word) == ("prior-price-unknown", "warning")
    assert "so do 7 more" in found.message


def test_words_of_facts_are_not_judged(shop: Path) -> None:
    """What is computed is true by construction; typed beside it, another number is not."""
    assert [one.claim for one in sound("orrowby").judged if one.claim.kind == "percent"] == []
    typed = [
        (SALE, "Up to ${offer.best_percent} off, gone", "Up to ${offer.best_percent} off, 99% off, gone")
    ]
    (found,) = outcome(edited(shop, "orrowby", typed), {"claim-overstated"}).findings
    assert [one.file for one in found.also] == ["brands/orrowby/products.csv"]  # names both places


@pytest.mark.parametrize(
    ("brand", "old", "new", "expected"),
    [
        # a date is the offer's where its sentence says so, or names nothing in a section that does
        ("orrowby", "No second round, no extra hour.", "The sale ends on 5 March.", "claim-contradicts"),
        ("orrowby", "headline: Gone by sunrise.", "headline: Ends 5 March.", "claim-contradicts"),
        ("orrowby", "No second round, no extra hour.", "The mountain hut closes on 5 March.", "claim-unread"),
        ("dunmarrow", "Street lamps that light", "Ends 5 March. Lamps that light", "claim-unread"),
        (
            "dunmarrow",
            "Street lamps that light",
            "An exhibition until 5 March, lamps that light",
            "claim-unread",
        ),
        ("dunmarrow", "YOUR CODE", "The code, until 5 March", "claim-unsupported"),
        # a code is the same in words and in links
        ("dunmarrow", "Use it on a lamp, link: /lamps", "Use FIRSTLITE, link: /lamps", "claim-contradicts"),
        (
            "dunmarrow",
            "Use it on a lamp, link: /lamps",
            "Use it, link: '/lamps?code=FIRSTLITE'",
            "claim-contradicts",
        ),
        ("dunmarrow", "Use it on a lamp, link: /lamps", "Use it, link: '/lamps?code=FIRSTLIGHT'", ""),
        # everywhere that one types: preheader, alternative text, button
        ("orrowby", "preheader: It ends", "preheader: 70% off. It ends", "claim-overstated"),
        ("orrowby", "alt: A speckled", "alt: 70% off a speckled", "claim-overstated"),
        ("orrowby", "Shop the whole sale", "Shop at half price", "claim-overstated"),
        ("orrowby", 'one match"', 'now €12"', "claim-contradicts"),
        ("orrowby", 'one match"', '30% less fuel"', ""),
        ("dunmarrow", "Supper", "For €9", "claim-unread"),
    ],
)
def test_what_is_typed_in_a_demo(shop: Path, brand: str, old: str, new: str, expected: str) -> None:
    found = news(edited(shop, brand, [(campaign(brand), old, new)]), brand)
    assert {one.rule for one in found if one.rule.startswith("claim-")} == ({expected} if expected else set())


def test_forced_dark_looks_only_at_what_is_clear_in_the_light(shop: Path) -> None:
    """C10: the pair itself and its lightness-inverted pair (common practice); the first is another rule's."""
    paler = [("brands/orrowby/brand.yaml", 'text: {light: "#40353c"', 'text: {light: "#5a4f55"')]
    found = outcome(edited(shop, "orrowby", paler), {"contrast-forced-dark"}).findings
    assert found
    assert outcome(sound("orrowby"), {"contrast-forced-dark"}).findings == ()
    assert all("(modelled)" in one.message for one in found)


def test_a_sign_is_lost_where_a_reader_changes_its_ground(shop: Path) -> None:
    """C10's ways of dark mode (common practice): a swatch that is clear by its rim in the light alone."""
    paler = [("brands/orrowby/brand.yaml", 'ring: {light: "#745b4c"', 'ring: {light: "#8c7262"')]
    found = outcome(edited(shop, "orrowby", paler), {"graphic-forced-dark"}).findings
    assert {one.section for one in found} == {"product-stack"}
    assert all("(modelled)" in one.message for one in found)
    assert [outcome(sound(brand), {"graphic-forced-dark"}).findings for brand in BRANDS] == [(), (), ()]


@pytest.mark.parametrize("path", sorted((DEMO / "campaigns").glob("*.yaml")), ids=lambda path: path.stem)
def test_the_demos_have_no_finding_above_a_note(path: Path) -> None:
    made = Examiner(Loader(DEMO, Cache())).examine(path)
    assert [one for one in made.findings if one.severity > NOTE] == []
    assert made.not_run == ()


def test_every_rule_is_broken_here_or_by_its_own_test() -> None:
    elsewhere = {
        FAILED,
        UNREAD,
        "motion",
        "picture-tall",
        "picture-coarse",
        "picture-sliver",
        "style-size",
        "colour-without-ground",
    }
    elsewhere |= {"incentive-shown"}
    elsewhere |= {"contrast-forced-dark", "graphic-forced-dark", "products-one-a-row"}
    assert {*SOURCE, *MADE, *elsewhere} >= {*every()}
    assert UNUSED in SOURCE
    assert DEMO.is_dir()


BRANDS = tuple(CAMPAIGNS)
OUTLINES = sorted(outlines(Loader(DEMO, Cache())).items())


KEPT = Cache()


@pytest.mark.parametrize("brand", BRANDS)
@pytest.mark.parametrize("outline", OUTLINES, ids=[name for name, _path in OUTLINES])
def test_the_outlines_have_no_finding_above_a_note(outline: tuple[str, Path], brand: str) -> None:
    """As `handbill new` writes them, in each shop."""
    name, path = outline
    loader = Loader(DEMO, KEPT)
    kept = stock(loader, load_brand(loader, brand, Place("--brand")))
    text = draft(path.read_text("utf-8"), name, name, brand, kept).text
    made = Examiner(loader).examine_doc(parse_yaml(text.encode(), f"campaigns/{name}.yaml"))
    assert [one for one in made.findings if one.severity > NOTE] == []
    assert made.not_run == ()
