"""A rule or a block that fails while preflight runs."""

from handbill.preflight.contract import ERROR, Rule

RULE = Rule(
    slug="rule-failed",
    group="delivery",
    severity=ERROR,
    needs=frozenset(),
    about="Every rule could look at every section.",
    why="A rule that fails has found nothing and cleared nothing. Taking its silence for a pass would "
    "mislead.",
    source="our own: a finding, not a crash",
    remedy="Look at this section yourself, and report the fault with the campaign that shows it.",
)
