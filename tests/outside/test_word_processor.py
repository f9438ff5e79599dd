"""Mails as word-processor-based readers take them: their branch as markup, the others' branch dropped.

No such engine runs here. What it is known to do comes from the notes of the open support data ("Can I
email": css-padding, css-margin, css-border, css-line-height, css-important, html-width, …). The height of a
picture and ghost tables are common practice.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from .branches import Page, declarations, px, sides, tree
from .letters import Letter

TALLEST = 1728  # px of one picture (common practice)
WIDEST_BORDER = 8  # px (support data, css-border)
CELLS = ("td", "th")
PAIR = re.compile(
    r"<!--\[if mso\]>(?P<vector>(?:(?!<!\[endif\]).)*?<v:roundrect.*?)<!\[endif\]-->\s*"
    r"<!--\[if !mso\]><!-->(?P<plain>.*?)<!--<!\[endif\]-->",
    re.DOTALL,
)
COMMON = ("arial", "helvetica", "georgia", "times new roman", "times", "courier new", "courier", "verdana",
          "tahoma", "trebuchet ms", "calibri", "segoe ui", "serif", "sans-serif", "monospace")  # fmt: skip


@pytest.fixture(scope="session")
def pages(letters: list[Letter]) -> list[tuple[Letter, Page]]:
    return [(letter, Page(letter.html)) for letter in letters]


Check = Callable[[Letter, Page], Iterator[str]]


def wrong(pages: list[tuple[Letter, Page]], check: Check) -> dict[str, str]:
    """Each fault with the first mail that shows it."""
    found: dict[str, str] = {}
    for letter, page in pages:
        for fault in check(letter, page):
            found.setdefault(fault, letter.name)
    return found


def page(body: str, style: str = "") -> Page:
    return Page(f"<html><head><style>{style}</style></head><body>{body}</body></html>")


def spaced(text: str) -> str:
    return " ".join(text.split())


def test_tags_are_nested_well_in_both_branches(pages: list[tuple[Letter, Page]]) -> None:
    for letter, page_ in pages:
        assert page_.body is not None, letter.name
        tree(re.sub(r"<!--.*?-->", "", letter.html, flags=re.DOTALL))


def test_tags_that_cross_are_found() -> None:
    for bad in ("<p><b></p></b>", "<table><td>x</td></table>", "<p>", "<!--[if mso]><td><![endif]--></p>"):
        with pytest.raises(AssertionError):
            page(bad).body  # noqa: B018 - looking is what fails


# Widths


def rows_that_do_not_add_up(letter: Letter, page: Page) -> Iterator[str]:
    """Ghost cells fill a table that states its width, and it the room it has: 600 px or the row's.

    Where nothing is stated (columns of a set width, side by side) there may be room left over.
    """
    for table in page.root.iter("table"):
        for row in table.findall("tr"):
            cells = row.findall("td")
            widths = [cell.get("width", "") for cell in cells]
            if len(cells) < 2 or not all(width.isdigit() for width in widths):
                continue
            total, room = sum(map(int, widths)), page.room(table)
            stated = table.get("width", "")
            if stated.isdigit() and int(stated) != total:
                yield f"cells of {widths} in a table of {stated}"
            if not (room - len(cells) if stated else 0) < total <= room:
                yield f"cells of {widths} in a room of {room:g}"


def test_ghost_cells_add_up(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, rows_that_do_not_add_up) == {}
    outer = [page_.body.findall(".//table[@width='600']") for _letter, page_ in pages]
    assert all(outer)


def test_cells_that_do_not_add_up_are_found() -> None:
    bad = '<table width="600"><tr><td style="padding:0 20px"><table width="560"><tr><td width="300"></td>' \
          '<td width="270"></td></tr></table></td></tr></table>'  # fmt: skip
    assert len(list(rows_that_do_not_add_up(None, page(bad)))) == 2  # type: ignore[arg-type]


def wider_than_their_room(letter: Letter, page: Page) -> Iterator[str]:
    """A table or picture of a stated width that is wider than its cell widens the whole mail."""
    for element in (*page.root.iter("table"), *page.root.iter("img")):
        width = element.get("width", "")
        if width.isdigit() and any(one.tag == "td" for one in page.up(element)):
            try:
                room = page.room(element)
            except AssertionError:  # only its own row says how wide it is
                continue
            if int(width) > room + 0.5:
                yield f"{element.tag} of {width} px in a room of {room:g}: {letter.name}"


def test_nothing_is_wider_than_its_room(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, wider_than_their_room) == {}


def pictures_without_a_width(letter: Letter, page: Page) -> Iterator[str]:
    """CSS widths of pictures are not read, a percent counts from the file (css-width, html-width)."""
    for picture in page.root.iter("img"):
        if not picture.get("width", "").isdigit():
            yield f"{picture.get('src')}: width {picture.get('width')}"


def test_every_picture_states_its_width_in_px(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, pictures_without_a_width) == {}


# Buttons, backgrounds, links


def twins(letter: Letter) -> Iterator[tuple[Any, Any]]:
    """The vector button and the table that the others see, as trees."""
    for found in PAIR.finditer(letter.html):
        yield tree(f"<div>{found['vector']}</div>"), tree(f"<div>{found['plain']}</div>")


def unlike_twins(vector: Any, plain: Any) -> Iterator[str]:
    """Text, link, size in px, colours and type of a vector button beside its twin's."""
    shape, label = next(vector.iter("v:roundrect")), next(vector.iter("center"))
    cell, link = next(plain.iter("td")), next(plain.iter("a"))
    shape_style, label_style = declarations(shape.get("style")), declarations(label.get("style"))
    cell_style, link_style = declarations(cell.get("style")), declarations(link.get("style"))
    padding = sides(link_style, "padding")
    corner = px(cell_style.get("border-radius", "0"))
    height = px(link_style["line-height"]) + padding[0] + padding[2]
    pairs = {
        "text": (spaced("".join(label.itertext())), spaced("".join(link.itertext()))),
        "link": (shape.get("href"), link.get("href")),
        "colour": (shape.get("fillcolor"), cell_style["background-color"]),
        "height": (px(shape_style["height"]), height),
        "corner": (round(float(shape.get("arcsize").rstrip("%"))), min(50, round(100 * corner / height))),
        "bgcolor": (shape.get("fillcolor"), cell.get("bgcolor")),
    }
    for name, start in (("letter-spacing", "normal"), ("font-style", "normal"), ("text-transform", "none")):
        pairs[name] = (label_style.get(name, start), link_style.get(name, start))
    for name in ("color", "font-family", "font-size", "font-weight"):
        pairs[name] = (label_style[name], link_style[name])
    for name, (theirs, ours) in pairs.items():
        if theirs != ours:
            yield f"{name}: {theirs} in the vector, {ours} beside it"


def test_vector_buttons_are_their_twins(letters: list[Letter]) -> None:
    found = {
        fault: letter.name for letter in letters for pair in twins(letter) for fault in unlike_twins(*pair)
    }
    assert found == {}
    drawn = sum(letter.html.count("<v:roundrect") for letter in letters)
    assert drawn == sum(1 for letter in letters for _ in twins(letter)) > 50


def test_a_button_unlike_its_twin_is_found(letters: list[Letter]) -> None:
    vector, plain = next(pair for letter in letters for pair in twins(letter))
    next(plain.iter("a")).set("href", "https://other.example/")
    assert [fault.partition(":")[0] for fault in unlike_twins(vector, plain)] == ["link"]


def backgrounds_unlike(letter: Letter, page: Page) -> Iterator[str]:
    """A vector background shows the picture, colour and width of the cell that it stands for."""
    for shape in page.root.iter("v:rect"):
        fill, cell = next(shape.iter("v:fill")), next(shape.iter("td"))
        style = page.own(cell)
        url = re.search(r"url\(['\"]?(.*?)['\"]?\)", style.get("background-image", ""))
        seen = {fill.get("src"), cell.get("background"), url and url[1]}
        colours = {fill.get("color"), style.get("background-color"), cell.get("bgcolor")}
        if len(seen) > 1:
            yield f"pictures {seen}"
        if len(colours) > 1:
            yield f"colours {colours}"
        if px(declarations(shape.get("style"))["width"]) != page.room(shape):
            yield f"{shape.get('style')} in a room of {page.room(shape):g}"


def test_vector_backgrounds_are_their_twins(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, backgrounds_unlike) == {}
    assert any("<v:rect" in letter.html for letter, _page in pages)


def links(root: Any, *, shown: Callable[[Any], bool] = lambda element: True) -> list[tuple[str, str]]:
    """Where each link leads and what it says (a picture by its alt text), in order."""
    found: list[tuple[str, str]] = []

    def walk(element: Any) -> None:
        if not shown(element):
            return
        if element.get("href"):
            said = "".join(element.itertext()) + "".join(img.get("alt", "") for img in element.iter("img"))
            found.append((element.get("href"), spaced(said)))
        for inner in element:
            walk(inner)

    walk(root)
    return found


def test_each_link_is_there_once(pages: list[tuple[Letter, Page]]) -> None:
    """The same links, with the same words, in the same order as in readers that use a browser's engine."""

    def not_hidden(element: Any) -> bool:
        return "display:none" not in element.get("style", "")

    for letter, page_ in pages:
        seen = links(tree(re.sub(r"<!--.*?-->", "", letter.html, flags=re.DOTALL)), shown=not_hidden)
        theirs = links(page_.root)
        assert theirs == seen, letter.name
        assert len(theirs) > 2


def test_words_are_there_once(pages: list[tuple[Letter, Page]]) -> None:
    """No text stands in one branch alone."""
    for letter, page_ in pages:
        plain = tree(re.sub(r"<!--.*?-->", "", letter.html, flags=re.DOTALL)).find("body")
        counted = [Counter("".join(root.itertext()).split()) for root in (plain, page_.body)]
        assert counted[0] == counted[1], letter.name


# Lines, paddings, borders


def cropped(letter: Letter, page: Page) -> Iterator[str]:
    """A picture in a line of exact height shows as much of itself as the line is high."""
    for picture in page.root.iter("img"):
        style = page.computed(picture)
        if style.get("mso-line-height-rule") != "exactly":
            continue
        width, height = letter.size(picture.get("src"))
        shown = height * int(picture.get("width")) / width
        if shown > px(style["line-height"]):
            yield f"{picture.get('src')}: {shown:g} px high in a line of {style['line-height']}"


def test_no_picture_stands_in_a_line_of_exact_height(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, cropped) == {}


def test_a_cropped_picture_is_found() -> None:
    letter = Letter("x", "", "", False, {"a.png": (400, 200)})
    exact = 'style="line-height:40px;mso-line-height-rule:exactly"'
    body = f'<table width="600"><tr><td {exact}><a><img src="x/a.png" width="%d"></a></td></tr></table>'
    assert list(cropped(letter, page(body % 100)))
    assert not list(cropped(letter, page(body % 80)))


def lines_without_the_rule(letter: Letter, page: Page) -> Iterator[str]:
    """px line heights need the rule (css-line-height); a cell that holds nothing but a picture needs none."""
    for element in page.body.iter():
        style = page.own(element)
        if "line-height" in style and (element.text or "").strip():
            computed = page.computed(element)
            if computed.get("mso-line-height-rule") != "exactly" and computed.get("display") != "none":
                yield f"{element.tag} {element.get('style')}"


def test_lines_of_text_have_exact_heights(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, lines_without_the_rule) == {}


def spaces_lost(letter: Letter, page: Page) -> Iterator[str]:
    """Padding is read on cells only (css-padding). Elsewhere a margin gives the same space, on a link the
    padding that its cell has for this engine alone."""
    for element in page.body.iter():
        style = page.own(element)
        if element.tag in CELLS:
            continue
        padding = sides(style, "padding")
        if not any(padding) or style.get("display") == "none":
            continue
        cell = next((one for one in page.up(element) if one.tag in CELLS), None)
        if element.tag in ("p", "h1", "h2", "h3", "h4", "h5", "h6", "div", "ul", "ol"):
            margin = sides(style, "margin")
            if any(given < asked for given, asked in zip(margin, padding, strict=True)):
                yield f"{element.tag}: padding {padding}, margin {margin}: {element.attrib}"
        elif element.tag in ("a", "span") and cell is not None:
            apart = element.tag == "span" and (element.tail or "")[:1].isspace()  # a space is left
            shown = style.get("display") not in (None, "inline")
            if shown and not apart and "mso-padding-alt" not in page.own(cell):
                yield f"{element.tag}: padding {padding}, nothing on its cell"
        elif element.tag not in ("img", "li"):
            yield f"{element.tag}: padding {padding}"


def test_no_space_is_lost_where_padding_is_not_read(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, spaces_lost) == {}


def test_lost_space_is_found() -> None:
    assert list(spaces_lost(None, page('<p style="padding-bottom:8px">x</p>')))  # type: ignore[arg-type]
    kept = page('<p class="m" style="margin:0;padding-bottom:8px">x</p>', ".m{margin:0 0 8px !important}")
    assert not list(spaces_lost(None, kept))  # type: ignore[arg-type]


def rules_it_cannot_read(letter: Letter, page: Page) -> Iterator[str]:
    """The engine reads `!important` after a space alone (css-important)."""
    theirs = re.findall(r"<!--\[if mso\]>(.*?)<!\[endif\]-->", letter.html, re.DOTALL)
    for branch in theirs:
        for style in re.findall(r"<style>(.*?)</style>", branch, re.DOTALL):
            yield from (one.strip() for one in re.findall(r"[^;{]*[^ ]!important", style))


def test_its_own_rules_are_written_as_it_reads_them(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, rules_it_cannot_read) == {}
    assert any(important for _letter, page_ in pages for _s, _d, important in page_.rules)


def bad_boxes(letter: Letter, page: Page) -> Iterator[str]:
    """Borders of more than 8 px, margins below 0 (css-border, css-margin), pictures it cannot show whole."""
    for element in page.root.iter():
        style = page.own(element)
        for name, value in style.items():
            if name.startswith("border") and "radius" not in name:
                for width in re.findall(r"(\d+(?:\.\d+)?)px", value):
                    if float(width) > WIDEST_BORDER:
                        yield f"{name}:{value}"
            if name.startswith("margin") and re.search(r"(?<![\w.])-\d", value):
                yield f"{name}:{value}"
        if element.tag == "img":
            width, height = letter.size(element.get("src"))
            if (shown := height * int(element.get("width")) / width) > TALLEST:
                yield f"{element.get('src')}: {shown:g} px high"


def test_borders_margins_and_pictures_keep_to_its_limits(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, bad_boxes) == {}


def test_bad_boxes_are_found() -> None:
    letter = Letter("x", "", "", False, {"a.png": (100, 1000)})
    assert list(bad_boxes(letter, page('<p style="border-top:9px solid #000">x</p>')))
    assert list(bad_boxes(letter, page('<p style="margin:0 -4px">x</p>')))
    assert list(bad_boxes(letter, page('<img src="a.png" width="300">')))
    assert not list(bad_boxes(letter, page('<p style="border:8px solid #000;margin:0 4px">x</p>')))


# Fonts


def fonts_it_lacks(letter: Letter, page: Page) -> Iterator[str]:
    """A first font that is on no common system must be given a substitute (css-at-font-face): the engine
    passes over the rest of the list."""
    substitutes = set()
    for style in page.root.iter("style"):
        for rule in re.findall(r"@font-face\s*\{([^}]*)\}", style.text or ""):
            own = declarations(rule)
            if "mso-font-alt" in own and "mso-generic-font-family" in own:
                substitutes.add(own["font-family"].strip("'\"").lower())
    for element in page.body.iter():
        first = page.own(element).get("font-family", "").partition(",")[0].strip("'\" ").lower()
        if first and first not in COMMON and first not in substitutes:
            yield f"{first} has no substitute"


def test_fonts_are_there_or_have_a_substitute(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, fonts_it_lacks) == {}


def test_text_outside_any_style_gets_the_shops_font(pages: list[tuple[Letter, Page]]) -> None:
    """Cells and paragraphs that say nothing take it from a rule: the engine's own is a serif. What stands
    inside a line keeps the line's font, a name in a headline too."""
    for letter, page_ in pages:
        forced = {selector for selector, style, _i in page_.rules if "font-family" in style}
        assert {"td", "th", "p", "a", "li", "div", "h1", "h2", "h3"} <= forced, letter.name
        assert "span" not in forced, letter.name


def what_shows_again(letter: Letter, page: Page) -> Iterator[str]:
    """`display:none` does not reach inner tables, nor pictures (css-display-none)."""
    for element in page.body.iter():
        style = page.own(element)
        if style.get("display") != "none":
            continue
        if element.tag == "img" or next(element.iter("table"), None) is not None:
            yield f"{element.tag} {element.attrib}"
        if style.get("mso-hide") != "all":
            yield f"{element.tag} is not hidden from it by its own property"


def test_what_is_hidden_stays_hidden(pages: list[tuple[Letter, Page]]) -> None:
    assert wrong(pages, what_shows_again) == {}
    for letter, page_ in pages:
        assert "display:none" in str([one.get("style") for one in page_.body]), letter.name
