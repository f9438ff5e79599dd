"""Contrast of text where a reader changes the colours by itself."""

from collections.abc import Iterator
from functools import partial

from handbill.colour.dark import Way, shown
from handbill.preflight.contract import NOTE, Hit, Rule
from handbill.preflight.contrasts import faint
from handbill.preflight.page import PHONE
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Every text with light grounds darkened, and with all colours inverted; as modelled."""
    said: set[tuple[object, ...]] = set()
    ways: tuple[tuple[Way, str], ...] = (
        ("partial", "readers darken light grounds"), ("full", "readers invert all colours"),
    )  # fmt: skip
    for way, how in ways:
        yield from faint(mail, (PHONE,), partial(shown, way=way), f" where {how} (modelled)", said)


RULE = Rule(
    slug="contrast-forced-dark",
    group="access",
    severity=NOTE,
    needs=frozenset({"html"}),
    about="Text stays readable where a reader darkens a mail in its own way.",
    why="Some readers ignore a mail's dark rules and darken light grounds, or invert every colour. None "
    "says how; this is a model of it (lightness turned round in OKLab), not a picture of any reader.",
    source="common practice; a model, and no measurement",
    remedy="Choose pairs that are clear by a margin: mid tones are what inversion leaves in the middle.",
    check=check,
)
