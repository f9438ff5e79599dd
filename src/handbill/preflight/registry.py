"""Finds the rules. Enters: the modules of `preflight/rules`; leaves: rules by slug.

A file there holds one `RULE`; dropping it in is all it takes.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Iterable, Mapping
from functools import cache
from importlib import import_module

from handbill.base.cache import Cache
from handbill.base.errors import Fault, nearest
from handbill.preflight import rules
from handbill.preflight.contract import GROUPS, Rule


class DuplicateRuleError(RuntimeError):
    """Two rule files give one name: a fault of the program, not of its user."""


def cheap(store: Cache, stamp: str) -> list[Rule]:
    """The rules that look at one section's source and HTML alone; which they are is kept under `stamp`."""
    key = f"cheap rules {stamp}"
    kept = store.get(key)
    if kept is None:
        files = {_file(rule): rule for rule in every().values() if rule.cheap}
        store.put(key, " ".join(files).encode())
        return list(files.values())
    return [_rule(name) for name in kept.decode().split()]


def _file(rule: Rule) -> str:
    return rule.slug.replace("-", "_")


def _rule(name: str) -> Rule:
    found: Rule = import_module(f"{rules.__name__}.{name}").RULE
    return found


@cache
def every() -> Mapping[str, Rule]:
    """All rules in the order of reports: by group, then by name."""
    names = [found.name for found in pkgutil.iter_modules(rules.__path__)]
    return collect((name, _rule(name)) for name in names)


def collect(found: Iterable[tuple[str, Rule]]) -> Mapping[str, Rule]:
    """Rules by slug, from (file, rule) pairs. Raises DuplicateRuleError when two share a slug."""
    known: dict[str, tuple[str, Rule]] = {}
    for name, rule in found:
        if rule.slug in known:
            raise DuplicateRuleError(f"{name} and {known[rule.slug][0]} both call their rule {rule.slug}")
        known[rule.slug] = name, rule
    ordered = sorted((rule for _name, rule in known.values()), key=lambda one: (_rank(one), one.slug))
    return {rule.slug: rule for rule in ordered}


def _rank(rule: Rule) -> int:
    return GROUPS.index(rule.group)


def pick(slug: str) -> Rule:
    """The rule called `slug`. Raises Fault with the nearest name."""
    known = every()
    if slug not in known:
        near = nearest(slug, known)
        raise Fault(f"no rule {slug}", expected="a name that `handbill rules list` shows", nearest=near)
    return known[slug]
