"""The measured numbers of a mail in words. Enters: a specimen; leaves: readings, none of them a grade."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from handbill.base.letters import extent
from handbill.measure.layout import PANE, Screen, band
from handbill.measure.readings import Button, readings
from handbill.preflight.rules.link_same_words import untagged
from handbill.preflight.specimen import Specimen
from handbill.report.model import Reading

KB = 1024
FONTS = {"ios": "an iPhone's", "android": "Android's"}


def read(mail: Specimen) -> tuple[Reading, ...]:
    """Everything that was measured; boxes only where the mail could be laid out."""
    return (*_lines(mail), *(boxes(mail) if mail.has("layout") else ()), *_weights(mail))


def _lines(mail: Specimen) -> Iterator[Reading]:
    yield Reading("subject", extent(mail.subject))
    yield Reading("preheader", extent(mail.preheader))


def boxes(mail: Specimen) -> Iterator[Reading]:
    """What was measured of the mail's boxes, on the shop's phone and beside it."""
    found = mail.readings
    phone = f"on {mail.phone.width} × {mail.phone.height}"
    if found.main is not None:
        where, shows = _landing(found.main, found.first_screen), _shows(mail.phone)
        yield Reading("first button", f"“{found.main.label}”, {where}", shows)
        small = min(found.buttons, key=lambda one: min(one.link.width, one.link.height)).link
        count = f"{len(found.buttons)}, the smallest {small.width:.0f} × {small.height:.0f} px"
        yield Reading("buttons", f"{count} “{small.text}”")
        for one in found.buttons:
            yield Reading("button", _placed(one), detail=True)
    else:
        yield Reading("first button", "none")
    yield Reading("height", f"{found.height:,.0f} px, {found.screens:.1f} screens {phone}")
    yield from _screens(mail)
    yield from _fonts(mail)
    shares = f"{found.picture_share:.0%} pictures, {found.text_share:.0%} lines of text"
    yield Reading("area", f"{shares} {phone}")
    for name, wanted, sight in (("amount off", mail.amount, found.amount), ("code", mail.code, found.code)):
        if wanted:
            where = "not in figures" if name == "amount off" else "not as text"
            at = f"{sight.y:.0f} px down {phone}" if sight is not None else where
            yield Reading(name, f"{wanted}, {at}")
    before, whole = destinations(mail)
    first = f"{before} before the first button, " if before is not None else ""
    yield Reading("destinations", f"{first}{whole} in all")
    yield Reading("words", f"{found.words:,}")
    if found.notes:
        yield Reading("approximate", "; ".join(found.notes))


def destinations(mail: Specimen) -> tuple[int | None, int]:
    """How many places links lead to, tags apart: before the first button, other than its own (None without
    one), and in all."""
    found, tags = mail.readings, frozenset(mail.mail.shop.brand.link_tags)
    ways = [(one.element.start, untagged(one.address, tags)) for one in found.links]
    whole = len({way for _at, way in ways})
    if found.main is None:
        return None, whole
    first, aim = found.main.link.element.start, untagged(found.main.link.address, tags)
    return len({way for at, way in ways if at < first} - {aim}), whole


def _landing(button: Button, first: int) -> str:
    within = "on the first screen" if button.bottom <= first else "below the first screen"
    return f"{button.y:.0f} to {button.bottom:.0f} px down, {within}"


def _shows(screen: Screen) -> str:
    how = "an assumption" if screen.first is None else "assumed in brand.yaml"
    return f"{screen.first_screen} px show at first: {how}"


def _placed(one: Button) -> str:
    x, y, width, height = one.painted
    outline = "" if one.fill is not None else ", without a fill"
    where = f" in {one.section}" if one.section else ""
    return f"“{one.label}”{where}, {width:.0f} × {height:.0f} px at {x:.0f}, {y:.0f}{outline}"


def _screens(mail: Specimen) -> Iterator[Reading]:
    for screen in mail.screens:
        found = mail.readings_on(screen)
        tall = f"{found.height:,.0f} px, {found.screens:.1f} screens"
        if found.main is None:
            value = tall
        elif screen == PANE:
            value = f"{tall}; first button {found.main.y:.0f} to {found.main.bottom:.0f} px down"
        else:
            value = f"{tall}; first button {_landing(found.main, screen.first_screen)}"
        yield Reading(f"at {screen.width} × {screen.height}", value, detail=True)


def _fonts(mail: Specimen) -> Iterator[Reading]:
    """The same between the narrowest and the widest fonts that phones may have."""
    for platform, whose in FONTS.items():
        screen = replace(mail.phone, platform=platform)
        low, high = band(mail.page.document, screen, pictures=mail.sizes)
        if low is high:
            continue
        value = f"{_between(low.height, high.height)} px tall"
        mains = [one.main.bottom for one in (readings(low), readings(high)) if one.main is not None]
        if len(mains) == 2:
            value += f", first button ends {_between(*mains)} px down"
        memory = ", ".join(low.remembered)
        band_of = f"a band of widths; of {memory} from memory" if memory else "a band of widths, measured"
        yield Reading(f"in {whose} fonts", value, band_of, detail=True)


def _between(one: float, other: float) -> str:
    low, high = sorted((round(one), round(other)))
    return f"{low:,} to {high:,}" if low != high else f"{low:,}"


def _weights(mail: Specimen) -> Iterator[Reading]:
    html = len("".join(mail.rendered.html).encode()) / KB
    yield Reading("HTML", f"{html:.1f} KB of {mail.workspace.budgets.html_kb}")
    pictures = sum(len(mail.bytes_of(plan)) for plan in mail.mail.plans) / KB
    yield Reading("pictures", f"{pictures:,.0f} KB of {mail.workspace.budgets.pictures_kb:,}")
