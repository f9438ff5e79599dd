"""Mails on dark screens, held to pixels: by their own rules, by readers' hooks, in colours that readers turn.

Sources: WCAG 2.2 SC 1.4.3 Contrast (Minimum), 4.5 or 3 for large text; SC 1.4.11 Non-text Contrast, 3 for
what has to be seen to be understood: logos, icons, stars, chips, borders of buttons. How readers turn colours
is a model (common practice), see dark.py.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image, ImageChops, ImageFilter
from playwright.sync_api import Page

from .browser import Reader, View
from .dark import WAYS, Way, back, rgb, turn
from .mails import Mail
from .test_contrast import LINES, WIDTHS, Contrast, contrast, lines, ratio, shot
from .test_harness import NOWHERE, page

SIGN = 3.0
MOST = 72  # CSS px: what is taller is a picture, not a sign
NEAR = 3  # CSS px: a stroke is seen by an edge as near as that
OWN = 0.15  # part of a sign from which one of its colours can be the ground of another
SEEN = 0.75  # part of a sign that has to be seen; the rest is shading, and the middle of what is solid
# Small pictures, then borders and fills of buttons with a border and of colour chips.
SIGNS = """(most) => {
    const overPicture = (e) => {
        for (; e && e !== document.documentElement; e = e.parentElement) {
            const style = getComputedStyle(e);
            if (style.backgroundImage !== "none") return true;
            if (!/, 0\\)$|transparent/.test(style.backgroundColor)) return false;
        }
        return false;
    };
    const shown = (e) => { const r = e.getBoundingClientRect();
        return r.width > 4 && r.height > 4 ? [r.left, r.top, r.right, r.bottom] : null; };
    const file = (e) => e.src.split("/").pop();
    const pictures = [...document.images].filter((e) => shown(e) && e.getBoundingClientRect().height <= most)
        .map((e) => [e.alt || file(e), file(e), shown(e)]);
    const chip = (e) => !e.children.length && !e.textContent.trim() && e.style.backgroundColor;
    const edges = [...document.body.querySelectorAll("td, a, div")].filter((e) => {
        const s = getComputedStyle(e), inner = e.firstElementChild;
        const sides = [s.borderTopWidth, s.borderRightWidth, s.borderBottomWidth, s.borderLeftWidth];
        return shown(e) && sides.every(parseFloat) &&
            (chip(e) || e.matches("a") || (e.children.length === 1 && inner.matches("a")));
    }).map((e) => [e.getAttribute("aria-label") || e.textContent.trim().slice(0, 40) || "a chip",
        [getComputedStyle(e).borderLeftColor, ...(chip(e) ? [getComputedStyle(e).backgroundColor] : [])],
        shown(e), overPicture(e)]);
    return [pictures, edges];
}"""
HIDE = "() => { for (const one of document.images) one.style.setProperty('opacity', '0', 'important'); }"


@dataclass(frozen=True)
class Sign:
    """A small picture or a border; `over` a background picture. `seen` is the part that stands out."""

    name: str
    seen: float
    over: bool = False


def share_seen(ink: Image.Image, ground: Image.Image, alpha: Image.Image) -> float:
    """The part of a sign's pixels that differ from their ground by SIGN, or lie beside one that does."""
    over, under = ink.tobytes(), ground.tobytes()
    pairs = (
        ratio(tuple(over[at : at + 3]), tuple(under[at : at + 3])) >= SIGN  # type: ignore[arg-type]
        for at in range(0, len(over), 3)
    )
    clear = Image.frombytes("L", ink.size, bytes(255 * one for one in pairs))
    drawn = alpha.point([0] * 128 + [255] * 128)
    seen = ImageChops.multiply(clear.filter(ImageFilter.MaxFilter(2 * NEAR + 1)), drawn)
    return seen.histogram()[255] / max(1, drawn.histogram()[255])


def stands_alone(picture: Image.Image) -> bool:
    """Whether a picture has a ground of its own: no part is transparent, or two large colours stand out."""
    if picture.getchannel("A").getextrema()[0] > 0:
        return True
    counted = picture.getcolors(picture.width * picture.height) or []
    solid = [(count, colour[:3]) for count, colour in counted if colour[3] > 250]  # type: ignore[index]
    whole = sum(count for count, _colour in solid)
    large = [colour for count, colour in solid if count > OWN * whole]
    return any(ratio(one, other) >= SIGN for one in large for other in large)


def signs(found: Any, before: Image.Image, after: Image.Image, pictures: Path) -> Iterator[Sign]:
    """Every small picture and every border, seen with and without pictures."""
    marks, edges = found
    for name, file, box in marks:
        with Image.open(pictures / file) as stored:
            picture = stored.convert("RGBA")
        if not stands_alone(picture):
            place = tuple(round(edge) for edge in box)
            alpha = picture.getchannel("A").resize((place[2] - place[0], place[3] - place[1]))
            yield Sign(f"{name} ({file})", share_seen(before.crop(place), after.crop(place), alpha))
    for name, colours, (left, top, _right, bottom), over in edges:
        ground = after.getpixel((max(0, int(left) - 2), int((top + bottom) / 2)))
        drawn = [rgb(one) for one in colours if not one.endswith(", 0)")]
        best = max((ratio(one, ground) for one in drawn), default=SIGN)  # type: ignore[arg-type]
        yield Sign(f"border of {name}: {colours} on {ground}", float(best >= SIGN), over)


def shown_on(page: Page, pictures: Path | None) -> tuple[list[Contrast], list[Sign]]:
    """Lines of text, and signs where the folder of their pictures is given. Both are hidden afterwards."""
    if pictures is None:
        return lines(page), []
    found, before = page.evaluate(SIGNS, MOST), shot(page)
    page.evaluate(HIDE)
    texts, after = page.evaluate(LINES), shot(page)
    return [contrast(one, after) for one in texts], list(signs(found, before, after, pictures))


def faults(reader: Reader, mail: Mail) -> dict[str, list[Any]]:
    """What cannot be seen, by way and width; one page for each width.

    A window as wide as a desktop's shows other parts of background pictures, but no other colours.
    """
    wrong: dict[str, list[Any]] = {}
    rtl = mail.name.endswith("-rtl")
    for width, ways in ((WIDTHS[0], () if rtl else WAYS), (WIDTHS[1], WAYS[:1])):
        if not ways:
            continue
        with reader.open(mail.html, mail.pictures, View(width)) as opened:
            opened.look()  # makes the window as tall as the mail
            for way in ways:
                turn(opened.page, way)
                texts, seen = shown_on(opened.page, mail.pictures if width == WIDTHS[0] else None)
                back(opened.page)
                assert len(texts) > 3
                found = [one for one in texts if one.ratio < one.needed]
                found += [one for one in seen if one.seen < SEEN]  # type: ignore[misc]
                if found := [one for one in found if not (way == "full" and one.over)]:
                    wrong[f"{way} at {width}"] = found
    return wrong


def test_everything_can_be_seen_on_a_dark_screen(shown: Mail, reader: Reader) -> None:
    """Text on a background picture is left out where every colour is inverted: the picture is not, so light
    words on a night sky become dark ones. docs/readers.md says so."""
    assert faults(reader, shown) == {}


def darkened(reader: Reader, html: str, pictures: Path) -> tuple[Image.Image, Image.Image]:
    """A mail on a dark screen, and the same where the engine would turn its colours by itself."""
    with reader.open(html, pictures, View(WIDTHS[0], scheme="dark")) as opened:
        opened.page.add_style_tag(content="img{visibility:hidden}")  # a moving one is at another frame
        opened.look()
        plain = shot(opened.page)
        session = opened.page.context.new_cdp_session(opened.page)
        session.send("Emulation.setAutoDarkModeOverride", {"enabled": True})
        return plain, shot(opened.page)


def test_an_engine_leaves_a_mail_alone_that_has_a_dark_scheme(campaign: Mail, reader: Reader) -> None:
    """CSS Color Adjustment 1 section 2.2: colours of a page that supports a scheme are not forced into it.

    The engine is the one of Android's WebView, which darkens other pages for apps that ask for it.
    """
    plain, forced = darkened(reader, campaign.html, campaign.pictures)
    assert forced == plain


def test_an_engine_darkens_what_says_nothing(reader: Reader) -> None:
    plain, forced = darkened(reader, page('<p style="background:#fff;color:#000">Words</p>'), NOWHERE)
    assert forced != plain


def test_words_and_signs_that_are_lost_are_found(reader: Reader, tmp_path: Path) -> None:
    """On white that turns black: a black sign is lost, with a white rim it is not; a grey border is."""
    for name, rim in (("bare", None), ("rimmed", "#ffffff")):
        picture = Image.new("RGBA", (40, 40))
        for colour, box in ((rim, (8, 8, 32, 32)), ("#101010", (10, 10, 30, 30))):
            if colour:
                picture.paste(Image.new("RGBA", (box[2] - box[0], box[3] - box[1]), colour), box[:2])
        picture.save(tmp_path / f"{name}.png")
    html = page(
        '<table><tr><td style="background-color:#fff;padding:9px"><p style="color:#333">clear</p>'
        '<p style="color:#999">faint</p><img src="x/bare.png" alt=""><img src="x/rimmed.png" alt="">'
        '<table><tr><td style="border:1px solid #888"><a href="#" style="color:#333">edge</a></td></tr>'
        "</table>"
        "</td></tr></table>"
    )
    with reader.open(html, tmp_path, View(320)) as opened:
        opened.look()
        turn(opened.page, "partial")
        texts, seen = shown_on(opened.page, tmp_path)
    # #333 becomes light, #999 (lightness 0.68) is taken for light already and stays
    assert {one.text: one.ratio >= one.needed for one in texts} == {
        "clear": True,
        "faint": True,
        "edge": True,
    }
    assert [round(one.seen, 1) for one in seen[:1]] == [0.0]
    assert all(one.seen > SEEN for one in seen[1:])
    with reader.open(html.replace("#333", "#888"), tmp_path, View(320)) as opened:
        opened.look()
        turn(opened.page, "full")
        texts, _seen = shown_on(opened.page, tmp_path)
    assert {one.text: one.ratio >= one.needed for one in texts}["faint"] is False


def test_hooks_reach_what_the_reader_darkened(reader: Reader) -> None:
    """Rules of both hooks, on the element itself and on what holds it."""
    html = page(
        "<style>[data-ogsb] .g{background-color:#010203!important}"
        ".g[data-ogsb]{background-color:#010203!important}"
        "[data-ogsc] .i,[data-ogsb] .i{color:#fafbfc!important}</style>"
        '<div class="g" style="background-color:#ffffff"><p class="i" style="color:#111111">x</p></div>'
    )
    look = """() => [getComputedStyle(document.querySelector(".g")).backgroundColor,
        getComputedStyle(document.querySelector(".i")).color]"""
    ways: tuple[Way, ...] = ("hooks", "container")
    for way in ways:
        with reader.open(html, NOWHERE, View(320)) as opened:
            turn(opened.page, way)
            assert opened.page.evaluate(look) == ["rgb(1, 2, 3)", "rgb(250, 251, 252)"], way
            back(opened.page)
            assert opened.page.evaluate(look) == ["rgb(255, 255, 255)", "rgb(17, 17, 17)"]
