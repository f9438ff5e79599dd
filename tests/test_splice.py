"""Finished attributes in place of classes, and no way from a block's words into template source."""

# ruff: noqa: E501 - sources and messages whole, on one line

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from tests.workspaces import BLOCK, BRAND

from handbill.base.errors import MistakesError
from handbill.base.source import parse_yaml, plain
from handbill.brand.style import house_style
from handbill.library.assemble import assemble
from handbill.library.build import Library
from handbill.library.environment import FILTERS, make_environment
from handbill.library.find import Found
from handbill.models.brand import Brand

FIELDS = """\
handbill: 1
block: jotting
about: A line.
fields:
  words: {type: text}
  text: {type: copy}
  ink: {type: colour}
  align: {type: choice, options: [start, center, end], default: start}
  size: {type: choice, options: [small, large], default: small}
  button: {type: button}
dynamic: {dot: [background-color]}
measures: {gap: {desktop: 20, phone: 10}, column: 200}
slots: {row: {columns: {left: var(--column), right: rest}}}
"""


def library(
    tmp_path: Path, html: str, css: str = "", *, rtl: bool = False, yaml: str = FIELDS, txt: str = "x"
) -> Library:
    folder = tmp_path / "jotting"
    folder.mkdir(exist_ok=True)
    for name, text in {
        **BLOCK,
        "block.yaml": yaml,
        "block.html.j2": html,
        "block.css": css,
        "block.txt.j2": txt,
    }.items():
        (folder / name).write_text(text)
    doc = parse_yaml(BRAND.encode(), "brand.yaml")
    brand = Brand.model_validate(plain(doc.root))
    return assemble([Found("jotting", folder, "x")], brand, doc, house_style(brand), rtl, "key", tmp_path, {})


def render(made: Library, name: str = "jotting.html", **fields: Any) -> str:
    environment = make_environment(FILTERS, made.codes, made.tables)
    known: dict[str, Any] = {
        "tone": "base",
        "level": 2,
        "inner": 3,
        "words": "W",
        "align": "start",
        "size": "small",
        "button": None,
        "ink": None,
    }
    return environment.get_template(name).render({**known, **fields}).strip()


def refused(tmp_path: Path, html: str, css: str = "", yaml: str = FIELDS, txt: str = "x") -> list[str]:
    with pytest.raises(MistakesError) as caught:
        library(tmp_path, html, css, yaml=yaml, txt=txt)
    return [str(one).removeprefix("jotting/") for one in caught.value.mistakes]


def test_styles_by_choice_and_tone(tmp_path: Path) -> None:
    css = ".a.large { width: 9px } .a.small { width: 3px } .a { color: var(--title) }"
    made = library(tmp_path, '<td class="a {{ size }}">{{ words }}</td>', css)
    light = render(made)
    assert 'style="color:#1b1c1e;width:3px"' in light
    assert "color:#ffffff;width:9px" in render(made, size="large", tone="ink")
    assert render(made, words='<b a="1">').endswith(">&lt;b a=&#34;1&#34;&gt;</td>")


def test_phones_in_the_element_and_wide_screens_in_the_head(tmp_path: Path) -> None:
    css = ".a { width: var(--gap); height: 1px } @media (--phone) { .a { height: 2px } } @media (prefers-color-scheme: dark) { .a { color: #fff; color: rgb(1,2,3) } }"
    made = library(tmp_path, '<td class="a">x</td>', css)
    assert 'style="width:10px;height:2px"' in render(made)
    rules = set(made.rules.values())
    assert ("wide", "width:20px;height:1px") in rules
    assert ("dark", "color:#fff;color:rgb(1,2,3)") in rules


def test_fallback_pairs_stand_side_by_side_in_elements_and_head(tmp_path: Path) -> None:
    css = ".a { width: 1px; width: calc(1px + 2px) } @media (--phone) { .a { width: 3px } }"
    made = library(tmp_path, '<td class="a">x</td>', css)
    assert ("wide", "width:1px;width:calc(1px + 2px)") in set(made.rules.values())
    assert "width:1px;width:calc(1px + 2px)" in render(
        library(tmp_path, '<td class="a">x</td>', css.partition("@")[0])
    )


def test_sides_and_alignment_by_direction(tmp_path: Path) -> None:
    source, css = (
        '<td align="{{ align }}"><table align="end"><tr><td class="a">x</td></tr></table></td>',
        ".a { padding-inline-start: 4px }",
    )
    assert 'align="left"' in render(library(tmp_path, source, css))
    right = render(library(tmp_path, source, css, rtl=True))
    assert 'align="right"' in right
    assert '<table role="presentation" border="0" cellpadding="0" cellspacing="0" align="left">' in right
    assert "padding-right:4px" in right
    assert 'align="center"' in render(library(tmp_path, source, css), align="center")


def test_conditions_in_classes(tmp_path: Path) -> None:
    source = "<td class=\"{{ 'a' if words }} {{ 'b' if button else 'c' if ink else 'd' }}\">x</td>"
    css = ".a { width: 1px } .b { height: 1px } .c { height: 2px } .d { height: 3px }"
    made = library(tmp_path, source, css)
    assert "width:1px;height:3px" in render(made)
    assert render(made, words="", ink="#000000") == '<td style="height:2px">x</td>'


def test_colours_that_an_author_chose_come_last(tmp_path: Path) -> None:
    made = library(
        tmp_path, '<td class="dot" style="background-color:{{ ink }}">x</td>', ".dot { width: 1px }"
    )
    assert render(made, ink="#aabbcc") == '<td style="width:1px;background-color:#aabbcc">x</td>'


def test_widths_of_slots_are_for_wide_screens(tmp_path: Path) -> None:
    made = library(tmp_path, '<td style="max-width:{{ width.row.left }}px">x</td>')
    assert "style=" not in render(made)
    assert any(rule == ("wide", "max-width:200px") for rule in made.rules.values())


def test_lines_are_kept_for_messages(tmp_path: Path) -> None:
    source = '<td\n  class="a"\n>{{\n words }}\n\n\n  text\n<!-- a\nb -->\n{% if words\n%}\n{{ button.nothing }}{% endif %}</td>'
    made = library(tmp_path, source, ".a { width: 1px }")
    with pytest.raises(Exception, match="nothing") as caught:
        render(made)
    frame = caught.tb
    lines = []
    while frame is not None:
        if frame.tb_frame.f_code.co_filename.endswith("block.html.j2"):
            lines.append(frame.tb_lineno)
        frame = frame.tb_next  # type: ignore[assignment]
    assert lines[-1] == source[: source.index("button.nothing")].count("\n") + 1


@pytest.mark.parametrize(
    ("html", "message"),
    [
        ('<td class="x{{ size }}">', "an expression is a whole class name"),
        ('<td class="{{ size }}x">', "an expression is a whole class name"),
        ('<td class="{% if words %}a{% endif %}">', "statements cannot stand in a class attribute"),
        ('<td class="{{ words }}">', "class depends on words, which is not a choice"),
        ('<td class="{{ align }} {{ size }}' + "".join(f" {{{{ 'a{n}' if words else 'b{n}' }}}}" for n in range(10)) + '">', "too many combinations"),
        ('<td style="color:{{ words }}">', "words cannot stand in a style"),
        ('<td style="color:{{ ink }}">', "color is not declared dynamic for this element"),
        ('<td style="position:absolute">', "position is not declared dynamic"),
        ('<td style="background:url(x)">', "an address in style"),
        ('<td style="{% if words %}position:absolute{% endif %}">', "position is not declared dynamic"),
        ('<td style="width:{{ words }}">', "words cannot stand in a style"),
        ("{{ text }}", "copy needs the name of its styles"),
        ("{{ text|prose(words) }}", "copy needs the name of its styles"),
        ("<h2>x</h2>", "<h2> fixes the level of a heading"),
        ('<img srcset="x">', "the attribute srcset is not allowed"),
        ('<td background="{{ button.link }}">', "the attribute background is not allowed"),
        ("<v:rect>", "<v:rect> is not allowed"),
        ('<a href="{{ button.link }}x">', "href holds a fixed address"),
        ('<a href="{{ ink }}">', "href takes no ink"),
    ],
)  # fmt: skip
def test_what_cannot_be_worked_out_is_refused(tmp_path: Path, html: str, message: str) -> None:
    lines = refused(tmp_path, html)
    assert any(line.startswith("block.html.j2:1:") and message in line for line in lines), lines


EVIL = "{{ words.__class__ }}"


@pytest.mark.parametrize(
    ("html", "css", "yaml", "txt"),
    [
        (f"<!-- {{% raw %}} -->{EVIL}<!-- {{% endraw %}} -->", "", FIELDS, "x"),
        (f"<!-- {{# -->{EVIL}<!-- #}} -->", "", FIELDS, "x"),
        (f"{{% raw %}}{EVIL}{{% endraw %}}", "", FIELDS, "x"),
        ('<td class="a">x</td>', f".a {{ font-family: '{EVIL}' }}", FIELDS, "x"),
        (
            '<td class="a">x</td>',
            ".a { width: var(--gap) }",
            FIELDS.replace("desktop: 20", f"desktop: '{EVIL}'"),
            "x",
        ),
        ('<td class="{{ size }}">x</td>', "", FIELDS.replace("[small, large]", f"[small, '{EVIL}']"), "x"),
        ('{{ "}}" }}{{ cycler }}{{ "{{" }}', "", FIELDS, "x"),
        ("{<!-- -->{ words.__class__ }}", "", FIELDS, "{{ words.__class__ }}"),
        ("x", "", FIELDS, f"{{% raw %}}{EVIL}{{% endraw %}}{EVIL}"),
        ("x", "", FIELDS, "{{ '{{' }}{{ words.__class__ }}"),
    ],
)
def test_two_readings_of_one_source_open_nothing(
    tmp_path: Path, html: str, css: str, yaml: str, txt: str
) -> None:
    try:
        made = library(tmp_path, html, css, yaml=yaml, txt=txt)
    except MistakesError:
        return
    shown = render(made) + render(made, "jotting.txt")
    assert "class 'str'" not in shown
    assert "class &#39;str" not in shown
