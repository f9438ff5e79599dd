"""Pictures without an alternative."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule
from handbill.preflight.part import Part


def each(part: Part) -> Iterator[Hit]:
    """Pictures whose element has no alt attribute."""
    for picture in part.page.pictures:
        if picture.alt is None:
            yield Hit(f"the picture {_file(picture.src)} has no alternative")


def _file(src: str) -> str:
    return src.rpartition("/")[2] or src


RULE = Rule(
    slug="alt-missing",
    group="access",
    severity=ERROR,
    needs=frozenset({"html"}),
    about="Every picture has an alternative text, empty for decoration.",
    why="Without one a screen reader reads the file's name; many readers show no pictures until asked.",
    source="WCAG 2.2 SC 1.1.1 (level A)",
    remedy='Describe it in the block\'s template with alt="{{ picture.alt }}", or alt="" for decoration.',
    each=each,
)
