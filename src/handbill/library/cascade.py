"""The cascade, resolved once. Enters: rules and the class sets that occur; leaves: each set's declarations.

premailer decides which rule wins. It drops declarations it cannot read and all but the last of a fallback
pair, so it is handed one numbered placeholder a rule (`--d1: x`). These pass through in cascade order and the
declarations are put back afterwards: a later rule replaces a property, a pair within one rule stays.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from handbill.library.tokens import Declaration, Rule

ClassSet = frozenset[str]
Resolved = tuple[Declaration, ...]


def resolve(rules: Sequence[Rule], keys: Iterable[ClassSet]) -> dict[ClassSet, Resolved]:
    """The winning declarations of every class set in `keys`, in cascade order."""
    wanted = sorted({key for key in keys if key}, key=sorted)
    sheet = [
        "".join(f".{name}" for name in sorted(rule.classes)) + f"{{--d{number}:x}}"
        for number, rule in enumerate(rules)
        if rule.declarations
    ]
    if not sheet or not wanted:
        return dict.fromkeys(wanted, ())
    orders = _inline(sheet, wanted)
    return {
        key: _winners(((number, not one.role), one) for number in order for one in rules[number].declarations)
        for key, order in zip(wanted, orders, strict=True)
    }


def _inline(sheet: list[str], keys: list[ClassSet]) -> list[list[int]]:
    from premailer import Premailer

    body = "".join(f'<i class="{" ".join(sorted(key))}"></i>' for key in keys)
    page = f"<html><head><style>{''.join(sheet)}</style></head><body>{body}</body></html>"
    page = Premailer(
        page,
        allow_loading_external_files=False,
        disable_validation=True,
        disable_leftover_css=True,
        cssutils_logging_level=50,
    ).transform()
    orders = []
    for tag in re.findall(r"<i ([^>]*)>", page):
        style = re.search(r'style="([^"]*)"', tag)
        orders.append([int(number) for number in re.findall(r"--d(\d+):", style.group(1))] if style else [])
    return orders


def _winners(found: Iterable[tuple[tuple[int, bool], Declaration]]) -> Resolved:
    """`found` in cascade order; declarations of one origin (a rule, or its type role) stand side by side."""
    kept: dict[str, list[tuple[tuple[int, bool], Declaration]]] = {}
    for origin, declaration in found:
        earlier = kept.get(declaration.name)
        if earlier and earlier[-1][0] == origin:
            earlier.append((origin, declaration))
        else:
            kept.pop(declaration.name, None)  # so that the later rule also stands later
            kept[declaration.name] = [(origin, declaration)]
    return tuple(declaration for pairs in kept.values() for _origin, declaration in pairs)
