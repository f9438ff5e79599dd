"""One section resolved. Enters: a valid section and the shop; leaves: its fields in the words of a voice.

References are looked up, facts filled, links made whole, pictures planned. Every fault becomes a mistake at
the line of the value that caused it; the rest of the section is still looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

from handbill.base.errors import Fault, Mistake, Place
from handbill.base.letters import count
from handbill.base.money import parse_money
from handbill.base.source import Node, find, place
from handbill.brand.style import BASE
from handbill.library.block import MAIL_WIDTH, field_value
from handbill.models.check import join
from handbill.models.limits import MAX_LABEL
from handbill.resolve import items, picture
from handbill.resolve.advances import button_in_house
from handbill.resolve.again import once
from handbill.resolve.cells import cells
from handbill.resolve.copy import Copy, fill_copy, parse_copy
from handbill.resolve.facts import Fact, fill, isolated, parse
from handbill.resolve.links import Links
from handbill.resolve.shop import Shop
from handbill.resolve.text import Filled, Send, Text, Voice
from handbill.resolve.values import (
    Address,
    Fields,
    Lines,
    Recorder,
    Used,
    literal_copy,
    shown,
    whole_number,
    words,
)
from handbill.validate import ValidSection

if TYPE_CHECKING:
    from handbill.library.fields import ButtonIn, LinkIn
    from handbill.library.spec import Cycle, FieldSpec

T = TypeVar("T")
Way = tuple[str | int, ...]
_NONE: Filled = ()


class SectionResolver:
    """Resolves one section for one voice.

    Read `mistakes`, `sends` (whether another voice would say something otherwise) and `addresses` afterwards;
    facts asked for are noted in `used`.
    """

    def __init__(
        self, shop: Shop, valid: ValidSection, links: Links, voice: Voice, used: Used, cell: int | None = None
    ) -> None:
        self.shop = shop
        self.valid = valid
        self.links = links
        self.cell = cell
        self.voice = voice
        self.facts = Recorder(section_facts(shop, valid), used)
        self.mistakes: list[Mistake] = []
        self.chosen: Mapping[str, str] = {}  # the section's own choices, which pictures of its entries follow
        self.addresses: list[Filled] = []
        self.widths = valid.block.widths(shop.library.house, cell or MAIL_WIDTH, cell is not None)
        self.node: Node = valid.section.node
        self.path = valid.section.path
        self.words = {name: words(text, voice) for name, text in shop.word_table(valid.block.name).items()}
        self.sends = any(made.send for made in self.words.values())

    # -- the whole

    def run(self, around: str = BASE) -> dict[str, Any]:
        """The fields, with `tone`, `width`, `word`, and `brand` and `link` where the templates ask."""
        spec, values = self.valid.block.spec, self.valid.values
        given = {name: field_value(values, name) for name in spec.fields}
        tone = getattr(values, "tone", None) or around
        chosen = self.chosen = self.choices(spec.fields, given, (), {})
        result = {"tone": tone, **self.fields(spec.fields, given, chosen, (), tone)}
        result["width"] = _widths(self.widths)
        result["word"] = Fields(**self.words)
        if "brand" in self.valid.block.uses:
            with self.reading(self.shop.brand_node, ""):
                under = "card" if chosen.get("surface") == "card" else "ground"
                result["brand"] = items.brand_fields(self, tone, under)
        if "link" in self.valid.block.uses:
            result["link"] = Fields(
                **{name: self.system_link(name) for name in ("unsubscribe", "preferences", "view_online")}
            )
        return result

    def afresh(self) -> SectionResolver:
        """One of the same section that has come across nothing yet."""
        own = SectionResolver(self.shop.afresh(), self.valid, self.links, self.voice, {}, self.cell)
        own.chosen = self.chosen
        return own

    @contextmanager
    def reading(self, node: Node, path: str) -> Iterator[None]:
        """Ways start at `node` meanwhile: the brand's file, for what comes from there."""
        before = self.node, self.path
        self.node, self.path = node, path
        try:
            yield
        finally:
            self.node, self.path = before

    def spot(self, way: Way) -> tuple[Place, str]:
        """Where `way` leads, in the file and for messages."""
        return place(find(self.node, way)[0]), join(self.path, way)

    def attempt(self, way: Way, work: Callable[[], T], otherwise: T) -> T:
        """`work`'s result, or `otherwise` and a mistake at `way`."""
        try:
            return work()
        except Fault as fault:
            self.mistakes.append(fault.at(*self.spot(way)))
            return otherwise

    def refuse(self, way: Way, message: str, expected: str = "") -> None:
        """A mistake at `way`."""
        self.mistakes.append(Mistake(*self.spot(way), message, expected))

    def counted(self, word: str, number: int) -> str:
        """A house word in its form for `number` (CLDR's plural rules)."""
        table = self.shop.word_table(self.valid.block.name)
        form = f"{word}.{self.shop.context.locale.plural(number)}"
        return table.get(form) or table.get(word, "")

    # -- choices

    def choices(
        self,
        fields: Mapping[str, FieldSpec],
        given: Mapping[str, Any],
        way: tuple[str, ...],
        counts: dict[str, int],
    ) -> dict[str, str]:
        """Every choice's value: the author's, the brand's, the block's; `counts` says how far cycles are."""
        chosen: dict[str, str] = {}
        cycles: list[tuple[str, Cycle]] = []
        for name, spec in fields.items():
            if spec.type != "choice":
                continue
            value = given.get(name)
            value = (
                self.valid.block.defaults.get(".".join((*way, name)), spec.default)
                if value is None
                else value
            )
            if hasattr(value, "cycle"):
                cycles.append((name, value))
            else:
                chosen[name] = str(value)
        for name, cycle in cycles:
            chosen[name] = cycle.cycle[counts.get(name, 0) % len(cycle.cycle)]
        for name, spec in fields.items():
            default = spec.default
            if not isinstance(default, str | None) and all(
                chosen.get(key) == value for key, value in default.among.items()
            ):
                # an explicit side also moves the cycle on, so that the next row answers to it
                start = (
                    default.cycle.index(chosen[name])
                    if chosen.get(name) in default.cycle
                    else counts.get(name, 0)
                )
                counts[name] = start + 1
        return chosen

    # -- fields

    def fields(
        self,
        specs: Mapping[str, FieldSpec],
        given: Mapping[str, Any],
        chosen: Mapping[str, str],
        way: Way,
        tone: str,
    ) -> dict[str, Any]:
        result: dict[str, Any] = dict(chosen)
        for name, spec in specs.items():
            if spec.type != "choice":
                result[name] = self.field(spec, given.get(name), given, chosen, (*way, name), tone)
        for name, spec in specs.items():
            if spec.type == "picture" and spec.under_copy is not None and spec.under_copy.ink:
                # what suits the picture; a block that has none of it asks for the house's colour
                result[spec.under_copy.ink] = getattr(result.get(name), "ink", None) or "house"
        return result

    def field(
        self,
        spec: FieldSpec,
        value: Any,
        given: Mapping[str, Any],
        chosen: Mapping[str, str],
        way: Way,
        tone: str,
    ) -> Any:
        if spec.passed_to:
            return None  # its items carry it
        if value is None and spec.inherits == "legal":
            return self.legal()
        if value is None:
            value = spec.default
        if spec.type == "toggle":
            key = ".".join(step for step in way if isinstance(step, str))
            default = self.valid.block.defaults.get(key)
            raw = field_value(self.valid.values, str(way[0])) if len(way) == 1 else value
            return _true(raw if raw is not None else default if default is not None else value)
        if spec.type == "number":
            return self.attempt(way, lambda: whole_number(value), 0)
        if value is None or value == "":
            return () if spec.type in ("list", "products", "reviews", "cells") else None
        match spec.type:
            case "text":
                return self.text(value, way, spec.most)
            case "copy":
                return self.copy(value, way, spec.most)
            case "link":
                return self.link(value, way)
            case "button":
                return once(self, way, {}, make=lambda own: own.button(value, None, way))
            case "picture":
                over, known = given.get(spec.overlap or ""), {**self.chosen, **chosen}
                return once(self, way, known, tone, over, make=lambda own: picture.picture_field(
                    own, value, spec, given, known, way, tone
                ))  # fmt: skip
            case "money":
                return self.money(value, way)
            case "date":
                return words(self.shop.context.locale.date(value.date(), "long"), self.voice)
            case "cells":
                return cells(self, str(way[-1]), spec, chosen, tone)
            case "list":
                return self.entries(spec, value, way, tone)
            case "product" | "products":
                return self.rows(items.product_item, spec, value, given, way, tone)
            case "review" | "reviews":
                return self.rows(items.review_item, spec, value, chosen, way, tone)
        return value  # a colour

    def fill(self, text: str, way: Way, url: bool = False) -> Filled:
        shop = self.shop

        def work() -> Filled:
            shop.check_recipient(text)
            return fill(
                parse(text), self.facts, shop.context.formats, rtl=shop.rtl, url=url, recipient=shop.recipient
            )

        return self.attempt(way, work, _NONE)

    def text(self, value: str, way: Way, most: int | None = None) -> Text:
        filled = self.fill(value.strip(), way)
        if most is not None and (long := count(shown(filled))) > most:
            self.refuse(way, f"{long} characters, more than {most}", "a shorter text")
        made = (Lines if any("\n" in part for part in filled if isinstance(part, str)) else Text)(
            filled, self.voice
        )
        return self.spoken(made, way)

    def spoken(self, made: Text, way: Way) -> Text:
        """`made`, noted when a sample would say it otherwise; what cannot be written fails here."""
        self.sends = self.sends or made.send

        def work() -> Text:
            _ = made.url if isinstance(made, Address) else made.html
            if made.send:
                _ = (made.attr, made.plain)
            return made

        return self.attempt(way, work, made)

    def said(self, text: str, way: Way) -> Text:
        """Text that is taken as it stands."""
        return self.spoken(words(text, self.voice), way)

    def copy(self, value: str, way: Way, most: int | None = None) -> Copy:
        shop = self.shop

        def work() -> Copy:
            if most is not None and (long := count(value)) > most:
                raise Fault(f"{long} characters, more than {most}", expected="a shorter text")
            shop.check_recipient(value)
            tree = fill_copy(
                parse_copy(value.strip()), self.facts, shop.context.formats, link=self.whole, rtl=shop.rtl,
                recipient=shop.recipient,
            )  # fmt: skip
            return self.told(Copy(tree, self.voice))

        return self.attempt(way, work, Copy(literal_copy(""), self.voice))

    def told(self, made: Copy) -> Copy:
        """As `spoken`, for copy."""
        _ = (made.html({}), made.plain)
        self.sends = self.sends or made.send
        return made

    def whole(self, filled: Filled) -> Filled:
        whole = self.links.whole(filled)
        self.addresses.append(whole)
        return whole

    def address(self, value: str, way: Way) -> Text:
        filled = self.fill(value.strip(), way, url=True)
        whole = self.attempt(way, lambda: self.whole(filled), _NONE) if filled else _NONE
        return self.spoken(Address(whole, self.voice), way)

    def link(self, value: LinkIn, way: Way) -> Fields:
        return Fields(
            label=self.text(value.label, (*way, "label")), link=self.address(value.link, (*way, "link"))
        )

    def button(
        self, value: ButtonIn, fallback: ButtonIn | None, way: Way, link: Filled = (), at: Way = ()
    ) -> Fields | None:
        label = value.label or (fallback.label if fallback else None)
        target = value.link or (fallback.link if fallback else None)
        own = (*way, "label") if value.label else (*(at or way), "label")
        if label is None or (target is None and not link):
            missing = "label" if label is None else "link"
            self.refuse(way, f"{missing} is missing", f"{missing}: …")
            return None
        text = self.text(label, own, MAX_LABEL)
        address = (
            self.address(target, (*way, "link") if value.link else (*(at or way), "link"))
            if target
            else Address(link, self.voice)
        )
        width = button_in_house(shown(text.filled), self.shop.library.house, self.shop.brand.button.arrow)
        return Fields(label=text, link=address, width=width, colon=self.words.get("colon"))

    def money(self, value: str, way: Way) -> Text:
        money = self.attempt(way, lambda: parse_money(value, self.shop.brand.currency), None)
        return words(self.isolated(self.shop.context.money(money)) if money else "", self.voice)

    def isolated(self, text: str) -> str:
        """Prices keep their own order inside right-to-left text (UAX #9, isolates)."""
        return isolated(text) if self.shop.rtl else text

    # -- lists, products, reviews

    def entries(self, spec: FieldSpec, values: Sequence[Any], way: Way, tone: str) -> tuple[Fields, ...]:
        counts: dict[str, int] = {}
        result = []
        for number, entry in enumerate(values):
            given = {name: field_value(entry, name) for name in spec.of}
            own = getattr(entry, "tone", None) or tone
            chosen = self.choices(spec.of, given, (str(way[-1]),), counts)
            result.append(Fields(tone=own, **self.fields(spec.of, given, chosen, (*way, number), own)))
        return tuple(result)

    def rows(
        self,
        make: Callable[..., Fields | None],
        spec: FieldSpec,
        value: Any,
        around: Mapping[str, Any],
        way: Way,
        tone: str,
    ) -> Any:
        """Products or reviews in order, or the one; `around` is what the section says for all."""
        counts: dict[str, int] = {}
        if spec.type in ("product", "review"):
            return make(self, spec, value, around, way, tone, counts)
        return tuple(
            make(self, spec, entry, around, (*way, number), tone, counts)
            for number, entry in enumerate(value)
        )

    # -- the brand

    def legal(self) -> Copy | None:
        text = self.shop.brand.legal
        if not text:
            return None
        with self.reading(self.shop.brand_node, ""):
            return self.copy(text, ("legal",))

    def system_link(self, name: str) -> Text:
        filled: Filled = (Send(("link", name)),)
        self.addresses.append(filled)
        return self.spoken(Address(filled, self.voice), ())


def section_facts(shop: Shop, valid: ValidSection) -> Mapping[str, Fact]:
    """The mail's facts and the section's own."""
    return {**shop.context.facts, "section.id": Fact("text", valid.section.id, valid.section.id)}


def has_heading(valid: ValidSection) -> bool:
    """Whether the section has the heading that its block names."""
    name = valid.block.spec.heading
    value = field_value(valid.values, name) if name else None
    return bool(value.strip() if isinstance(value, str) else value)


def _widths(widths: Mapping[str, Any]) -> Fields:
    return Fields(
        **{name: Fields(**value) if isinstance(value, Mapping) else value for name, value in widths.items()}
    )


def _true(value: Any) -> bool:
    return value is True or value in ("true", "True", "TRUE")
