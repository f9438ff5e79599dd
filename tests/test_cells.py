"""Sections inside a section: the block `pair`, as a campaign uses it.

Sources: CSS 2.1 section 9.5 (floats side by side must fit their row), WCAG 2.2 SC 1.3.2 (reading order).
"""

from __future__ import annotations

import re
from typing import Any

import html5lib
import pytest

NAMESPACE = "{http://www.w3.org/1999/xhtml}"
PAIR = """\
  - block: pair
    id: two
{more}    cells:
      - {{block: copy, headline: First cell, copy: "One. [More](/one)"}}
      - {{block: copy, headline: Second cell, copy: Two., button: {{label: Go on, link: /two}}}}
"""
INSET = 600 - 2 * 40  # px: a mail less the space that the default house style keeps on both sides
GAP = 28  # px: pair's own measure


def pair(*more: str) -> str:
    return PAIR.format(more="".join(f"    {line}\n" for line in more))


def section(made: Any, number: int = 0) -> str:
    """A section's HTML as the file has it."""
    entry = made.built.manifest["sections"][number]
    start, end = entry["bytes"]
    return str(made.built.html[start:end].decode())


def columns(html: str) -> list[dict[str, str]]:
    """The attributes of the floated tables, which hold the cells."""
    found = html5lib.parse(f"<table>{html}</table>").iter(f"{NAMESPACE}table")
    return [dict(table.attrib) for table in found if table.get("align") in ("left", "right")]


def wide(made: Any) -> list[int]:
    """px that each cell may take on screens of 600 px and more, as the head's rules say."""
    head = made.built.html.decode().partition("</head>")[0]
    found = []
    for column in columns(section(made)):
        rule = re.search(r"\." + column["class"] + r"\{[^}]*max-width:(\d+)px", head)
        assert rule is not None
        found.append(int(rule[1]))
    return found


@pytest.mark.parametrize(
    ("share", "first"), [("even", INSET // 2), ("narrow", INSET // 3), ("wide", INSET * 2 // 3)]
)
def test_the_cells_and_the_gap_fill_the_row(shop: Any, share: str, first: int) -> None:
    """For floats and for the ghost cells of word-processor readers alike."""
    made = shop.compile(pair(f"share: {share}"))
    html, cells = section(made), wide(made)
    assert len(cells) == 2
    assert abs(cells[0] - first) <= GAP
    assert sum(cells) + GAP == INSET
    comments = "".join(re.findall(r"<!--\[if mso\]>.*?<!\[endif\]-->", html))
    ghosts = [int(width) for width in re.findall(r'<td[^>]*?width="(\d+)"', comments)]
    assert ghosts == [cells[0], GAP, cells[1]]


def test_a_picture_is_made_as_wide_as_its_cell(shop: Any) -> None:
    """CSS 2.1 section 10.3.2: a replaced element has its own width unless it is given one."""
    spec = "handbill: 1\nblock: frame\nabout: x\ncell: true\nfields: {art: {type: picture, slot: full}}\n"
    shop.put("library/blocks/frame/block.yaml", spec)
    shop.put("library/blocks/frame/block.html.j2", '<p class="a">{{ put_image(art, tone) }}</p>\n')
    shop.put("library/blocks/frame/block.css", ".a { margin: 0; }\n")
    shop.put("library/blocks/frame/block.txt.j2", "{{ art.alt }}\n")
    made = shop.compile(
        "  - block: pair\n    share: wide\n    cells:\n"
        "      - {block: frame, art: {file: wren.png, alt: A lamp}}\n"
        "      - {block: frame, art: {file: rook.png, alt: A rook}}\n"
    )
    assert [int(width) for width in re.findall(r'<img[^>]*width="(\d+)"', section(made))] == wide(made)


def test_text_stands_in_the_order_of_the_file(shop: Any) -> None:
    """WCAG 2.2 SC 1.3.2; `turned` moves a cell on wide screens and nowhere else."""
    words = ["First cell", "One.", "Second cell", "Two.", "Go on"]
    for order in ("as-written", "turned"):
        made = shop.compile(pair(f"order: {order}"))
        for text in (re.sub("<!--.*?-->", "", section(made), flags=re.DOTALL), made.built.text.decode()):
            places = [text.index(word) for word in words]
            assert places == sorted(places)
            assert [text.count(word) for word in words] == [1] * len(words)


def test_turned_swaps_the_sides(shop: Any) -> None:
    def sides(*more: str, head: str = "") -> list[str]:
        return [one["align"] for one in columns(section(shop.compile(pair(*more), head)))]

    assert sides() == ["left", "right"]
    assert sides("order: turned") == ["right", "left"]
    assert sides(head="dir: rtl") == ["right", "left"]
    assert sides("order: turned", head="dir: rtl") == ["left", "right"]


def test_from_right_to_left(shop: Any) -> None:
    """HTML section 3.2.6.4: `dir`; what starts at the right is aligned there."""
    html = section(shop.compile(pair(), "dir: rtl"))
    root = html5lib.parse(f"<table>{html}</table>")
    assert next(cell.get("dir") for cell in root.iter(f"{NAMESPACE}td") if cell.get("dir")) == "rtl"
    assert "text-align:right" in html
    assert "text-align:left" not in html


def test_word_processor_readers_read_cells_in_the_direction_of_the_mail(shop: Any) -> None:
    """HTML section 3.2.6.4: `dir` on a cell is that of its text."""
    for head, direction in (("", "ltr"), ("dir: rtl", "rtl")):
        html = section(shop.compile(pair(), head))
        comments = "".join(re.findall(r"<!--\[if mso\]>.*?<!\[endif\]-->", html))
        assert set(re.findall(r'<td[^>]*\sdir="(\w+)"', comments)) <= {direction}


def test_links_in_cells_carry_the_tags_of_the_section(shop: Any) -> None:
    """RFC 3986 section 3.4: the brand's tags are part of the query."""
    hrefs = re.findall(r'<a [^>]*href="([^"]*)"', section(shop.compile(pair())))
    assert hrefs == [
        "https://pellow.example/one?from=letter&amp;part=two",
        "https://pellow.example/two?from=letter&amp;part=two",
    ]


def test_facts_in_cells_are_filled_and_counted(shop: Any) -> None:
    made = shop.compile(
        "  - block: pair\n    id: two\n    cells:\n"
        "      - {block: copy, copy: 'Use ${offer.code}, ${recipient.first_name or \"you\"}.'}\n"
        "      - {block: note, copy: 'From ${brand.name}, ${section.id}.'}\n",
        "offer: {kind: code, code: WARM5, percent: 5}",
    )
    html, text = section(made), made.built.text.decode()
    assert 'Use WARM5, <span dir="auto">{{' in html
    assert "Use WARM5, {{" in text
    for whole in (html, text):
        assert "From Pellow, two." in whole
    assert "Use WARM5, Ida." in made.built.eml.decode()
    used = {name for name, _sku in made.mail.facts}
    assert {"offer.code", "brand.name", "section.id"} <= used


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("{block: cop, copy: x}", "no block cop"),
        ("{block: hero, headline: x}", "block hero does not stand in a cell"),
        ("{block: pair, cells: [{block: copy, copy: x}, {block: copy, copy: y}]}", "block pair does not"),
        ("{copy: x}", "a section names its block"),
        ("{block: copy, copy: x, cop: x}", "unknown field cop"),
        ("{block: copy}", "copy is missing"),
        ('{block: copy, copy: "${offer.cod}"}', "offer"),
        ('{block: copy, copy: x, button: {label: x, link: "javascript:x"}}', "javascript"),
        ("words alone", "a section is a mapping"),
    ],
)
def test_what_cannot_stand_in_a_cell_is_said_with_its_place(shop: Any, cell: str, words: str) -> None:
    stack = f"  - block: pair\n    cells:\n      - {{block: copy, copy: One.}}\n      - {cell}\n"
    file = shop.campaign(stack)
    line = file.read_text().splitlines().index(f"      - {cell}") + 1
    found = shop.mistakes(file)
    assert len(found) == 1, found
    assert found[0].startswith(f"campaigns/spring.yaml:{line}:")
    assert "cells[1]" in found[0]
    assert words in found[0]


@pytest.mark.parametrize("count", [0, 1, 3])
def test_a_pair_has_two_cells(shop: Any, count: int) -> None:
    cells = "".join("\n      - {block: copy, copy: One.}" for _ in range(count)) or " []"
    found = shop.mistakes(f"  - block: pair\n    cells:{cells}\n")
    assert len(found) == 1, found
    assert found[0].startswith("campaigns/spring.yaml:")
    assert "cells" in found[0]
