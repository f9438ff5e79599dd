"""A silence that nothing needs."""

from handbill.preflight.contract import NOTE, Rule

RULE = Rule(
    slug="unused-silence",
    group="brand",
    severity=NOTE,
    needs=frozenset(),
    about="Every silence keeps a finding from speaking.",
    why="A silence that outlives its reason hides the next finding of its kind.",
    source="our own: an exception is dropped with its reason",
    remedy="Take the line out of `preflight: allow:`.",
)
