"""Each rule: a demo broken in one way makes exactly that rule speak, on the line at fault.

Sources stand beside the cases: the standards, laws and checks that each rule names itself. What no source backs
is common practice, and comes as a note or a warning.
"""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image
from tests.breaking import (
    CAMPAIGNS,
    DEMO,
    Edit,
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

from handbill.preflight.contract import NOTE
from handbill.preflight.pixels import flashes, motion
from handbill.preflight.registry import every
from handbill.preflight.rules.alt_file_name import fault as alt_fault
from handbill.preflight.rules.mailto_syntax import fault as mailto_fault
from handbill.preflight.rules.placeholder_left import find as left
from handbill.preflight.rules.urgency_without_date import urgent
from handbill.preflight.runner import FAILED, UNREAD, UNUSED
from handbill.preflight.specimen import Specimen

SALE, LAMP, PLANTS = campaign("orrowby"), campaign("dunmarrow"), campaign("quillfern")
BRAND = "brands/orrowby/brand.yaml"
LONG = "The last days of the winter shelf, with kettles, pots and stoves at their last price"
CLOSING = "Twenty-six more pieces are still on the shelf. No second round, no extra hour."

#: rule: brand, what is changed in the workspace, the file and the words that the finding's line holds
SOURCE: dict[str, tuple[str, list[Edit], str, str]] = {
    # E03: a desktop's list of mails shows about 60 characters (common practice)
    "subject-length": ("orrowby", [(SALE, "Up to ${offer.best_percent} off, gone by sunrise", LONG)], SALE, "subject:"),
    "preheader-missing": (
        "orrowby",
        [(SALE, "preheader: It ends on ${offer.ends:weekday} at ${offer.ends:time}, when the sun clears the ridge.\n", "")],
        SALE,
        "handbill: 1",
    ),
    # E04: 35 to 90 characters (common practice)
    "preheader-length": ("quillfern", [(PLANTS, "Five plants left our greenhouse faster than all the rest this month.", "Five plants left us.")], PLANTS, "preheader:"),
    "same-line-twice": ("quillfern", [(PLANTS, "preheader: Five", "preheader: Look what’s growing. Five")], PLANTS, "preheader:"),
    "placeholder-left": ("orrowby", [(SALE, CLOSING, "TODO, say what is left on the shelf.")], SALE, "TODO"),
    "recipient-fallback": ("orrowby", [(SALE, CLOSING, "${recipient.first_name}, there is more on the shelf.")], SALE, "first_name"),
    # 16 CFR 233.5: a limited offer must be limited
    "urgency-without-date": ("quillfern", [(PLANTS, "Five plants left our greenhouse faster", "Last chance, five plants left our house faster")], PLANTS, "Last chance"),
    # 15 USC 7704(a)(1)
    "from-name": ("orrowby", [(BRAND, "reply_to: hello@orrowby.example", "reply_to: no-reply@orrowby.example")], BRAND, "no-reply"),
    # 15 USC 7704(a)(5), SOR/2012-36 s. 2
    "postal-address": ("orrowby", [(BRAND, "postal_address: Orrowby Works, 4 Tin Lane, Harrowmere.\n", "")], BRAND, "handbill: 1"),
    "foreign-tag": ("orrowby", [(SALE, CLOSING, "Dear *|FIRSTNAME|*, there is more on the shelf.")], SALE, "FIRSTNAME"),
    # RFC 2606 section 3
    "link-placeholder": ("orrowby", [(SALE, "{label: Shop the whole sale, link: /sale}", "{label: Shop the whole sale, link: 'https://www.example.com/sale'}")], SALE, "www.example.com"),
    "link-http": ("orrowby", [(SALE, "{label: Shop the whole sale, link: /sale}", "{label: Shop the whole sale, link: 'http://sale.orrowby.example/'}")], SALE, "http://"),
    # WCAG 2.2 SC 2.4.4, 2.4.9
    "link-same-words": ("orrowby", [(SALE, "{label: Shop the whole sale, link: /sale}", "{label: See what is left, link: /sale/rest}")], SALE, "/sale/rest"),
    "link-tags": ("orrowby", [(SALE, "{label: Shop the whole sale, link: /sale}", "{label: Shop the whole sale, link: '/sale?sort=new&sort=old'}")], SALE, "sort=new"),
    # RFC 6068 section 5 prints the second question mark as wrong
    "mailto-syntax": ("orrowby", [(SALE, "{label: Shop the whole sale, link: /sale}", "{label: Write to us, link: 'mailto:hello@orrowby.example?subject=Sale?body=Hello'}")], SALE, "mailto:"),
    # WCAG 2.2 SC 2.4.4
    "link-words": ("orrowby", [(SALE, "label: Shop the whole sale", "label: Click here")], SALE, "Click here"),
    # WCAG 2.2 SC 1.1.1, failure F30
    "alt-file-name": ("orrowby", [(SALE, "alt: The sun stands clear of the ridge over hills and fir woods", "alt: sunrise.jpg")], SALE, "sunrise.jpg"),
    # WCAG 2.2 SC 1.4.3: the formula gives 4.48 for #777 on white (check against coloraide in test_colour.py)
    "contrast-text": ("orrowby", [(BRAND, 'sunrise: {<<: *day, ground: {light: "#fbf1e0", dark: "#3b2f3d"}, text: {light: "#4a3f45"', 'sunrise: {<<: *day, ground: {light: "#fbf1e0", dark: "#3b2f3d"}, text: {light: "#8a8f95"')], SALE, CLOSING[:20]),
    "contrast-dark": ("orrowby", [(BRAND, 'text: {light: "#4a3f45", dark: "#e0d6d4"}', 'text: {light: "#4a3f45", dark: "#6a5f65"}')], SALE, CLOSING[:20]),
    # WCAG 2.2 SC 1.4.11
    "contrast-graphic": ("orrowby", [(BRAND, 'ring: {light: "#745b4c"', 'ring: {light: "#b09a8c"')], SALE, "K-240"),
    "text-small": ("orrowby", [(BRAND, "caption: {face: \"Georgia, 'Times New Roman', serif\", size: 19, line: 26", "caption: {face: \"Georgia, 'Times New Roman', serif\", size: 11, line: 26")], SALE, "sunrise"),
    "clip": ("orrowby", [("handbill.yaml", "dialect: jinja\n", "dialect: jinja\nbudgets: {html_kb: 50}\n")], "handbill.yaml", "budgets"),
    "clip-near": ("orrowby", [("handbill.yaml", "dialect: jinja\n", "dialect: jinja\nbudgets: {html_kb: 70}\n")], "handbill.yaml", "budgets"),
    "picture-heavy": ("orrowby", [("handbill.yaml", "dialect: jinja\n", "dialect: jinja\nbudgets: {pictures_kb: 900}\n")], "handbill.yaml", "budgets"),
    "products-own-button": ("orrowby", [(SALE, '    button: {label: "Get the ${product.kind}"}\n', "")], SALE, "K-210"),
    "both-prices": ("orrowby", [("brands/orrowby/products.csv", "K-210,Tarn,kettle,45,89,2026-09-01,2027-01-31", "K-210,Tarn,kettle,45,,,")], SALE, "K-210"),
    "first-button-early": ("orrowby", [(SALE, "headline: Gone by sunrise.", "headline: Gone by the time that the sun clears the ridge and the frost melts.")], SALE, "See what is left"),
    "amount-early": ("orrowby", [(SALE, "kicker: Up to ${offer.best_percent} off, ", "kicker: ")], SALE, "offer:"),
    # WCAG 2.2 SC 1.4.3
    "contrast-picture": ("dunmarrow", [(LAMP, "{file: cause.jpg, decorative: true, focus: 0.64 1}", "{file: lamp-sill.jpg, decorative: true}")], LAMP, "1% of every lamp"),
    "closing-button": ("quillfern", [(PLANTS, "  - standing: footer", "  - block: product-stack\n    title: Two more\n    button: {label: 'Choose ${product.name}'}\n    products: [Q-02, Q-03]\n  - standing: footer")], PLANTS, "product-stack"),
    "verified-marked": ("quillfern", [("brands/quillfern/reviews.csv", "matched to an order", "")], PLANTS, "F-01"),
    "unused-silence": ("orrowby", [(SALE, "stack:\n", "preflight: {allow: {language: The shop writes in a language of its own}}\nstack:\n")], SALE, "allow"),
}  # fmt: skip


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return workspace(tmp_path_factory.mktemp("demo"))


@pytest.mark.parametrize("rule", SOURCE)
def test_a_demo_broken_in_one_way_makes_one_rule_speak(rule: str, shop: Path) -> None:
    brand, edits, file, words = SOURCE[rule]
    found = news(edited(shop, brand, edits), brand)
    assert {one.rule for one in found} == {rule}
    assert {one.place.file for one in found} == {file}
    for name, old, new in edits:
        text = (shop / name).read_text("utf-8").replace(old, new, 1)
        if name == file:
            assert words in text.splitlines()[found[0].place.line - 1]
    assert all(one.severity == every()[rule].severity for one in found)


TOP = 'href="https://orrowby.example/sale?from=letter&amp;letter=winter-last-call&amp;part=top"'
KETTLES = 'href="https://orrowby.example/kettles?from=letter&amp;letter=winter-last-call&amp;part=footer-nav"'
COOKWARE = 'href="https://orrowby.example/cookware?from=letter&amp;letter=winter-last-call&amp;part=footer-nav"'
ROOM = 'style="color:#fbf1e0;display:inline-block;padding:14px"'

#: rule: brand, part, markup or text as it is, as it is to be
MADE: dict[str, tuple[str, str, str, str]] = {
    # RFC 3986 section 4.4
    "link-empty": ("orrowby", "html", 'href="https://orrowby.example/sale?from=letter&amp;letter=winter-last-call&amp;part=closing" target="_blank"', 'href="#" target="_blank"'),
    # WCAG 2.2 SC 2.4.4, 4.1.2 (axe-core: link-name)
    "link-nameless": ("orrowby", "html", '><img src="https://pictures.orrowby.example/letters/logo-light-50cde115eb0c.png" alt="Orrowby"', '><img src="https://pictures.orrowby.example/letters/logo-light-50cde115eb0c.png" alt=""'),
    # WCAG 2.2 SC 1.1.1 (axe-core: image-alt)
    "alt-missing": ("orrowby", "html", 'alt="A speckled enamel kettle steaming on a spirit stove before first light in the hills" ', ""),
    # WCAG 2.2 SC 3.1.1 (axe-core: html-has-lang)
    "language": ("orrowby", "html", '<html lang="en-IE"', "<html"),
    # WCAG 2.2 SC 1.3.1, technique H42
    "headings": ("orrowby", "html", "<h1 ", "<h3 "),
    # WCAG 2.2 SC 1.4.3, failure F83
    "picture-without-colour": ("orrowby", "html", 'bgcolor="#121b2e" style="background-color:#121b2e;background-position', 'style="background-position'),
    # WCAG 2.2, definition of contrast ratio; failure F24
    "house-colour": ("orrowby", "html", "color:#4a3f45;margin:0\">Twenty-six", "color:#4a3f44;margin:0\">Twenty-six"),
    "house-font": ("orrowby", "html", "<p class=\"ce0d6d4\" style=\"font-family:Arial, Helvetica, sans-serif", "<p class=\"ce0d6d4\" style=\"font-family:Verdana, sans-serif"),
    # RFC 2046 section 5.1.4
    "text-part": ("orrowby", "text", "now €45, was €89", "now cheaper"),
    # 15 USC 7704(a)(3); RFC 8058
    "unsubscribe": ("orrowby", "text", "Unsubscribe: https://orrowby.example/letters/stop?reader=maud-7f3a", "Goodbye"),
    "button-stands-out": ("orrowby", "html", 'bgcolor="#f4b87c" valign="middle" style="border-radius:27px;text-align:center;vertical-align:middle;mso-padding-alt:15px 32px;background-color:#f4b87c"><a href="https://orrowby.example/sale?from=letter&amp;letter=winter-last-call&amp;part=top" target="_blank" style="font-family:Arial, Helvetica, sans-serif;font-size:16px;line-height:24px;mso-line-height-rule:exactly;font-weight:700;font-style:normal;letter-spacing:0.2px;text-transform:none;display:block;padding:15px 32px;border-radius:27px;text-decoration:none;color:#141c2b;background-color:#f4b87c"', 'bgcolor="#1f2b44" valign="middle" style="background-color:#1f2b44"><a href="https://orrowby.example/sale?from=letter&amp;letter=winter-last-call&amp;part=top" style="display:block;padding:15px;font-family:Arial, Helvetica, sans-serif;color:#fbf1e0;background-color:#1f2b44"'),
    "navigation-at-foot": ("orrowby", "html", "</a>\n</td>\n</tr></table>\n</td></tr>\n", f"</a>\n<a {TOP} {ROOM}>This week</a> <a {TOP} {ROOM}>By shop</a></td>\n</tr></table>\n</td></tr>\n"),
    "one-way-first": ("orrowby", "html", "Gone by sunrise.</h1>", f"Gone by sunrise.</h1><p style=\"margin:0;font-family:Arial\"><a {KETTLES} {ROOM}>Kettles</a> <a {COOKWARE} {ROOM}>Cookware</a></p>"),
    # WCAG 2.2 SC 2.5.8 (axe-core: target-size)
    "target-size": ("orrowby", "html", "Gone by sunrise.</h1>", f"Gone by sunrise.</h1><p style=\"margin:0;font:13px/13px Arial\"><a {TOP} style=\"color:#fbf1e0\">Up</a><br><a {TOP} style=\"color:#fbf1e0\">On</a></p>"),
    # WCAG 2.2 SC 2.5.5
    "button-small": ("orrowby", "html", "display:block;padding:15px 32px;", "display:block;padding:4px 32px;"),
    # WCAG 2.2 SC 1.4.10
    "reflow": ("orrowby", "html", "Then it<br>", "<span style=\"display:inline-block;width:500px\">Then it</span><br>"),
    # a code that the text part leaves out stands nowhere near the top
    "code-as-text": ("dunmarrow", "text", "FIRSTLIGHT", "see above"),
}  # fmt: skip

@pytest.mark.parametrize("rule", MADE)
def test_markup_broken_in_one_way_makes_one_rule_speak(rule: str) -> None:
    brand, part, old, new = MADE[rule]
    found = news(marked_up(brand, old, new, part), brand)
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
        ("hero.jpg", True), ("IMG_1234", True), ("image", True), ("Picture of a kettle", True), ("spacer", True),
        ("A kettle on a ridge", False), ("Orrowby", False), ("A photographer at dawn", False), ("Image maker", False),
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
    bare = re.compile(r'background-color:#[0-9a-f]{6};?|bgcolor="[^"]*"|background-image:[^;"]*;?|background="[^"]*"')
    found = outcome(remade("orrowby", lambda html: bare.sub("", html)), {"colour-without-ground"}).findings
    assert len(found) > 10


def test_products_side_by_side(shop: Path) -> None:
    strip = "  - block: product-strip\n    title: Two more\n    products: [Q-02, Q-03]\n  - standing: footer"
    (found,) = outcome(
        edited(shop, "quillfern", [(PLANTS, "  - standing: footer", strip)]), {"products-one-a-row"}
    ).findings
    assert found.section == "product-strip"


def test_forced_dark_looks_only_at_what_is_clear_in_the_light() -> None:
    """C10: the pair itself and its lightness-inverted pair (common practice); the first is another rule's."""
    found = outcome(sound("orrowby"), {"contrast-forced-dark"}).findings
    assert found
    assert all("(modelled)" in one.message for one in found)


@pytest.mark.parametrize("brand", CAMPAIGNS)
def test_the_demos_have_no_finding_above_a_note(brand: str) -> None:
    found = outcome(sound(brand))
    assert [one for one in found.findings if one.severity > NOTE] == []
    assert found.not_run == ()


def test_every_rule_is_broken_here_or_by_its_own_test() -> None:
    elsewhere = {FAILED, UNREAD, "motion", "picture-tall", "style-size", "colour-without-ground"}
    elsewhere |= {"contrast-forced-dark", "products-one-a-row"}
    assert {*SOURCE, *MADE, *elsewhere} >= {*every()}
    assert UNUSED in SOURCE
    assert DEMO.is_dir()
