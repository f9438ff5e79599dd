"""The numbers of a mail for programs. Enters: a specimen; leaves: what JSON can hold, px to a tenth."""

from __future__ import annotations

from typing import Any

from handbill.measure.layout import Screen
from handbill.measure.readings import Button, Sighting
from handbill.preflight.specimen import Specimen
from handbill.report.readings import destinations

Data = dict[str, Any]


def measured(mail: Specimen) -> Data:
    """Everything about boxes: by screen where the first button lands and how tall the mail is, on the shop's
    phone the rest. Empty where the mail could not be laid out."""
    if not mail.has("layout"):
        return {}
    found, phone = mail.readings, mail.phone
    return {
        "phone": {
            "width": phone.width, "height": phone.height, "first_screen": phone.first_screen,
            "assumed": phone.first is None,
        },
        "screens": [_screen(mail, one) for one in mail.screens],
        "buttons": [_button(one) for one in found.buttons],
        "picture_share": round(found.picture_share, 4),
        "text_share": round(found.text_share, 4),
        "amount": _sighting(found.amount),
        "code": _sighting(found.code),
        "destinations": destinations(mail)[1],
        "destinations_before_first_button": destinations(mail)[0],
        "words": found.words,
        "approximate": list(found.notes),
    }  # fmt: skip


def _screen(mail: Specimen, screen: Screen) -> Data:
    found = mail.readings_on(screen)
    main = found.main
    return {
        "width": screen.width,
        "height": screen.height,
        "first_screen": screen.first_screen,
        "mail_width": round(found.width, 1),
        "mail_height": round(found.height, 1),
        "screens": round(found.screens, 2),
        "first_button": None if main is None else {
            "label": main.label, "y": round(main.y, 1), "bottom": round(main.bottom, 1),
            "on_first_screen": found.main_in_first_screen,
        },
    }  # fmt: skip


def _button(button: Button) -> Data:
    link = button.link
    x, y, width, height = (round(one, 1) for one in button.painted)
    return {
        "label": button.label,
        "section": button.section or "",
        "filled": button.fill is not None,
        "x": x, "y": y, "width": width, "height": height,
        "target": {"width": round(link.width, 1), "height": round(link.height, 1)},
    }  # fmt: skip


def _sighting(found: Sighting | None) -> Data | None:
    if found is None:
        return None
    return {"said": found.said, "section": found.section or "", "y": round(found.y, 1)}
