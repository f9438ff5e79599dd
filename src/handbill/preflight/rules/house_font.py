"""Fonts that are not the shop's."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, span
from handbill.preflight.contrasts import by_section, cut
from handbill.preflight.page import PHONE
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Text whose first font is none of the house style's, once in each section."""
    measures = mail.mail.library.house.measures
    house = {first(face) for name, pair in measures.items() if name.endswith("-face") for face in pair}
    for _id, inks in by_section(mail, mail.page.inks(PHONE).texts):
        said: set[str] = set()
        for ink in inks:
            font = first(ink.family)
            if font not in house and font not in said:
                said.add(font)
                shown = font or "the reader's own font"
                yield Hit(
                    f"“{cut(ink.text)}” is set in {shown}, not in a font of the house",
                    span(ink.element, ink.text),
                )


def first(stack: str) -> str:
    """The first family of a font stack."""
    return stack.partition(",")[0].strip(" '\"").casefold()


RULE = Rule(
    slug="house-font",
    group="brand",
    severity=WARNING,
    needs=frozenset({"source", "html"}),
    about="Text is set in the fonts of the house style.",
    why="Text without a font of its own falls back to the reader's, a serif in most.",
    source="the shop's own brand.yaml",
    remedy="Set it in a type role: `--type: text` in the block's style sheet.",
    check=check,
)
