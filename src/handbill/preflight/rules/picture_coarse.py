"""Pictures with too few pixels for the size they are shown at."""

from collections.abc import Iterator
from math import floor

from handbill.preflight.contract import WARNING, Hit, Rule
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """Pictures with fewer pixels than CSS px across; parts and twins of a file count once."""
    said: set[str] = set()
    for plan in mail.mail.plans:
        file = plan.source.path.name
        if plan.sharpness < 1 and file not in said:
            said.add(file)
            message = f"{file} is shown {plan.width} px wide and has {plan.whole[0]} pixels for that"
            yield Hit(f"{message}, {floor(plan.sharpness * 100) / 100:g} to the px", mail.asked(plan.name))


RULE = Rule(
    slug="picture-coarse",
    group="readers",
    severity=WARNING,
    needs=frozenset({"source"}),
    about="Every picture has at least one pixel for each CSS px that it is shown at.",
    why="Readers enlarge a smaller one, which blurs it. Phones and most notebooks show two pixels and more "
    "to the px, so that even one to the px looks soft there.",
    source="CSS Images 3, 5.3: an image is scaled to its box; two pixels to the px: common practice",
    remedy="Take a larger file: twice as many pixels across as it is shown at. Or choose a layout that shows "
    "it smaller.",
    check=check,
)
