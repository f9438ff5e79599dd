"""Rules of the trade that a shop can test. Enters: an expanded campaign; leaves: a patch that breaks a rule.

All of them are common practice, not truth: each one here can be broken on purpose, in an arm that handbill
writes. A rule that a campaign does not follow, or that it could follow only, says why. What is law or a
standard (true prices, contrast, a way to unsubscribe) is no rule of this kind and cannot be broken here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from typing import Any

from handbill.base.errors import Fault, Mistake, nearest
from handbill.base.frozen import dataclass
from handbill.base.source import Node, make_mapping, make_scalar, make_sequence, place
from handbill.vary.breaks import (
    Campaign,
    amount_near_top,
    button_early,
    closing_button,
    code_near_top,
    filled_buttons,
    navigation_at_foot,
    old_price_beside_new,
    one_product_a_row,
)
from handbill.vary.change import Ground
from handbill.vary.patch import Patch, read_patch


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule, what the arm does that breaks it, and the way to that arm's patch as plain data and nodes.

    `breaks` raises Fault with the reason where the rule does not apply.
    """

    name: str
    says: str
    instead: str
    breaks: Callable[[Campaign], dict[str, Any]]
    source: str = "common practice"


PRACTICE: Mapping[str, Rule] = {
    rule.name: rule
    for rule in (
        Rule(
            "navigation-at-foot",
            "Links to departments stand at the foot, so that the first thing to press is the offer.",
            "the links stand under the logo",
            navigation_at_foot,
        ),
        Rule(
            "one-product-a-row",
            "Each product has a row and a button of its own.",
            "products stand two in a row, with their prices",
            one_product_a_row,
        ),
        Rule(
            "button-early",
            "The opening has a button that a phone shows without scrolling.",
            "the opening's button stands after the products",
            button_early,
        ),
        Rule(
            "closing-button",
            "After the last section comes one button to the rest.",
            "the mail ends without it",
            closing_button,
        ),
        Rule(
            "old-price-beside-new",
            "In a sale each product shows what it was beside what it is now.",
            "the new price stands alone",
            old_price_beside_new,
        ),
        Rule(
            "amount-near-top",
            "How much is off stands in the first words of the mail.",
            "the opening leaves the amount out",
            amount_near_top,
        ),
        Rule(
            "code-near-top",
            "A welcome's code stands near the top.",
            "the code stands at the end alone",
            code_near_top,
        ),
        Rule(
            "filled-buttons",
            "Buttons are filled with a colour.",
            "buttons are outlines",
            filled_buttons,
        ),
    )
}


def broken(patch: Patch, ground: Ground, path: str) -> tuple[Patch, list[Mistake]]:
    """`patch` with what breaks the rules it names added to it, each at the place of the rule's name."""
    mistakes: list[Mistake] = []
    for node in patch.practice:
        own = path if path.endswith(f", {node.value}") else f"{path}, practice, {node.value}"
        rule = PRACTICE.get(node.value)
        if rule is None:
            expected = "one of " + ", ".join(PRACTICE)
            near = nearest(node.value, PRACTICE)
            mistakes.append(Mistake(place(node), own, f"no rule {node.value}", expected, near))
            continue
        try:
            data = rule.breaks(Campaign(ground.expanded, ground.specs, ground.defaults))
        except Fault as fault:
            mistakes.append(fault.at(place(node), own))
            continue
        made, wrong = read_patch(written(data, node), own)
        mistakes.extend(wrong)
        patch = _joined(patch, made)
    return replace(patch, practice=()), mistakes


def _joined(one: Patch, other: Patch) -> Patch:
    return Patch(
        **{part.name: (*getattr(one, part.name), *getattr(other, part.name)) for part in fields(one)}
    )


def written(value: Any, like: Node) -> Node:
    """Plain data as nodes that stand where `like` stands; nodes stay themselves."""
    if isinstance(value, dict):
        return make_mapping(
            [(make_scalar(key, like), written(one, like)) for key, one in value.items()], like
        )
    if isinstance(value, list):
        return make_sequence([written(one, like) for one in value], like)
    return make_scalar(value, like) if isinstance(value, str) else value
