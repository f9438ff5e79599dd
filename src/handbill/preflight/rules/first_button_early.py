"""The first button, on a phone."""

from collections.abc import Iterator

from handbill.preflight.contract import NOTE, Hit, Rule, head, span
from handbill.preflight.specimen import Specimen

WITHOUT = "Give the first section a `button: {label: …, link: …}`; a mail to be read alone can silence this."


def check(mail: Specimen) -> Iterator[Hit]:
    """A main button that is not whole on the first screen, or none at all."""
    read = mail.readings
    main = read.main
    if main is None:
        yield Hit("the mail has no button", head("stack"), remedy=WITHOUT)
    elif main.bottom > read.first_screen:
        message = f"the first button, “{main.label}”, ends {main.bottom:.0f} px down on a phone"
        where = span(main.link.element, main.label)
        yield Hit(f"{message}; {read.first_screen} px are taken to show at first", where)


RULE = Rule(
    slug="first-button-early",
    group="practice",
    severity=NOTE,
    needs=frozenset({"layout"}),
    about="A phone shows the first button without scrolling.",
    why="Who is convinced by the subject presses at once. What a phone shows of a mail at first differs "
    "from reader to reader: 0.7 of 390 × 844 is an assumption; `preflight: {screen: …}` sets another.",
    source="common practice",
    remedy="Shorten what stands above it, or set the headline smaller on phones.",
    check=check,
    arm="button-early",
)
