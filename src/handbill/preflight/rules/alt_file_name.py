"""Alternative texts that describe nothing."""

import re
from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule
from handbill.preflight.part import Part

_FILE = re.compile(
    r"(?i)\.(?:jpe?g|png|gif|webp|svg|bmp)$|^(?:img|dsc|pict?|image|photo|screenshot)[-_ ]?\d+$"
)
_NOTHING = frozenset(
    (
        "image",
        "picture",
        "photo",
        "graphic",
        "icon",
        "banner",
        "hero",
        "bild",
        "foto",
        "grafik",
        "spacer",
        "untitled",
    )
)
_BEFORE = re.compile(r"(?i)^(?:(?:an? )?(?:image|picture|photo|photograph|graphic) of|bild von|foto von)\b")


def fault(alt: str) -> str:
    """What is wrong with an alternative, or nothing."""
    if _FILE.search(alt.strip()):
        return "is a file's name"
    if alt.strip().casefold() in _NOTHING:
        return "says only that there is a picture"
    if _BEFORE.search(alt.strip()):
        return "begins with what every screen reader says anyway"
    return ""


def each(part: Part) -> Iterator[Hit]:
    """Alternatives of pictures."""
    for picture in part.page.pictures:
        if picture.alt and (wrong := fault(picture.alt)):
            yield Hit(f"the alternative “{picture.alt}” {wrong}", part.at(picture.alt))


RULE = Rule(
    slug="alt-file-name",
    group="access",
    severity=WARNING,
    needs=frozenset({"html"}),
    about="Alternative texts say what a picture shows.",
    why="It is all that some readers get of a picture, and all that anyone gets while pictures are blocked.",
    source="WCAG 2.2 SC 1.1.1 (level A), failure F30",
    remedy="Say in a few words what is to be seen, as to someone on the telephone; `decorative: true` if "
    "nothing.",
    each=each,
)
