"""A campaign's variants looked at. Enters: a desk with its mails; leaves: each on a line, or two compared."""

from __future__ import annotations

from collections.abc import Iterator

from handbill.apps.differ import Part, Side, differences, side, summary
from handbill.base.errors import Fault, Mistake, MistakesError, Place
from handbill.base.frozen import dataclass
from handbill.pipeline import Desk


@dataclass(frozen=True, slots=True)
class Listed:
    """One variant: what a reader sees differ from the baseline, and its sizes in bytes; or its mistakes."""

    id: str
    differs: str
    html: int = 0
    text: int = 0
    eml: int = 0
    pictures: int = 0
    mistakes: tuple[Mistake, ...] = ()


def number_of(desk: Desk, name: str) -> int:
    """Which mail is called `name`. Raises MistakesError with the nearest."""
    try:
        return desk.number(name)
    except Fault as fault:
        raise MistakesError([fault.at(Place(desk.doc.name))]) from None


def listed(desk: Desk) -> Iterator[Listed]:
    """Every variant in turn. Raises MistakesError when the baseline itself cannot be made."""
    baseline = desk.plan.number(desk.plan.baseline.id) or 0
    ground = side(desk.mail(baseline))
    for number in range(len(desk)):
        name = desk.id(number)
        try:
            mail = ground.mail if number == baseline else desk.mail(number)
            sizes = desk.render(mail, name).sizes
            said = "" if number == baseline else summary(differences(ground, side(mail)))
        except MistakesError as error:
            yield Listed(name, "", mistakes=error.mistakes)
            continue
        differs = "the baseline" if number == baseline else said or "reads the same"
        yield Listed(name, differs, sizes.html, sizes.text, sizes.eml, sizes.pictures)


def compared(desk: Desk, before: int, after: int) -> tuple[Part, ...]:
    """How the second variant differs from the first. Raises MistakesError with the mistakes of both."""
    sides: list[Side] = []
    wrong: list[Mistake] = []
    for number in (before, after):
        try:
            sides.append(side(desk.mail(number)))
        except MistakesError as error:
            wrong.extend(error.mistakes)
    if wrong:
        raise MistakesError(wrong)
    return differences(*sides)
