"""Where values come from. Expected places are counted in the files that the tests write themselves."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from handbill.cli.main import cli

DEMO = Path(__file__).parent.parent / "demo"
CHILD = """\
handbill: 1
brand: hearth
extends: pellow
blocks:
  hero: {align: center, above: 24}
words: {en-IE: {was: before}}
"""
STACK = """\
  - block: hero
    headline: Bright
    button: {label: See, link: /all}
    picture: {file: wren.png, alt: A lamp, dark: dusk.png}
  - block: product-stack
    products:
      - L-100
      - {sku: L-200, copy: Our words.}
  - block: testimonial
    reviews: R-1
  - block: pair
    cells:
      - {block: copy, copy: Left}
      - {block: copy, copy: Right, align: center}
"""
STANDING = """\
sections:
  - block: copy
    id: promise
    headline: Kept
    copy: Mended free.
  - block: footer-nav
    show_online: false
"""
FOOT = """\
  - standing: foot
    set:
      promise.copy: Mended for ever.
"""


def invoke(*arguments: object) -> Result:
    return CliRunner().invoke(cli, [*map(str, arguments)], catch_exceptions=False)


@pytest.fixture
def family(shop: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The shop, a brand that extends it, and a campaign from a standing section, a catalogue and cells."""
    shop.put("brands/hearth/brand.yaml", CHILD)
    shop.put("brands/pellow/standing/foot.yaml", STANDING)
    shop.put("brands/hearth/pictures/dusk.png", (shop.root / "brands/pellow/pictures/rook.png").read_bytes())
    for name in ("products.csv", "reviews.csv"):  # a catalogue lies beside the brand that is asked for
        shop.put(f"brands/hearth/{name}", (shop.root / f"brands/pellow/{name}").read_bytes())
    shop.campaign(STACK, "brand: hearth", FOOT)
    monkeypatch.chdir(shop.root)
    return shop


def origins(*arguments: object) -> dict[str, dict[str, str]]:
    """What each value came from, by section id and field, in the words of the text form."""
    done = invoke("compile", "--explain", *arguments, "--format", "json")
    assert done.exit_code == 0, done.output
    found: dict[str, dict[str, str]] = {}

    def said(line: Any) -> str:
        at = line["origin"]["place"]
        text = f"{at['file']}:{at['line']} " if at else ""
        return text + line["origin"]["what"] + (f" | {line['file']}, {line['owner']}" if line["file"] else "")

    def put(section: Any) -> None:
        lines = [*section["values"], *section["words"]]
        found[section["id"]] = {line["field"]: said(line) for line in lines}
        for cell in section["cells"]:
            put(cell)
        if section["otherwise"]:
            put({**section["otherwise"], "id": section["id"] + ", otherwise"})

    for mail in json.loads(done.output)["mails"]:
        found["head"] = {line["field"]: said(line) for line in mail["head"]}
        found["words"] = {line["field"]: said(line) for line in mail["words"]}
        for tag, words in mail["other_words"].items():
            found[f"words, {tag}"] = {line["field"]: said(line) for line in words}
        for section in mail["sections"]:
            put(section)
    return found


def line_of(shop: Any, file: str, text: str) -> str:
    lines = (shop.root / file).read_text("utf-8").splitlines()
    (number,) = [at for at, line in enumerate(lines, 1) if text in line]
    return f"{file}:{number}"


def test_fields_of_the_campaign_the_brand_and_the_block(family: Any) -> None:
    seen = origins("campaigns/spring.yaml")
    mail, brand, parent = "campaigns/spring.yaml", "brands/hearth/brand.yaml", "brands/pellow/brand.yaml"
    hero = seen["hero"]
    assert hero["headline"] == line_of(family, mail, "Bright") + " campaign"
    assert hero["align"] == line_of(family, brand, "align: center") + " brand's default for hero"
    assert hero["layout"] == "default of block hero"
    picture = line_of(family, mail, "wren.png") + " campaign | brands/"
    assert hero["picture.file"] == picture + "pellow/pictures/wren.png, parent brand pellow"
    assert hero["picture.dark"] == picture + "hearth/pictures/dusk.png, brand hearth"
    assert seen["head"]["brand"] == line_of(family, mail, "brand:") + " campaign"
    assert (
        seen["head"]["language"] == line_of(family, parent, "languages:") + " languages, parent brand pellow"
    )


def test_rows_and_cycles(family: Any) -> None:
    seen = origins("campaigns/spring.yaml")
    stack = seen["product-stack"]
    row = line_of(family, "brands/hearth/products.csv", "L-100")
    assert stack["products[0]"] == f"{row} catalogue"
    assert stack["products[0].picture"] == (
        f"{row} catalogue | brands/pellow/pictures/wren.png, parent brand pellow"
    )
    assert stack["products[1].copy"] == line_of(family, "campaigns/spring.yaml", "Our words") + " campaign"
    assert stack["products[1].side"] == "cycle of block product-stack: start, end"
    assert seen["testimonial"]["reviews[0]"] == (
        line_of(family, "brands/hearth/reviews.csv", "R-1") + " catalogue"
    )
    text = invoke("compile", "--explain", "campaigns/spring.yaml").output.splitlines()
    sides = [
        line.split()[1] for line in text if line.split()[:1] in (["products[0].side"], ["products[1].side"])
    ]
    assert sides == ["start", "end"]


def test_standing_sections_and_what_is_set_in_them(family: Any) -> None:
    seen = origins("campaigns/spring.yaml")
    file = "brands/pellow/standing/foot.yaml"
    assert seen["promise"]["headline"] == line_of(family, file, "Kept") + " standing section foot"
    assert seen["promise"]["copy"] == (
        line_of(family, "campaigns/spring.yaml", "promise.copy") + " set: in the campaign"
    )
    foot = seen["footer-nav"]
    assert foot["show_online"] == line_of(family, file, "show_online") + " standing section foot"
    parent = "brands/pellow/brand.yaml"
    assert foot["legal"] == line_of(family, parent, "legal:") + " brand's legal text, parent brand pellow"
    assert foot["brand.postal_address"].startswith(line_of(family, parent, "postal_address:"))


def test_a_use_of_one_section_and_a_built_in_one(family: Any) -> None:
    family.put("brands/pellow/standing/hello.yaml", "block: copy\ncopy: Hello.\nsize: lead\n")
    family.campaign("  - standing: hello\n    size: text\n", foot="  - standing: footer\n    tone: base\n")
    seen = origins("campaigns/spring.yaml")
    assert seen["hello"]["copy"] == "brands/pellow/standing/hello.yaml:2 standing section hello"
    assert seen["hello"]["size"] == line_of(family, "campaigns/spring.yaml", "size: text") + " campaign"
    done = json.loads(invoke("compile", "--explain", "campaigns/spring.yaml", "--format", "json").output)
    assert done["mails"][0]["sections"][1]["place"]["file"] == "<built-in>/standing/footer.yaml"


def test_set_inside_a_standing_section_is_that_files_own(family: Any) -> None:
    family.put("library/standing/end.yaml", "standing: foot\nset:\n  promise.headline: Still kept\n")
    family.campaign("", foot="  - standing: end\n")
    assert origins("campaigns/spring.yaml")["promise"]["headline"] == (
        "library/standing/end.yaml:3 set: in standing section end"
    )


def test_cells_are_sections_inside_a_section(family: Any) -> None:
    seen = origins("campaigns/spring.yaml")
    assert seen["pair"]["share"] == "default of block pair"
    assert "cells" not in seen["pair"]
    second = line_of(family, "campaigns/spring.yaml", "copy: Right") + " campaign"
    assert seen["pair, cells[1]"]["copy"] == seen["pair, cells[1]"]["align"] == second
    assert seen["pair, cells[0]"]["align"] == "default of block copy"


def test_house_words_say_their_file_and_language(family: Any) -> None:
    seen = origins("campaigns/spring.yaml")
    assert seen["words"]["word.was"] == "brands/hearth/brand.yaml:6 brand, en-IE"
    assert seen["words"]["word.now"].startswith("<built-in>/shared/macros.yaml:")
    assert seen["words"]["word.now"].endswith(" shared, en")
    assert seen["footer-nav"]["word.unsubscribe"].endswith(" block footer-nav, en")


CONDITIONS = """\
  - block: hero
    id: top
    when: recipient.vip
    headline: First
    button: {label: Look, link: /look}
    picture: {file: wren.png, alt: A lamp}
    otherwise:
      headline: Others
      button: {label: Book}
  - block: copy
    when: recipient.vip
    copy: First.
    otherwise: {standing: thanks}
  - block: footer-nav
    lang: de-DE
  - block: copy
    lang: he
    dir: ltr
    copy: abc
"""


def test_who_gets_a_section_and_what_the_others_get(family: Any) -> None:
    family.put("brands/pellow/standing/thanks.yaml", "block: note\ncopy: Thank you.\n")
    path = family.campaign(CONDITIONS)
    seen = origins(path)
    mail = "campaigns/spring.yaml"
    assert seen["top"]["when"] == line_of(family, mail, "id: top").replace(":8", ":9") + " campaign"
    others = seen["top, otherwise"]
    assert others["headline"] == line_of(family, mail, "Others") + " campaign"
    assert others["button.label"] == line_of(family, mail, "Book") + " campaign"
    assert others["button.link"] == seen["top"]["button.link"] == line_of(family, mail, "/look") + " campaign"
    assert seen["copy, otherwise"]["copy"] == "brands/pellow/standing/thanks.yaml:2 standing section thanks"
    text = invoke("compile", "--explain", path).output
    assert (
        "  otherwise: the same, but for these lines, campaigns/spring.yaml:14\n"
        "    headline      Others  campaigns/spring.yaml:14 (campaign)\n"
        "    button.label  Book    campaigns/spring.yaml:15 (campaign)\n\n"
    ) in text
    assert "  otherwise: note (built in), brands/pellow/standing/thanks.yaml:1\n    copy   Thank you." in text


def test_a_sections_own_language_and_direction(family: Any) -> None:
    """Its words are those of its language, from wherever that language's come."""
    family.put("brands/pellow/texts/de-DE.yaml", "handbill: 1\nwords: {de-DE: {was: früher}}\n")
    path = family.campaign(CONDITIONS.replace("{standing: thanks}", "{block: note, copy: Thanks.}"))
    seen = origins(path)
    assert seen["footer-nav"]["lang"] == "campaigns/spring.yaml:21 campaign"
    assert seen["footer-nav"]["word.unsubscribe"].endswith(" block footer-nav, de")
    assert seen["footer-nav-2"]["word.unsubscribe"].endswith(" block footer-nav, en")
    assert (seen["copy-2"]["lang"], seen["copy-2"]["dir"]) == (
        "campaigns/spring.yaml:23 campaign",
        "campaigns/spring.yaml:24 campaign",
    )
    assert seen["words"]["word.now"].endswith(" shared, en")
    assert seen["words, de-DE"]["word.now"].endswith(" shared, de")
    assert seen["words, de-DE"]["word.was"] == "brands/pellow/texts/de-DE.yaml:2 brand, de-DE"
    assert seen["words, he"]["word.now"].endswith(" shared, he")


VARIANTS = """\
variants:
  axes:
    arm:
      control: {}
      quiet:
        set: {top.headline: Hush, subject: Quietly}
        practice: filled-buttons
    language: [en-IE, de-DE]
  named:
    late: {add: {after: top, section: {block: note, copy: Late}}}
"""
GERMAN = """\
handbill: 1
mail: {subject: Ein Brief}
sections: {top: {headline: Hell, button.label: Sehen}}
variants: {arm=quiet: {mail: {subject: Leise}, sections: {top: {headline: Still}}}}
"""


def test_of_a_variant(family: Any) -> None:
    """A patch's or a translation's value has its line; without an id, the variant that changes least."""
    stack = "  - {block: closing, id: top, headline: Bright, button: {label: See, link: /all}}\n"
    path = family.campaign(stack, foot="  - block: footer-nav\n" + VARIANTS)
    family.put("campaigns/texts/de-DE.yaml", GERMAN)
    mail, texts = "campaigns/spring.yaml", "campaigns/texts/de-DE.yaml"
    assert origins(path)["top"]["headline"] == "campaigns/spring.yaml:7 campaign"
    quiet = origins(path, "--variant", "arm=quiet,language=en-IE")
    assert quiet["head"]["subject"] == line_of(family, mail, "Quietly") + " arm=quiet"
    assert quiet["head"]["language"].startswith(line_of(family, mail, "[en-IE, de-DE]"))
    assert quiet["top"]["headline"] == line_of(family, mail, "Hush") + " arm=quiet"
    assert quiet["top"]["button_look"] == line_of(family, mail, "filled-buttons") + " arm=quiet"
    assert quiet["top"]["button.label"] == "campaigns/spring.yaml:7 campaign"
    german = origins(path, "--variant", "arm=quiet,language=de-DE")
    assert german["head"]["subject"] == f"{texts}:4 texts in de-DE"
    assert german["top"]["headline"] == f"{texts}:4 texts in de-DE"
    assert german["top"]["button.label"] == f"{texts}:3 texts in de-DE"
    assert german["top"]["button.link"] == "campaigns/spring.yaml:7 campaign"
    late = origins(path, "--variant", "late")
    assert late["note"]["copy"] == line_of(family, mail, "Late") + " variant late"
    text = invoke(
        "compile", "--explain", path, "--variant", "late", "--variant", "arm=control,language=de-DE"
    )
    titles = [line for line in text.output.splitlines() if line.startswith("spring")]
    assert titles == [f"spring, {one} ({mail})" for one in ("late", "arm=control,language=de-DE")]
    wrong = invoke("compile", "--explain", path, "--variant", "lat")
    assert wrong.exit_code == 2
    assert wrong.stderr.startswith("--variant: no variant lat; expected one of")
    assert wrong.stderr.endswith("nearest: late\n")


def test_brand_on_the_command_line_several_files_and_mistakes(family: Any) -> None:
    seen = origins("campaigns/spring.yaml", "--brand", "hearth")
    assert seen["head"]["brand"] == "--brand"
    family.campaign("  - {block: copy, copi: Hm}\n", name="bad")
    done = invoke("compile", "--explain", "campaigns/spring.yaml", "campaigns/bad.yaml")
    assert done.exit_code == 2
    assert "spring (campaigns/spring.yaml)" in done.stdout
    assert "campaigns/bad.yaml:7" in done.stderr
    assert "unknown field copi" in done.stderr
    data = json.loads(invoke("compile", "--explain", "campaigns/bad.yaml", "--format", "json").stdout)
    assert data["mails"] == []
    assert [one["line"] for one in data["mistakes"]] == [7, 7]  # copy is missing, copi unknown
    assert not (family.root / "out").exists()


def test_places_read_as_the_shell_would_name_them(family: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(family.root / "brands")
    text = invoke("compile", "--explain", "../campaigns/spring.yaml").output
    assert "found ../brands/pellow/pictures/wren.png (parent brand pellow)" in text
    assert "../campaigns/spring.yaml:" in text


@pytest.mark.parametrize("file", sorted(DEMO.glob("campaigns/*.yaml")), ids=lambda file: file.stem)
def test_every_leaf_of_a_demo_campaign_is_found_on_its_line(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A value said to come from the campaign stands on that line of it, or begins below it."""
    monkeypatch.chdir(DEMO)
    done = invoke("compile", "--explain", file.relative_to(DEMO), "--format", "json")
    assert done.exit_code == 0, done.output
    lines = file.read_text("utf-8").splitlines()
    checked = 0
    for section in json.loads(done.output)["mails"][0]["sections"]:
        for one in section["values"]:
            if one["origin"]["kind"] in ("campaign", "set"):
                line = lines[one["origin"]["place"]["line"] - 1]
                first = one["value"].split()[0]
                assert first in line or line.rstrip().endswith(("|-", ">-", "|", ">")), (one, line)
                checked += 1
    assert checked > 20


def test_where_a_block_lives_what_it_hides_and_who_changes_it(family: Any) -> None:
    own = "handbill: 1\nblock: hero\nabout: Our own hero.\nmeasures: {above: 12}\n"
    family.put("brands/pellow/blocks/hero/block.yaml", own)
    family.put("library/blocks/hero/block.yaml", own)
    assert invoke("blocks", "where", "hero", "--brand", "hearth").output.splitlines() == [
        "hero for brand hearth: parent brand pellow, brands/pellow/blocks/hero",
        "  hides workspace library, library/blocks/hero",
        "  hides built in",
        "  default  align  center  brands/hearth/brand.yaml:5 (brand hearth)",
        "  measure  above  24      brands/hearth/brand.yaml:5 (brand hearth)",
    ]
    family.change("brands/pellow/brand.yaml", "legal:", "blocks: {hero: {above: 9, size: title}}\nlegal:")
    text = invoke("blocks", "where", "hero").output
    assert "hero for brand pellow: brand pellow, brands/pellow/blocks/hero" in text
    place = line_of(family, "brands/pellow/brand.yaml", "size: title")
    hearth = text.split("hero for brand pellow")[0]
    assert f"title   {place} (parent brand pellow)" in hearth
    assert "  measure  above  24      brands/hearth/brand.yaml:5 (brand hearth)" in hearth


def test_where_in_a_plain_folder_and_for_an_unknown_block(
    family: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from handbill.base.errors import MistakesError

    with pytest.raises(MistakesError, match="nearest: hero"):
        invoke("blocks", "where", "heroo")
    monkeypatch.chdir(tmp_path)
    assert invoke("blocks", "where", "hero").output == "hero: built in\n"
