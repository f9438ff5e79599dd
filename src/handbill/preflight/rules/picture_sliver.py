"""Pictures that are too low to show anything."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule
from handbill.preflight.specimen import Specimen

LEAST = 24  # CSS px: less is no higher than a line of copy
WIDE = 300  # CSS px: a narrower one may be a sign or a mark


def check(mail: Specimen) -> Iterator[Hit]:
    """Wide pictures of hardly any height, but for decoration such as a ruled line, and strips of a whole."""
    silent = {picture.src for picture in mail.page.pictures if picture.alt == ""}
    for plan in mail.mail.plans:
        low = plan.rows == (0, plan.whole[1]) and plan.width >= WIDE and plan.height < LEAST
        if low and mail.mail.shop.pictures.where(plan.name) not in silent:
            message = f"{plan.source.path.name} is shown {plan.width} px wide and {plan.height} px tall"
            yield Hit(f"{message}: a sliver", mail.asked(plan.name))


RULE = Rule(
    slug="picture-sliver",
    group="readers",
    severity=WARNING,
    needs=frozenset({"html", "source"}),
    about="No picture that says something is a mere sliver.",
    why="A picture as wide as the mail and no higher than a line shows nothing, least of all on a phone, "
    "where it is half as tall. It is mostly the wrong file. Behind copy it would be enlarged many times.",
    source="common practice",
    remedy="Take another file or another `crop:`. A line that only decorates says so: `decorative: true`.",
    check=check,
)
