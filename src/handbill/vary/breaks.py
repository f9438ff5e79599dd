"""How each rule of practice is recognised in a campaign, and what breaks it. See `practice` for the rules."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from handbill.base.errors import Fault
from handbill.base.frozen import dataclass
from handbill.base.source import Node, child, entries, is_mapping, is_sequence, items, scalar
from handbill.expand import Expanded, Section
from handbill.vary.fields import Defaults, Specs

Changes = dict[str, Any]
_FOOT = ("footer-nav", "selling-points", "note", "hairline", "breath", "proof-line", "press")
_AMOUNT = re.compile(r"\$\{offer\.(?:best_percent|percent|amount|best_amount)\b")
_LISTS = ("products", "product")


@dataclass(frozen=True, slots=True)
class Campaign:
    """An expanded campaign, its blocks, and the brand's own defaults for these by block and field."""

    expanded: Expanded
    specs: Specs
    defaults: Defaults

    @property
    def sections(self) -> tuple[Section, ...]:
        return self.expanded.sections

    def of(self, block: str) -> list[Section]:
        return [one for one in self.sections if one.block == block]

    def field(self, block: str, name: str, option: str = "") -> bool:
        """Whether a block has a field, and with `option` that choice of it."""
        spec = self.specs.get(block)
        found = spec.fields.get(name) if spec is not None else None
        return found is not None and (not option or option in found.options)

    def optional(self, section: Section, name: str) -> bool:
        spec = self.specs.get(section.block)
        return spec is not None and name in spec.fields and not spec.fields[name].required

    def given(self, section: Section, name: str) -> str:
        """A choice as it stands: the section's own, else the brand's, else the block's."""
        spec = self.specs[section.block].fields.get(name)
        own = scalar(child(section.node, name)) or self.defaults.get(section.block, {}).get(name)
        return str(own or (spec.default if spec is not None else "") or "")

    def sells(self, section: Section) -> bool:
        """Whether a section shows products."""
        spec = self.specs.get(section.block)
        return spec is not None and any(one.type in _LISTS for one in spec.fields.values())

    def opening(self) -> list[Section]:
        """The sections before the first that shows products."""
        found: list[Section] = []
        for one in self.sections:
            if self.sells(one):
                break
            found.append(one)
        return found

    def body(self) -> list[Section]:
        """The sections before the foot."""
        found = list(self.sections)
        while found and found[-1].block in _FOOT:
            found.pop()
        return found


def navigation_at_foot(campaign: Campaign) -> Changes:
    feet = [one for one in campaign.of("footer-nav") if campaign.given(one, "navigation") != "none"]
    heads = campaign.of("masthead")
    if not feet:
        raise Fault("no navigation stands at the foot", expected="a footer-nav that shows it")
    if not heads:
        raise Fault("there is no masthead to put the navigation under", expected="a section of that block")
    if not campaign.field("masthead", "navigation", "inline"):
        raise Fault("the block masthead of this shop shows no navigation", expected="a field navigation")
    if campaign.given(heads[0], "navigation") == "inline":
        raise Fault("the navigation stands at the top already")
    edits = {f"{one.id}.navigation": "none" for one in feet}
    return {"set": {f"{heads[0].id}.navigation": "inline", **edits}}


def one_product_a_row(campaign: Campaign) -> Changes:
    """Rows of two; what is left over of an odd number keeps a row of its own, as it is."""
    stacks = [one for one in campaign.of("product-stack") if len(_products(one)) >= 2]
    if not stacks:
        raise Fault("no section shows two products or more one a row", expected="a product-stack that does")
    replaced: Changes = {}
    added: list[Changes] = []
    for stack in stacks:
        products = _products(stack)
        rows: list[Changes] = []
        for at in range(0, len(products) - 1, 2):
            row: Changes = {"block": "product-strip", "across": "two", "show_price": "true",
                   "products": [_bare(one) for one in products[at : at + 2]]}  # fmt: skip
            rows.append(row)
        for row in rows[1:]:
            row["spacing"] = "close"
        for name in ("title", "copy", "tone", "shots"):
            value = child(stack.node, name)
            if value is not None:
                for row in rows[:1] if name in ("title", "copy") else rows:
                    row[name] = value
        if len(products) % 2:
            rest = {
                key.value: value for key, value in items(stack.node) if key.value not in ("title", "copy")
            }
            rows.append({"block": "product-stack", **rest, "products": products[-1:]})
        for number, row in enumerate(rows[1:], 2):
            row["id"] = f"{stack.id}-row-{number}"
        replaced[stack.id] = rows[0]
        if rows[1:]:
            added.append({"after": stack.id, "sections": rows[1:]})
    return {"replace": replaced, **({"add": added} if added else {})}


def button_early(campaign: Campaign) -> Changes:
    opening = campaign.opening()
    first = next((one for one in opening if _label(one)), None)
    if first is None:
        raise Fault("no section before the products has a button", expected="an opening with one")
    if not campaign.optional(first, "button"):
        raise Fault(
            f"{first.id} is nothing without its button", expected="a button in the opening's own section"
        )
    selling = [one for one in campaign.sections[len(opening) :] if campaign.sells(one)]
    body = campaign.body()
    last = selling[-1] if selling else next((one for one in reversed(body) if one is not first), None)
    if last is None:
        raise Fault("there is nothing that the button could stand after", expected="products")
    section = {"block": "button", "id": f"{first.id}-button", "button": child(first.node, "button")}
    if (tone := child(last.node, "tone")) is not None:
        section["tone"] = tone
    return {"drop": [f"{first.id}.button"], "add": [{"after": last.id, "section": section}]}


def closing_button(campaign: Campaign) -> Changes:
    body = campaign.body()
    last = body[-1] if body else None
    if last is None or not _label(last) or campaign.sells(last):
        name = f"{last.id}, the last section before the foot, has no button to the rest" if last else "no end"
        raise Fault(name, expected="a section such as closing")
    if len([one for one in body if _label(one)]) < 2:
        raise Fault(f"the button of {last.id} is the only one", expected="another button before it")
    if campaign.optional(last, "button"):
        return {"drop": [f"{last.id}.button"]}
    return {"drop": [last.id]}


def old_price_beside_new(campaign: Campaign) -> Changes:
    offer = scalar(child(child(campaign.expanded.head, "offer"), "kind"))
    if offer != "markdown":
        raise Fault("no prices are reduced", expected="offer: {kind: markdown}")
    stacks = [one for one in campaign.sections if campaign.field(one.block, "now_word", "alone")
              and campaign.given(one, "now_word") != "alone"]  # fmt: skip
    if not stacks:
        raise Fault("no section shows prices that it could show without the old ones",
                    expected="a product-stack")  # fmt: skip
    return {"set": {f"{one.id}.now_word": "alone" for one in stacks}}


def amount_near_top(campaign: Campaign) -> Changes:
    drops: list[str] = []
    for section in campaign.opening():
        for name, value in items(section.node):
            if not any(_AMOUNT.search(text) for text in _texts(value)):
                continue
            if not campaign.optional(section, name.value):
                raise Fault(
                    f"the amount stands in {section.id}.{name.value}, which cannot be left out",
                    expected="an amount in the kicker or in the copy",
                )
            drops.append(f"{section.id}.{name.value}")
    if not drops:
        raise Fault("the opening says no amount", expected="${offer.best_percent} or the like in it")
    return {"drop": drops}


def code_near_top(campaign: Campaign) -> Changes:
    codes = campaign.of("offer-code")
    body = campaign.body()
    if not codes:
        raise Fault("there is no code", expected="a section of the block offer-code")
    first = codes[0]
    if first not in campaign.opening():
        raise Fault(f"the code stands after the products already, in {first.id}", expected="one near the top")
    if codes[1:]:
        return {"drop": [one.id for one in codes[:-1]]}
    if body[-1] is first:
        raise Fault(f"nothing stands after {first.id}", expected="sections below the code")
    return {"move": {first.id: {"after": body[-1].id}}}


def filled_buttons(campaign: Campaign) -> Changes:
    edits = {}
    for section in campaign.sections:
        for name in ("button_look", "look"):
            if campaign.field(section.block, name, "outline") and _filled(campaign, section, name):
                edits[f"{section.id}.{name}"] = "outline"
    if not edits:
        raise Fault(
            "no section's button could be an outline instead", expected="a product-stack or a closing"
        )
    return {"set": edits}


def _filled(campaign: Campaign, section: Section, name: str) -> bool:
    buttons = campaign.specs[section.block].fields
    return campaign.given(section, name) == "filled" and (
        "button" not in buttons or child(section.node, "button") is not None
    )


def _label(section: Section) -> bool:
    """Whether a section has a button of its own, with words and a place to go to."""
    button = child(section.node, "button")
    return child(button, "link") is not None


def _products(section: Section) -> list[Node]:
    found = child(section.node, "products")
    if found is None:
        return []
    return entries(found) if is_sequence(found) else [found]


def _bare(product: Node) -> Any:
    """A product for a narrow place, whose ground is the section's: its code alone."""
    return child(product, "sku") if is_mapping(product) else product


def _texts(node: Node) -> Iterator[str]:
    if is_mapping(node):
        for _key, value in items(node):
            yield from _texts(value)
    elif is_sequence(node):
        for value in entries(node):
            yield from _texts(value)
    elif (text := scalar(node)) is not None:
        yield text
