"""Pictures that move for long, or flash."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule
from handbill.preflight.pixels import flashes, motion
from handbill.preflight.specimen import Specimen

LONGEST = 5.0  # seconds that something may move by itself without a way to stop it
FLASHES = 3  # in any second


def check(mail: Specimen) -> Iterator[Hit]:
    """Moving pictures that do not come to rest, and ones that flash."""
    for plan in mail.mail.plans:
        if plan.content_type != "image/gif":
            continue
        data = mail.bytes_of(plan)
        moves = motion(data)
        if moves is None:
            continue
        name, where = plan.source.path.name, mail.asked(plan.name)
        if moves.lasts > LONGEST:
            lasts = "for ever" if not moves.rounds else f"for {moves.lasts:.1f} s"
            yield Hit(f"{name} moves {lasts}, more than {LONGEST:g} s, and no reader can stop it", where)
        if (count := flashes(data)) > FLASHES:
            yield Hit(f"{name} flashes {count} times in a second, more than {FLASHES}", where)


RULE = Rule(
    slug="motion",
    group="access",
    severity=ERROR,
    needs=frozenset({"source"}),
    about="What moves comes to rest within five seconds, and nothing flashes.",
    why="Something that moves beside a text keeps some people from reading it, and flashes can bring on a "
    "seizure. The size of what flashes is not looked at: a small flash, which the standard spares, is "
    "told too.",
    source="WCAG 2.2 SC 2.2.2 and 2.3.1 (level A)",
    remedy="Let the picture play once, or few enough rounds, and end on a frame that says everything.",
    check=check,
)
