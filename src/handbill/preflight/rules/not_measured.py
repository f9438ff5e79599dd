"""A facet of a mail that cannot be read."""

from handbill.preflight.contract import ERROR, Rule

RULE = Rule(
    slug="not-measured",
    group="readers",
    severity=ERROR,
    needs=frozenset(),
    about="Every part of the mail could be read and measured.",
    why="Rules that need what cannot be read are not run, and are listed so. They have cleared nothing.",
    source="our own: a missing facet is never a pass",
    remedy="Look for markup of your own that closes what it did not open, in the block named here.",
)
