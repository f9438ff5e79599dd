"""`handbill variants`: what a campaign makes, on a line each, and two of them compared."""

# ruff: noqa: E501 - sentences whole, on one line

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from tests.conftest import Shop

from handbill.base.errors import MistakesError
from handbill.cli.main import cli

STACK = (
    "  - {block: copy, id: top, headline: Light for a year, copy: It burns.}\n"
    "  - {block: closing, button: {label: All lamps, link: /all}}\n"
)
VARIANTS = """\
variants:
  axes:
    arm:
      control: {}
      quiet: {set: {top.headline: The shelf is bare, subject: Quietly}, drop: [closing]}
    language: [en-IE, de-DE]
  named:
    press: {set: {top.copy: For the press.}, language: de-DE}
"""
GERMAN = """\
handbill: 1
mail: {subject: Ein Brief}
sections:
  top: {headline: Licht für ein Jahr, copy: Sie brennt.}
  closing: {button.label: Alle Lampen}
variants:
  arm=quiet:
    mail: {subject: Leise}
    sections: {top: {headline: Das Regal ist leer}}
"""


def run(*arguments: object) -> Result:
    return CliRunner().invoke(cli, list(map(str, arguments)))


def campaign(shop: Shop, variants: str = VARIANTS, german: str = GERMAN) -> Path:
    path = shop.campaign(STACK)
    path.write_text(path.read_text("utf-8") + variants, "utf-8")
    if german:
        shop.put("campaigns/texts/de-DE.yaml", german)
    return path


def lines(done: Result) -> list[str]:
    assert done.exit_code == 0, (done.output, done.exception)
    return done.stdout.splitlines()


def wrong(done: Result) -> list[str]:
    assert isinstance(done.exception, MistakesError), done.output
    return [str(one).rpartition("shop/")[2] for one in done.exception.mistakes]


def test_each_variant_on_a_line(shop: Shop) -> None:
    rows = lines(run("variants", "list", campaign(shop)))
    assert rows[0].split() == ["variant", "HTML", "KB", "text", "KB", "pictures", "KB", "what", "differs"]
    told = {row.split()[0]: " ".join(row.split()[4:]) for row in rows[1:]}
    assert told == {
        "arm=control,language=en-IE": "the baseline",
        "arm=control,language=de-DE": "in de-DE",
        "arm=quiet,language=en-IE": "subject; top: headline; without closing",
        "arm=quiet,language=de-DE": "in de-DE; without closing",
        "press": "in de-DE",
    }


def test_sizes_are_those_of_the_files_that_compile_writes(shop: Shop) -> None:
    path = campaign(shop)
    assert run("compile", path).exit_code == 0
    rows = json.loads(run("variants", "list", path, "--format", "json").stdout)["variants"]
    assert len(rows) == 5
    for row in rows:
        folder = shop.root / "out/spring" / row["id"]
        assert row["html"] == (folder / "email.html").stat().st_size
        assert row["text"] == (folder / "email.txt").stat().st_size
        assert row["eml"] == (folder / "email.eml").stat().st_size


def test_two_variants_section_by_section(shop: Shop) -> None:
    path = campaign(shop)
    assert lines(run("variants", "diff", path, "arm=control,language=en-IE", "arm=quiet,language=en-IE")) == [
        "the mail",
        "  subject: “A letter” becomes “Quietly”",
        "top",
        "  headline: “Light for a year” becomes “The shelf is bare”",
        "closing",
        "  the section is left out (closing: “All lamps”)",
    ]
    assert lines(run("variants", "diff", path, "arm=control,language=de-DE", "arm=quiet,language=de-DE"))[
        :4
    ] == [
        "the mail",
        "  subject: “Ein Brief” becomes “Leise”",
        "top",
        "  headline: “Licht für ein Jahr” becomes “Das Regal ist leer”",
    ]


def test_two_variants_as_data(shop: Shop) -> None:
    path = campaign(shop)
    done = run(
        "variants", "diff", path, "arm=quiet,language=en-IE", "arm=control,language=en-IE", "--format", "json"
    )
    data: dict[str, Any] = json.loads(done.stdout)
    assert (data["first"], data["second"]) == ("arm=quiet,language=en-IE", "arm=control,language=en-IE")
    assert [one["section"] for one in data["differences"]] == [None, "top", "closing"]
    assert data["differences"][2]["changes"] == [
        {
            "kind": "added",
            "field": "",
            "before": "",
            "after": "closing",
            "said": "a new section, after top (closing: “All lamps”)",
            "entry": "",
            "part": "",
        }
    ]


@pytest.mark.parametrize("columns", [40, 72, 100, 160])
def test_in_a_terminal_lines_fit(shop: Shop, columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside the figures where there is room, below them where there is little."""
    path = campaign(shop)
    monkeypatch.setattr("handbill.cli.variants._columns", lambda: columns)
    rows = lines(run("variants", "list", path))
    figures = len("arm=control,language=en-IE  HTML KB  text KB  pictures KB")
    assert all(len(row) <= max(columns, figures) for row in rows)
    assert rows[0].endswith("what differs") == (columns == 160) or columns == 100
    told = " ".join(" ".join(row.split()) for row in rows)
    assert "subject; top: headline; without closing" in told
    names = "arm=control,language=en-IE", "arm=quiet,language=en-IE"
    rows = lines(run("variants", "diff", path, *names))
    assert all(len(row) <= columns for row in rows)
    assert "headline: “Light for a year” becomes “The shelf is bare”" in " ".join(row.strip() for row in rows)


def test_a_variant_and_itself(shop: Shop) -> None:
    path = campaign(shop)
    name = "arm=quiet,language=en-IE"
    assert lines(run("variants", "diff", path, name, name)) == [f"{name} reads the same as {name}"]


def test_a_campaign_without_variants(shop: Shop) -> None:
    rows = lines(run("variants", "list", shop.campaign(STACK)))
    assert rows[1].startswith("main ")
    assert rows[1].endswith("the baseline")
    assert len(rows) == 2


def test_an_unknown_variant(shop: Shop) -> None:
    path = campaign(shop)
    done = run("variants", "diff", path, "arm=control,language=en-IE", "arm=quite,language=en-IE")
    assert wrong(done) == [
        "campaigns/spring.yaml: no variant arm=quite,language=en-IE; expected one of arm=control,language=en-IE; "
        "arm=control,language=de-DE; arm=quiet,language=en-IE; arm=quiet,language=de-DE; press; "
        "nearest: arm=quiet,language=en-IE"
    ]


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("arm=quite", "arm=quiet,language=en-IE"),
        ("language=deDE", "arm=control,language=de-DE"),
        ("pres", "press"),
    ],
)
def test_a_variant_that_names_few_of_its_axes(shop: Shop, name: str, near: str) -> None:
    with pytest.raises(MistakesError) as caught:
        shop.compile(campaign(shop), variants=(name,))
    (line,) = map(str, caught.value.mistakes)
    assert line.endswith(f"nearest: {near}")


def test_a_patch_that_spoils_the_whole_mail_is_told_at_its_line(shop: Shop) -> None:
    """Any two values may meet in a mail: the patch that is at fault alone is told, once for all of them."""
    axes = "  axes:\n    arm:\n      a: {}\n      b: {drop: [footer-nav]}\n    tone: {x: {}, y: {set: {top.copy: Z.}}}\n"
    (line,) = shop.mistakes(campaign(shop, f"variants:\n{axes}", ""))
    at = (
        campaign(shop, f"variants:\n{axes}", "").read_text("utf-8").splitlines().index(axes.splitlines()[3])
        + 1
    )
    assert line.startswith(
        f"campaigns/spring.yaml:{at}:7: variants, axes, arm, b: with arm=b, no link of this mail"
    )


def test_variants_with_mistakes_do_not_hide_the_others(shop: Shop) -> None:
    done = run("variants", "list", campaign(shop, german=GERMAN.replace("    mail: {subject: Leise}\n", "")))
    assert done.exit_code == 2
    assert [row.split()[0] for row in done.stdout.splitlines()[1:]] == [
        "arm=control,language=en-IE", "arm=control,language=de-DE", "arm=quiet,language=en-IE", "press",
    ]  # fmt: skip
    assert done.stderr.rpartition("shop/")[2] == (
        "campaigns/spring.yaml:14:63: arm=quiet, subject: not translated into de-DE; expected subject: in "
        "campaigns/texts/de-DE.yaml, under variants, arm=quiet, mail\n"
    )


# -- sheets of campaigns with variants


def exported(path: Path, *more: str) -> list[tuple[str, str]]:
    done = run("texts", "export", path, "--language", "de-DE", *more)
    assert done.exit_code == 0, done.exception
    rows = list(csv.reader(io.StringIO(done.stdout_bytes.decode("utf-8-sig"), newline="")))[1:]
    return [(row[0].rpartition("\n")[2].split(" | ")[0].strip("[]"), row[1]) for row in rows]


def test_a_sheet_asks_for_what_variants_change(shop: Shop) -> None:
    path = campaign(shop)
    assert exported(path) == [
        ("subject", "Ein Brief"),
        ("top: headline", "Licht für ein Jahr"),
        ("top: copy", "Sie brennt."),
        ("closing: button.label", "Alle Lampen"),
        ("arm=quiet, subject", "Leise"),
        ("arm=quiet, top: headline", "Das Regal ist leer"),
    ]  # the copy of `press` is its own and in its language already
    assert exported(path, "--left") == []
    assert run("texts", "check", path).stdout == "complete: de-DE\n"


def test_a_text_for_both_of_two_choices(shop: Shop) -> None:
    variants = """\
variants:
  axes:
    arm: {control: {}, quiet: {set: {top.headline: Quiet}}}
    segment: {old: {}, new: {set: {top.copy: Welcome.}}}
    language: [en-IE, de-DE]
"""
    assert exported(campaign(shop, variants, ""))[-2:] == [
        ("segment=new, top: copy", ""),
        ("arm=quiet, top: headline", ""),
    ]


def test_what_the_languages_own_patch_says_needs_no_translation(shop: Shop) -> None:
    variants = """\
variants:
  axes:
    language: {en-IE: {}, de-DE: {set: {subject: Ein Brief, top.headline: Licht}, drop: [closing]}}
"""
    path = campaign(shop, variants, "")
    assert [key for key, _words in exported(path)] == ["top: copy"]
    shop.put("campaigns/texts/de-DE.yaml", "handbill: 1\nsections: {top: {copy: Sie brennt.}}\n")
    assert run("texts", "check", path).stdout == "complete: de-DE\n"
    assert run("compile", path).exit_code == 0


def test_another_shops_standing_sections_bring_their_own_texts(shop: Shop) -> None:
    shop.put("brands/tern/brand.yaml", "handbill: 1\nbrand: tern\nextends: pellow\nname: Tern\n")
    for brand, text, german in (("pellow", "From us", "Von uns"), ("tern", "From Tern", "Von Tern")):
        shop.put(f"brands/{brand}/standing/end.yaml", f"handbill: 1\nblock: note\ncopy: {text}\n")
        shop.put(
            f"brands/{brand}/standing/texts/de-DE.yaml",
            f"handbill: 1\nsections: {{end: {{copy: {german}}}}}\n",
        )
    path = shop.campaign(STACK + "  - standing: end\n")
    axes = "variants: {axes: {brand: [pellow, tern], language: [en-IE, de-DE]}}\n"
    path.write_text(path.read_text("utf-8") + axes, "utf-8")
    shop.put("campaigns/texts/de-DE.yaml", GERMAN.partition("variants:")[0])
    assert len(exported(path)) == 4
    assert lines(run("texts", "check", path)) == ["complete: de-DE"]
    assert run("compile", path).exit_code == 0
    html = (shop.root / "out/spring/brand=tern,language=de-DE/email.html").read_text("utf-8")
    assert "Von Tern" in html
    assert "Licht für ein Jahr" in html


def test_check_names_what_no_variant_has(shop: Shop) -> None:
    german = GERMAN.replace("arm=quiet:", "arm=quite:")
    assert wrong(run("texts", "check", campaign(shop, german=german)))[-1] == (
        "campaigns/texts/de-DE.yaml:7:3: variants, arm=quite: arm has no quite; expected one of control, quiet; "
        "nearest: quiet"
    )


def test_a_text_is_used_where_its_arm_alone_differs(shop: Shop) -> None:
    """Another axis may leave the section out: the arm's translation is not unused for that."""
    variants = """\
variants:
  axes:
    arm: {control: {}, quiet: {set: {subject: Quietly}}}
    segment: {old: {}, new: {drop: [top]}}
    language: [en-IE, de-DE]
"""
    path = campaign(shop, variants)
    assert lines(run("texts", "check", path)) == ["complete: de-DE"]
    assert run("compile", path).exit_code == 0
    shop.put("campaigns/texts/de-DE.yaml", GERMAN.replace("{top: {head", "{end: {copy: Ende}, top: {head"))
    (line,) = wrong(run("texts", "check", path))
    assert line.startswith("campaigns/texts/de-DE.yaml:9:22: arm=quiet, end: copy: no section end with words")


@pytest.mark.parametrize("arm", ["control", "quiet"])
def test_the_demo_sale_with_an_arm(tmp_path: Path, arm: str) -> None:
    """The arm changes the opening and leaves the closing out; nothing else differs."""
    root = tmp_path / "demo"
    shutil.copytree(Path(__file__).parents[1] / "demo", root, ignore=shutil.ignore_patterns("out", "texts"))
    path = root / "campaigns/winter-last-call.yaml"
    text = path.read_text("utf-8").partition("\nvariants:")[0]
    arms = "{control: {}, quiet: {set: {top.button.link: /kettles, top.picture.file: sunrise.jpg}, drop: [closing]}}"
    path.write_text(f"{text.rstrip()}\nvariants: {{axes: {{arm: {arms}}}}}\n", "utf-8")
    expected = {
        "control": ["arm=control reads the same as arm=control"],
        "quiet": [
            "top",
            "  button link leads to https://orrowby.example/kettles instead of https://orrowby.example/sale",
            "  picture: hero.jpg, 600 × N px becomes sunrise.jpg, 600 × N px",
            "closing",
            "  the section is left out (closing: “Then it is day.”)",
        ],
    }
    told = lines(run("variants", "diff", path, "arm=control", f"arm={arm}"))
    assert [re.sub(r"× \d+ px", "× N px", line) for line in told] == expected[arm]
