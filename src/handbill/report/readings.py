"""The measured numbers of a mail in words. Enters: a specimen; leaves: readings, none of them a grade."""

from __future__ import annotations

from collections.abc import Iterator

from handbill.base.letters import extent
from handbill.measure.layout import PHONE, Screen
from handbill.preflight.rules.link_same_words import untagged
from handbill.preflight.specimen import Specimen
from handbill.report.model import Reading

WIDE = Screen(600, 844)  # CSS px: what a desktop's reading pane gives the mail
KB = 1024


def read(mail: Specimen) -> tuple[Reading, ...]:
    """Everything that was measured; boxes only where the mail could be laid out."""
    return (*_lines(mail), *(_boxes(mail) if mail.has("layout") else ()), *_weights(mail))


def _lines(mail: Specimen) -> Iterator[Reading]:
    yield Reading("subject", extent(mail.subject))
    yield Reading("preheader", extent(mail.preheader))


def _boxes(mail: Specimen) -> Iterator[Reading]:
    found = mail.readings
    phone = f"on {PHONE.width} × {PHONE.height}"
    shows = f"{found.first_screen} px show at first: an assumption"
    if found.main is not None:
        place = f"{found.main.y:.0f} to {found.main.bottom:.0f} px down"
        within = "on the first screen" if found.main_in_first_screen else "below the first screen"
        yield Reading("first button", f"“{found.main.label}”, {place}, {within}", shows)
        small = min(found.buttons, key=lambda one: min(one.link.width, one.link.height)).link
        count = f"{len(found.buttons)}, the smallest {small.width:.0f} × {small.height:.0f} px"
        yield Reading("buttons", f"{count} “{small.text}”")
    wide = mail.laid_out(WIDE).layout
    height = f"{found.height:,.0f} px, {found.screens:.1f} screens {phone}"
    yield Reading("height", f"{height}; {wide.height:,.0f} px at {WIDE.width}")
    shares = f"{found.picture_share:.0%} pictures, {found.text_share:.0%} lines of text"
    yield Reading("area", f"{shares} {phone}")
    for name, wanted, sight in (("amount off", mail.amount, found.amount), ("code", mail.code, found.code)):
        if wanted:
            where = "not in figures" if name == "amount off" else "not as text"
            at = f"{sight.y:.0f} px down {phone}" if sight is not None else where
            yield Reading(name, f"{wanted}, {at}")
    tags = frozenset(mail.mail.shop.brand.link_tags)
    ways = [(one.element.start, untagged(one.address, tags)) for one in found.links]
    whole = len({way for _at, way in ways})
    if found.main is not None:
        first, aim = found.main.link.element.start, untagged(found.main.link.address, tags)
        before = len({way for at, way in ways if at < first} - {aim})
        yield Reading("destinations", f"{before} before the first button, {whole} in all")
    else:
        yield Reading("destinations", f"{whole}")
    yield Reading("words", f"{found.words:,}")
    if found.notes:
        yield Reading("approximate", "; ".join(found.notes))


def _weights(mail: Specimen) -> Iterator[Reading]:
    html = len("".join(mail.rendered.html).encode()) / KB
    yield Reading("HTML", f"{html:.1f} KB of {mail.workspace.budgets.html_kb}")
    pictures = sum(len(mail.bytes_of(plan)) for plan in mail.mail.plans) / KB
    yield Reading("pictures", f"{pictures:,.0f} KB of {mail.workspace.budgets.pictures_kb:,}")
