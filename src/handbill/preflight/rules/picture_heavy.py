"""Pictures that take long to load."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, workspace
from handbill.preflight.rules.clip import KB
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """More bytes of pictures than the budget; it names the heaviest."""
    sizes = {plan.name: len(mail.bytes_of(plan)) for plan in mail.mail.plans}
    sources = {plan.name: plan.source.path.name for plan in mail.mail.plans}
    whole, most = sum(sizes.values()), mail.workspace.budgets.pictures_kb * KB
    if whole > most:
        heavy = sorted(sizes, key=lambda name: -sizes[name])[:3]
        named = ", ".join(f"{sources[name]} {sizes[name] / KB:.0f}" for name in heavy)
        message = (
            f"the pictures have {whole / KB:,.0f} KB, more than {most // KB:,}; the heaviest are {named}"
        )
        yield Hit(message, workspace("budgets", "pictures_kb"))


RULE = Rule(
    slug="picture-heavy",
    group="readers",
    severity=WARNING,
    needs=frozenset({"source"}),
    about="The pictures load quickly on the road.",
    why="At 1 Mbit/s a megabyte takes eight seconds, and who waits for a picture has gone on by then.",
    source="common practice; the limit is `budgets: pictures_kb` in handbill.yaml",
    remedy="Show fewer pictures, or save photographs as JPEG.",
    check=check,
)
