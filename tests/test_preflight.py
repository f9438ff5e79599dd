"""Preflight as a whole: the runner, silences and severities, the command, its reports, the rules' page."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from tests.breaking import DEMO, campaign, edited, marked_up, outcome, sound, workspace

from handbill.apps.preflight import Examiner
from handbill.base.cache import Cache
from handbill.base.errors import Fault, MistakesError, Place
from handbill.base.source import parse_yaml
from handbill.cli.main import cli
from handbill.loader import Loader
from handbill.measure import known
from handbill.measure.flow import Flow
from handbill.preflight.contract import ERROR, NOTE, WARNING, Finding, Hit, Rule, Severity, head, section
from handbill.preflight.part import Part
from handbill.preflight.places import located
from handbill.preflight.registry import DuplicateRuleError, collect, every, pick
from handbill.preflight.runner import FAILED, UNREAD, UNUSED, Outcome, Seen, run
from handbill.preflight.settings import Settings, settings
from handbill.preflight.specimen import Missing, Specimen
from handbill.report.model import ADVICE, Gathered, Letter, in_order, letter, merged
from handbill.report.pages import page
from handbill.report.people import quoted, told
from handbill.report.readings import read
from handbill.vary.practice import PRACTICE

SALE, BRAND = campaign("orrowby"), "brands/orrowby/brand.yaml"
CLICK = ("{label: Shop the whole sale, link: /sale}", "{label: Click here, link: /sale}")
PSEUDO = {slug: every()[slug] for slug in (FAILED, UNREAD, UNUSED)}
ALL = Settings({}, ())


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return workspace(tmp_path_factory.mktemp("demo"))


def rule(slug: str, **more: Any) -> Rule:
    """A rule for tests."""
    given = {
        "group": "copy",
        "severity": WARNING,
        "needs": frozenset(),
        "about": "",
        "why": "",
        "source": "",
        "remedy": "",
    }
    return Rule(slug=slug, **{**given, **more})


# -- the runner


def test_a_rule_that_crashes_is_a_finding_and_the_run_goes_on() -> None:
    def crash(_mail: Specimen) -> Iterator[Hit]:
        yield Hit("before", head("subject"))
        raise ZeroDivisionError("one by none")

    def crash_in(part: Part) -> Iterator[Hit]:
        if part.id == "top":
            raise KeyError("layout")
        return iter(())

    fine = rule("fine", check=lambda mail: [Hit("said", head("subject"))])
    found = run(sound("orrowby"), [rule("bad", check=crash), rule("worse", each=crash_in), fine], ALL, PSEUDO)
    assert [(one.rule, one.section) for one in found.findings] == [
        ("bad", ""), ("rule-failed", ""), ("rule-failed", "top"), ("fine", ""),
    ]  # fmt: skip
    assert "bad failed here (ZeroDivisionError: one by none)" in found.findings[1].message
    assert (
        found.findings[2].place
        == next(part for part in sound("orrowby").parts if part.id == "top").spoken.place
    )


def test_a_missing_facet_means_not_run_and_never_a_pass() -> None:
    mail = marked_up("orrowby", "<h1 ", "<h1 ")
    mail.missing["layout"] = Missing("a reader's own markup")
    known = every()
    rules = [known["target-size"], known["reflow"], known["subject-length"]]
    found = run(mail, rules, ALL, PSEUDO)
    assert [(one.rule, one.facet, one.reason) for one in found.not_run] == [
        ("target-size", "layout", "a reader's own markup"), ("reflow", "layout", "a reader's own markup"),
    ]  # fmt: skip
    assert [one.rule for one in found.findings] == ["not-measured"]
    assert found.rules == 1


def test_html_that_cannot_be_read_is_a_finding() -> None:
    class Unreadable(Specimen):
        @property
        def page(self) -> Any:
            raise RecursionError("too deep")

    as_it_is = sound("orrowby")
    pieces = [part.piece for part in as_it_is.parts]
    mail = Unreadable(as_it_is.mail, pieces, as_it_is.rendered, as_it_is.workspace, as_it_is.workspace_node)
    found = run(mail, every().values(), ALL, PSEUDO)
    assert "not-measured" in {one.rule for one in found.findings}
    assert {one.facet for one in found.not_run} >= {"html"}
    assert "alt-missing" in {one.rule for one in found.not_run}


def test_two_rules_with_one_name_are_refused_loudly() -> None:
    with pytest.raises(DuplicateRuleError, match="second and first both call their rule same"):
        collect([("first", rule("same")), ("other", rule("another")), ("second", rule("same"))])


def test_a_section_is_looked_at_once_for_all_its_variants() -> None:
    looked: list[str] = []

    def look(part: Part) -> Iterator[Hit]:
        looked.append(part.id)
        yield Hit("here")

    seen, one = Seen(), rule("each", each=look)
    first = run(sound("orrowby"), [one], ALL, PSEUDO, seen)
    again = run(sound("orrowby"), [one], ALL, PSEUDO, seen)
    assert looked == [part.id for part in sound("orrowby").parts]
    assert first.findings == again.findings
    assert {found.section for found in first.findings} == set(looked)


def test_one_finding_in_several_variants_is_told_once() -> None:
    place = Place(SALE, 3, 1)
    one = Finding("a", NOTE, place, "top", "said", variants=("main",))
    made = merged([one, replace(one, variants=("arm=quiet",)), replace(one, message="other")])
    assert [found.variants for found in made] == [("main", "arm=quiet"), ("main",)]


def test_findings_stand_in_the_order_of_the_mail() -> None:
    """A section that a later variant adds follows the one that it follows there; the whole mail is first."""
    order = in_order([["top", "shelf", "foot"], ["top", "added", "foot"], ["first", "foot"]])
    assert order == ("first", "top", "added", "shelf", "foot")
    place = Place(SALE, 3, 1)
    met = [Finding("a", NOTE, place, name, name, variants=("main",)) for name in ("foot", "top", "", "shelf")]
    made = letter(SALE, "sale", "Sale", [Outcome(tuple(met), (), (), 1)], ["main"], order, Gathered())
    assert [one.section for one in made.findings] == ["", "top", "shelf", "foot"]
    rows = [line for line in told([made], lambda _place: None) if line in {"top", "shelf", "foot"}]
    assert rows == ["top", "shelf", "foot"]


# -- lines


@pytest.mark.parametrize(
    ("where", "line"),
    [
        (head("offer", "ends"), "offer:"),
        (section("top", "headline"), "headline: Gone by sunrise."),
        (section("closing", near="Shop the whole sale"), "label: Shop the whole sale"),
        (section("top", near="Up to 60% off, winter’s last chance"), "kicker:"),
        (section("product-stack", near="Get the stove"), "{sku: S-110"),
        (section("product-stack", "products", 2), "{sku: B-120"),
        (
            section("product-stack", near="Folding wind shield. Seven panels, flat as a letter."),
            "{sku: W-070",
        ),
    ],
)
def test_a_place_in_a_rules_terms_becomes_a_line(where: Any, line: str) -> None:
    place, _section = located(where, sound("orrowby"))
    assert line in (DEMO / place.file).read_text("utf-8").splitlines()[place.line - 1]


def test_words_of_the_brand_lead_to_the_brands_file() -> None:
    place, id = located(section("footer-nav", near="Repairs"), sound("orrowby"))
    assert (place.file, id) == (BRAND, "footer-nav")
    assert "Repairs" in (DEMO / BRAND).read_text("utf-8").splitlines()[place.line - 1]


# -- silences and severities


def test_a_silence_needs_a_reason_and_a_rule(shop: Path) -> None:
    broken = [
        (SALE, *CLICK),
        (SALE, "stack:\n", "preflight: {allow: {link-words: A test of ours}}\nstack:\n"),
    ]
    found = outcome(edited(shop, "orrowby", broken))
    assert "link-words" not in {one.rule for one in found.findings}
    assert [(one.rule, by.reason, by.owner) for one, by in found.silenced] == [
        ("link-words", "A test of ours", "campaign")
    ]

    for silence, message in (
        ("{allow: {link-words: ''}}", "preflight.allow.link-words: a rule is silenced without a reason"),
        ("{allow: {link-words: }}", "preflight.allow.link-words: a rule is silenced without a reason"),
        ("{allowed: {}}", "preflight.allowed"),
    ):
        with pytest.raises(MistakesError, match=message):
            edited(shop, "orrowby", [(SALE, "stack:\n", f"preflight: {silence}\nstack:\n")])
    mail = edited(shop, "orrowby", [(SALE, "stack:\n", "preflight: {allow: {link-word: x}}\nstack:\n")])
    (wrong,) = settings(mail.mail, every())[1]
    assert (wrong.message, wrong.nearest, wrong.path) == (
        "no rule link-word",
        "link-words",
        "preflight.allow.link-word",
    )
    assert wrong.place.line > 0


def test_a_silence_of_a_rule_that_was_not_asked_for_is_not_said_to_be_of_no_use(shop: Path) -> None:
    idle = edited(shop, "orrowby", [(SALE, "stack:\n", "preflight: {allow: {link-words: x}}\nstack:\n")])
    assert outcome(idle, {"subject-length"}).findings == ()
    assert [one.rule for one in outcome(idle, {"link-words"}).findings] == ["unused-silence"]


def test_a_report_folds_to_a_narrow_terminal(shop: Path) -> None:
    """What has no spaces is never broken; the mark stands under the word, wide letters before it or not."""
    broken = [(SALE, "Shop the whole sale", "Click here"), (SALE, "No second round", "All at half price")]
    made = edited(shop, "orrowby", broken)
    found = outcome(made, {"link-words", "claim-overstated"})
    sections = [part.id for part in made.parts]
    whole = letter(SALE, "sale", made.subject, [found], ["main"], sections, Gathered())
    wide, narrow = (list(told([whole], lambda _place: None, width=width)) for width in (0, 48))
    assert max(map(len, wide)) > 80
    assert max(map(len, narrow)) <= 48
    assert "".join("".join(wide).split()) == "".join("".join(narrow).split())
    (_line, mark) = quoted(Place("x.yaml", 7, 4), lambda _place: "題名: 値")
    assert mark == " " * 5 + " | " + " " * 5 + "^"  # UAX 11: two wide letters and a colon


def test_the_brand_weighs_and_silences_too(shop: Path) -> None:
    heavy = "preflight: {severity: {link-words: error}}\nbrand: orrowby\n"
    found = outcome(edited(shop, "orrowby", [(SALE, *CLICK), (BRAND, "brand: orrowby\n", heavy)]))
    assert [one.severity for one in found.findings if one.rule == "link-words"] == [ERROR]
    quiet = "preflight: {allow: {link-words: Our own house rule}}\nbrand: orrowby\n"
    found = outcome(edited(shop, "orrowby", [(SALE, *CLICK), (BRAND, "brand: orrowby\n", quiet)]))
    assert [by.owner for _one, by in found.silenced] == ["brand"]
    with pytest.raises(MistakesError, match="severity"):
        edited(
            shop,
            "orrowby",
            [(BRAND, "brand: orrowby\n", "preflight: {severity: {link-words: dire}}\nbrand: orrowby\n")],
        )


# -- the command


def command(*arguments: str | Path) -> Result:
    return CliRunner().invoke(cli, ["preflight", *map(str, arguments)], catch_exceptions=False)


@pytest.fixture
def changed(shop: Path) -> Iterator[Any]:
    """Writes the sale with some words changed, for commands to read."""
    path = shop / SALE
    before = path.read_text("utf-8")

    def change(*edits: tuple[str, str]) -> Path:
        text = before
        for old, new in edits:
            assert old in text
            text = text.replace(old, new, 1)
        path.write_text(text, "utf-8")
        return path

    yield change
    path.write_text(before, "utf-8")


def test_the_exit_code_says_how_bad_it_is(changed: Any, shop: Path) -> None:
    assert command(changed()).exit_code == 0
    assert command(changed(), "--strict").exit_code == 0
    warned = changed(CLICK)
    assert command(warned).exit_code == 0
    assert command(warned, "--strict").exit_code == 1
    wrong = changed(("headline: Gone by sunrise.", "headline: TODO"))
    assert command(wrong).exit_code == 1
    assert command(shop / "campaigns" / "nowhere.yaml").exit_code == 2
    unread = command(wrong, shop / "campaigns" / "nowhere.yaml")
    assert unread.exit_code == 2
    assert "no such file" in unread.stderr
    assert "TODO" in unread.stdout  # the others are told all the same


def test_the_report_shows_the_line_and_ends_with_the_advice(changed: Any) -> None:
    lines = command(changed(CLICK)).stdout.splitlines()
    at = next(
        number for number, line in enumerate(lines) if "“Click here” does not say where it leads" in line
    )
    assert lines[at].split()[0] == "warning"
    assert lines[at + 1].split()[1] == "link-words"
    assert "{label: Click here, link: /sale}" in lines[at + 2]
    mark = lines[at + 3].index("^")
    assert lines[at + 2][mark:].startswith("Click here")
    assert lines[-1] == ADVICE
    assert "\x1b" not in "".join(lines)


def test_a_wrong_rule_or_format_is_one_clear_line() -> None:
    with pytest.raises(MistakesError, match=r"no rule link-word; expected .*; nearest: link-words"):
        command(DEMO / SALE, "--rule", "link-word")
    found = command(DEMO / SALE, "--format", "sarf")
    assert (found.exit_code, "nearest: sarif" in found.stderr) == (2, True)


def test_one_rule_can_run_alone(changed: Any) -> None:
    data = json.loads(command(changed(CLICK), "--rule", "link-words", "--format", "json").stdout)
    (found,) = data["campaigns"]
    assert [one["rule"] for one in found["findings"]] == ["link-words"]
    assert found["rules"] == 1


def test_json_holds_all_that_is_told(changed: Any) -> None:
    data = json.loads(command(changed(CLICK), "--format", "json").stdout)
    assert data["advice"] == ADVICE
    (found,) = data["campaigns"]
    (one,) = [one for one in found["findings"] if one["rule"] == "link-words"]
    assert (one["severity"], one["section"], one["variants"]) == ("warning", "closing", ["main"])
    assert Path(one["file"]).name == "winter-last-call.yaml"
    assert one["line"] > 0
    assert found["counts"]["warning"] == 1


# -- the rules themselves


def test_every_rule_says_why_whence_and_what_to_do() -> None:
    for slug, one in every().items():
        assert slug == one.slug
        assert len(one.about) > 15
        assert len(one.why) > 25
        assert len(one.source) > 8
        assert len(one.remedy) > 10
        assert one.about.endswith(".")
        if one.group == "practice":
            assert one.severity is NOTE
            assert "common practice" in one.source
        if one.source == "common practice":
            assert one.severity is not ERROR or slug in ("placeholder-left", "foreign-tag", "clip"), slug


def test_a_practice_names_an_arm_that_variants_can_break() -> None:
    arms = {one.arm for one in every().values() if one.arm}
    assert arms <= {*PRACTICE}
    assert len(arms) >= 8


@pytest.mark.parametrize("slug", [slug for slug, rule in every().items() if rule.arm])
def test_an_arm_that_breaks_a_practice_makes_its_rule_speak(slug: str) -> None:
    """In a demo that keeps to it; what another demo has no room for, its arm refuses."""
    arm, heard = every()[slug].arm, []
    variants = f"variants: {{axes: {{arm: {{control: {{}}, test: {{practice: [{arm}]}}}}}}}}\nstack:\n"
    for brand in ("orrowby", "dunmarrow"):
        name = campaign(brand)
        text = (DEMO / name).read_text("utf-8").replace("stack:\n", variants, 1)
        try:
            made = Examiner(Loader(DEMO, Cache()), [slug]).examine_doc(parse_yaml(text.encode(), name))
        except MistakesError:
            continue
        heard += [one.variants for one in made.findings if one.rule == slug]
    assert ("arm=test",) in heard


def test_every_variant_is_looked_at_and_told_once(changed: Any) -> None:
    variants = (
        "variants: {axes: {arm: {control: {}, quiet: {set: {closing.headline: Then it is day}}, "
        "click: {set: {closing.button.label: Click here}}}}}\nstack:\n"
    )
    data = json.loads(command(changed(("stack:\n", variants)), "--format", "json").stdout)
    assert data["mistakes"] == []
    (found,) = data["campaigns"]
    assert len(found["variants"]) == 3
    (click,) = [one for one in found["findings"] if one["rule"] == "link-words"]
    assert click["variants"] == ["arm=click"]
    assert "Click here" in Path(click["file"]).read_text("utf-8").splitlines()[click["line"] - 1]
    shared = [one for one in found["findings"] if one["rule"] == "claim-unread"]
    assert shared
    assert all(len(one["variants"]) == 3 for one in shared)
    lone = json.loads(
        command(changed(("stack:\n", variants)), "--variant", "arm=quiet", "--format", "json").stdout
    )
    assert lone["campaigns"][0]["variants"] == ["arm=quiet"]


def test_a_rules_file_is_named_after_it() -> None:
    folder = Path(__file__).parent.parent / "src" / "handbill" / "preflight" / "rules"
    names = {path.stem.replace("_", "-") for path in folder.glob("*.py")} - {"--init--"}
    assert names == {*every()}


def test_the_page_about_the_rules_is_not_stale() -> None:
    file = Path(__file__).parent.parent / "docs" / "rules.md"
    assert file.read_text("utf-8") == page(every()), (
        "make it anew: python -m handbill.report.pages > docs/rules.md"
    )


def test_rules_are_listed_and_shown() -> None:
    listed = CliRunner().invoke(cli, ["rules", "list"], catch_exceptions=False).stdout
    assert [line.split()[0] for line in listed.splitlines()] == [*every()]
    shown = CliRunner().invoke(cli, ["rules", "show", "target-size"], catch_exceptions=False).stdout
    assert "WCAG 2.2 SC 2.5.8" in shown
    wrong = CliRunner().invoke(cli, ["rules", "show", "target-sizes"])
    assert (wrong.exit_code, "nearest: target-size" in wrong.output) == (2, True)
    with pytest.raises(Fault, match="no rule nothing"):
        pick("nothing")


def test_severities_have_words() -> None:
    assert [Severity.of(word) for word in ("note", "warning", "error")] == [NOTE, WARNING, ERROR]
    assert ERROR.word == "error"


def test_a_long_line_is_shown_around_its_place() -> None:
    text = "a" * 200 + "HERE" + "b" * 200
    line, mark = quoted(Place("x", 7, 201), lambda _place: text)
    assert line[mark.index("^") :].startswith("HERE")
    assert line.count("…") == 2
    assert len(line) < 120
    assert [*quoted(Place("x"), lambda _place: text)] == []


def test_examining_twice_says_the_same() -> None:
    letters: list[Letter] = []
    for _time in range(2):
        examiner = Examiner(Loader(DEMO, Cache()))
        letters.append(examiner.examine(DEMO / SALE))
    assert letters[0] == letters[1]


# -- every screen, every recipient


def test_a_section_that_cannot_be_measured_is_a_finding_and_the_rest_is_measured(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    whole = Flow.picture

    def picture(self: Flow, element: Any, style: Any, width: float) -> Any:
        if "kettle" in element.get("alt"):
            raise FloatingPointError("a picture of no width")
        return whole(self, element, style, width)

    monkeypatch.setattr(Flow, "picture", picture)
    known.forget()
    mail = marked_up("orrowby", "<h1 ", "<h1 ")
    found = run(mail, every().values(), ALL, PSEUDO)
    told = [one for one in found.findings if one.rule == UNREAD]
    assert {one.section for one in told} == {"top", "product-stack"}
    assert "FloatingPointError: a picture of no width" in told[0].message
    assert told[0].place.line > 1
    assert found.not_run == ()
    assert mail.readings.main is not None
    assert mail.readings.main.section == "closing"


def test_the_screen_is_the_shop_s_to_say(shop: Path) -> None:
    """390 × 844 and 0.7 of it are assumptions, and an assumption of the shop's takes their place."""
    assumed = (
        sound("orrowby").phone.width,
        sound("orrowby").phone.height,
        sound("orrowby").phone.first_screen,
    )
    assert assumed == (390, 844, 591)
    house = (BRAND, "truth: {prices", "preflight: {screen: {height: 800, first: 430}}\ntruth: {prices")
    mail = edited(shop, "orrowby", [house])
    assert [one.width for one in mail.screens] == [320, 360, 390, 412, 430, 600]
    found = outcome(mail, ["first-button-early"]).findings
    assert "430 px are taken to show at first" in found[0].message
    assert outcome(sound("orrowby"), ["first-button-early"]).findings == ()
    said = {one.name: one for one in read(mail)}
    assert said["first button"].assumes == "430 px show at first: assumed in brand.yaml"
    assert "below the first screen" in said["at 320 × 568"].value
    with pytest.raises(MistakesError, match="900 px are more than the screen's height; expected at most 844"):
        edited(
            shop, "orrowby", [(BRAND, "truth: {prices", "preflight: {screen: {first: 900}}\ntruth: {prices")]
        )


def test_a_mail_without_a_button_is_told_to_have_one() -> None:
    mail = sound("orrowby")
    bare = marked_up("orrowby", "<h1 ", "<h1 ")
    bare.__dict__["readings"] = replace(mail.readings, buttons=(), main=None)
    (found,) = outcome(bare, ["first-button-early"]).findings
    assert found.message == "the mail has no button"
    assert "button: {label" in found.remedy


def test_every_width_is_looked_at() -> None:
    """A rule for screens of 400 to 420 px alone makes a fixed width there."""
    wide = (
        "<style>@media (min-width: 400px) and (max-width: 420px) { h1 { width: 500px !important } }</style>"
    )
    mail = marked_up("orrowby", "</head>", f"{wide}</head>")
    (found,) = outcome(mail, ["reflow"]).findings
    assert found.message.startswith("at 412 px the mail is 5")
    assert found.section == "top"


WHEN = (
    "  - block: product-stack\n",
    "  - {block: copy, id: early, when: recipient.vip, copy: Yours first., otherwise: {copy: Soon.}}\n"
    "  - block: product-stack\n",
)
FIELD = ("handbill.yaml", "  first_name: {}\n", "  first_name: {}\n  vip: {}\n")


def test_what_the_sample_does_not_get_is_measured_too(shop: Path) -> None:
    def letters(copy: str) -> Letter:
        before = {name: (shop / name).read_text("utf-8") for name in (SALE, "handbill.yaml")}
        try:
            (shop / SALE).write_text(before[SALE].replace(WHEN[0], WHEN[1].replace("Yours first.", copy), 1))
            text = before["handbill.yaml"].replace(FIELD[1], FIELD[2], 1)
            (shop / "handbill.yaml").write_text(text)
            return Examiner(Loader(shop, Cache())).examine(shop / SALE)
        finally:
            for name, text in before.items():
                (shop / name).write_text(text, "utf-8")

    short, long = letters("Yours first."), letters("Yours first. " * 40)
    tall = [one.value for one in long.varied if one.name == "height"]
    assert [one.variants for one in long.varied if one.name == "height"] == [("main for other recipients",)]
    assert tall != [one.value for one in short.varied if one.name == "height"]
    assert [one.variants for one in long.measured] == [("main",), ("main for other recipients",)]


def test_rules_about_boxes_look_at_what_others_get() -> None:
    """The narrow link of a section that the sample never sees."""
    mail = marked_up("orrowby", "<h1 ", "<h1 ")
    mail.others = marked_up("orrowby", "<h1 ", '<h1 style="min-width:700px" data-was ')
    assert outcome(mail, ["reflow"]).findings == ()
    object.__setattr__(mail, "unseen", frozenset({"top"}))
    (found,) = outcome(mail, ["reflow"]).findings
    assert (found.rule, found.section) == ("reflow", "top")


def test_readings_are_in_every_form() -> None:
    """SARIF 2.1.0, section 3.8: whatever has no property of its own goes into the property bag."""
    shown = json.loads(command(DEMO / SALE, "--format", "json").stdout)["campaigns"][0]
    bag = json.loads(command(DEMO / SALE, "--format", "sarif").stdout)["runs"][0]["properties"]["readings"]
    (numbers,) = shown["measured"]
    assert bag["winter-last-call"]["measured"] == [numbers]
    assert [one["width"] for one in numbers["screens"]] == [320, 360, 390, 412, 430, 600]
    assert {"label", "section", "x", "y", "width", "height", "filled", "target"} <= set(numbers["buttons"][0])
    assert (numbers["amount"]["said"], numbers["code"]) == ("60%", None)
    assert numbers["destinations"] > numbers["destinations_before_first_button"]
    people = command(DEMO / SALE).stdout
    assert f"{numbers['screens'][0]['mail_height']:,.0f} px" in people
    assert all(one["label"] in people for one in numbers["buttons"])
