"""Pictures that a word-processor-based reader cuts off."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule
from handbill.preflight.specimen import Specimen

MOST = 1728  # CSS px


def check(mail: Specimen) -> Iterator[Hit]:
    """Pictures that are shown taller than that."""
    for plan in mail.mail.plans:
        if plan.height > MOST:
            message = f"{plan.source.path.name} is shown {plan.height} px tall, more than {MOST:,}"
            yield Hit(message, mail.asked(plan.name))


RULE = Rule(
    slug="picture-tall",
    group="readers",
    severity=WARNING,
    needs=frozenset({"source"}),
    about="No picture is taller than word-processor-based readers show.",
    why="They cut off what is below about 1,728 px.",
    source="common practice",
    remedy="Cut the picture into two sections, or give it another `ratio:`.",
    check=check,
)
