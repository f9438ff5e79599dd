"""What readers make of a mail on dark screens, done to an open page. Enters: a page; leaves: it turned.

A reader follows the mail's own dark rules; or hangs hooks on what it changed, which rules of the mail answer;
or turns light grounds and dark text on them, or every colour, by itself. None publishes its arithmetic: the
last three are common practice, with the colours of `handbill.colour.dark`. Pictures are never changed.
"""

from __future__ import annotations

import re
from typing import Literal

from playwright.sync_api import Page

from handbill.colour.dark import LIGHT, inverted
from handbill.colour.oklab import from_rgb

Way = Literal["rules", "hooks", "container", "partial", "full"]
WAYS: tuple[Way, ...] = ("rules", "hooks", "container", "partial", "full")

# Remembers every style, and collects the colours in use.
COLLECT = """() => {
    const all = [...document.body.querySelectorAll("*"), document.body];
    window.kept = all.map((e) => [e, e.getAttribute("style")]);
    const found = new Set();
    for (const e of all) {
        const s = getComputedStyle(e);
        for (const one of [s.color, s.backgroundColor, s.borderTopColor, s.borderRightColor,
            s.borderBottomColor, s.borderLeftColor]) found.add(one);
    }
    return [...found];
}"""
# `table` has, for each colour, its turned one and whether it is light. Hooks stand on what changed, or on the
# body alone, which webmails keep as a container.
TURN = """([table, all, hooks, alone]) => {
    const clear = (c) => /, 0\\)$|transparent/.test(c);
    const bright = (e) => {
        while (e && clear(getComputedStyle(e).backgroundColor)) e = e.parentElement;
        return !e || e === document.documentElement || table[getComputedStyle(e).backgroundColor][1];
    };
    const plan = [];
    for (const [e] of window.kept) {
        const s = getComputedStyle(e);
        const inks = e.style.color || e === document.body ? [["color", s.color, e]] : [];
        for (const side of ["top", "right", "bottom", "left"]) // a border lies on what is round it
            if (parseFloat(s.getPropertyValue(`border-${side}-width`)))
                inks.push([`border-${side}-color`, s.getPropertyValue(`border-${side}-color`),
                    e.parentElement]);
        for (const [name, value, on] of inks)
            if (all || (bright(on) && !table[value][1])) plan.push([e, name, table[value][0]]);
        if (!clear(s.backgroundColor) && (all || table[s.backgroundColor][1]))
            plan.push([e, "background-color", table[s.backgroundColor][0]]);
    }
    for (const [e, name, value] of plan) {
        e.style.setProperty(name, value, hooks ? "" : "important");
        if (hooks && !alone && !name.startsWith("border"))
            e.setAttribute(name === "color" ? "data-ogsc" : "data-ogsb", "");
    }
    if (alone) for (const name of ["data-ogsc", "data-ogsb"]) document.body.setAttribute(name, "");
}"""
BACK = """() => { for (const [e, style] of window.kept) {
    style === null ? e.removeAttribute("style") : e.setAttribute("style", style);
    e.removeAttribute("data-ogsc"); e.removeAttribute("data-ogsb");
} }"""


def rgb(written: str) -> tuple[int, int, int]:
    """rgb() and rgba() as computed styles have them; an alpha is left out."""
    red, green, blue = (int(float(one)) for one in re.findall(r"[\d.]+", written)[:3])
    return red, green, blue


def turn(page: Page, way: Way) -> None:
    """Show the page as a reader that goes `way`; it has to be in the light before."""
    if way == "rules":
        page.emulate_media(color_scheme="dark")
        page.evaluate(COLLECT)
        return
    table = {}
    for written in page.evaluate(COLLECT):
        colour = rgb(written)
        turned = inverted(colour)
        table[written] = (f"rgb({turned[0]}, {turned[1]}, {turned[2]})", from_rgb(colour)[0] >= LIGHT)
    page.evaluate(TURN, [table, way == "full", way in ("hooks", "container"), way == "container"])


def back(page: Page) -> None:
    """As it was before `turn`."""
    page.evaluate(BACK)
    page.emulate_media(color_scheme="light")
