"""What the rules of contrast share. Enters: text in several views; leaves: pairs that fail, by section."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from handbill.base.letters import shortened
from handbill.colour.srgb import Rgb, as_ratio, contrast, written
from handbill.dom.css import View
from handbill.preflight.contract import Hit, span
from handbill.preflight.inks import Ink, grouped
from handbill.preflight.specimen import Specimen

#: What a view makes of a text's two colours.
Shows = Callable[[Rgb, Rgb], tuple[Rgb, Rgb]]
_QUOTED = 40  # characters of a text that a finding repeats


def faint(
    mail: Specimen, views: Sequence[View], shows: Shows | None = None, how: str = "",
    said: set[tuple[object, ...]] | None = None,
) -> Iterator[Hit]:  # fmt: skip
    """A finding for each pair of colours in a section that some view does not show clearly enough.

    Pairs in `said` have been told; those told now are added.
    """
    said = set() if said is None else said
    for view in views:
        inks = mail.page.inks(view).texts
        for id, members in by_section(mail, inks):
            for ink, count in grouped(members):
                colour, ground = ink.colour, ink.ground.colour
                if shows is not None:
                    if ink.ratio < ink.needed:
                        continue  # told already, as the mail itself shows it
                    colour, ground = shows(colour, ground)
                ratio = contrast(colour, ground)
                if ratio < ink.needed and (id, ink.colour, ink.ground.colour) not in said:
                    said.add((id, ink.colour, ink.ground.colour))
                    pair = f"{written(colour)} on {written(ground)}"
                    more = f" and {count - 1} more" if count > 1 else ""
                    message = f"“{cut(ink.text)}”{more} has a contrast of {as_ratio(ratio)}{how}, {pair}"
                    yield Hit(f"{message}; {ink.needed:g}:1 is needed", span(ink.element, ink.text))


def by_section(mail: Specimen, inks: Sequence[Ink]) -> Iterator[tuple[str, list[Ink]]]:
    """Texts by the section they stand in."""
    found: dict[str, list[Ink]] = {}
    for ink in inks:
        part = mail.part_at(ink.element.start)
        found.setdefault(part.id if part is not None else "", []).append(ink)
    yield from found.items()


def cut(text: str) -> str:
    """The beginning of a text."""
    return shortened(text, _QUOTED)
