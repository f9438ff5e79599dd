"""The page about the rules. Enters: the rules; leaves: the text of docs/rules.md, printed when run."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from handbill.preflight.contract import GROUPS, Rule
from handbill.preflight.registry import every
from handbill.report.model import ADVICE

HEAD = """\
# Preflight's rules

Written by `python -m handbill.report.pages`; change a rule's file in `src/handbill/preflight/rules/` instead.

`handbill preflight CAMPAIGN…` looks at a mail by these rules and says where in your YAML something stands.
Errors fail the run (exit code 1), warnings do with `--strict`, notes never do. Practice is what the trade
does: it comes as notes, most with the arm of a variant that tests it in your own shop.

Silence a rule in a campaign or in brand.yaml, with the reason; a silence that silences nothing is reported.
How much a rule weighs in your shop is said in brand.yaml:

```yaml
preflight:
  allow: {link-same-words: Both buttons lead to the same lamp}
  severity: {subject-length: note}
```
"""
TITLES = {
    "truth": "Truth", "delivery": "Delivery", "access": "Access", "links": "Links", "copy": "Copy",
    "readers": "Mail readers", "brand": "House style", "practice": "Practice",
}  # fmt: skip


def page(rules: Mapping[str, Rule]) -> str:
    """The whole page."""
    parts = [HEAD]
    for group in GROUPS:
        members = [rule for rule in rules.values() if rule.group == group]
        if members:
            parts.append(f"\n## {TITLES[group]}\n")
            parts += ["\n" + "\n".join(_rule(rule)) + "\n" for rule in members]
    return "".join(parts) + f"\n{ADVICE}\n"


def _rule(rule: Rule) -> Iterator[str]:
    yield f"### {rule.slug}"
    yield ""
    yield f"{rule.about} *{rule.severity.word.capitalize()}.*"
    yield ""
    yield rule.why
    yield ""
    yield f"- What to do: {rule.remedy}"
    yield f"- Source: {rule.source}"
    if rule.needs:
        yield f"- Looks at: {', '.join(sorted(rule.needs))}"
    if rule.arm:
        yield f"- An arm that breaks it, to test it: `practice: [{rule.arm}]` in a variant"


if __name__ == "__main__":
    print(page(every()), end="")
