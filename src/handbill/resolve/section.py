"""One section resolved. Enters: a valid section and the shop; leaves: its fields in the words of a voice.

References are looked up, facts filled, links made whole, pictures planned. Every fault becomes a mistake at the
line of the value that caused it; the rest of the section is still looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any, TypeVar

from handbill.base.errors import Fault, Mistake
from handbill.base.money import parse_money
from handbill.base.source import Node, find, place
from handbill.brand.style import BASE
from handbill.library.block import look_up
from handbill.library.fields import ButtonIn, LinkIn, PictureIn, field_value
from handbill.library.spec import Cycle, FieldSpec
from handbill.models.check import join
from handbill.resolve.advances import button_width
from handbill.resolve.copy import Copy, fill_copy, parse_copy
from handbill.resolve.facts import Fact, fill, parse
from handbill.resolve.links import Links
from handbill.resolve.shop import Shop
from handbill.resolve.text import Filled, Send, Text, Voice
from handbill.resolve.values import Address, Fields, Lines, literal_copy, shown, words
from handbill.validate import ValidSection

T = TypeVar("T")
Way = tuple[str | int, ...]
MAX_DARK_SHARE = 0.5  # of luminance: grounds below it take the logo drawn for dark ones


class SectionResolver:
    """Resolves one section for one voice. Read `mistakes` and `sends` afterwards."""

    def __init__(self, shop: Shop, valid: ValidSection, links: Links, voice: Voice) -> None:
        self.shop = shop
        self.valid = valid
        self.links = links
        self.voice = voice
        self.facts: Mapping[str, Fact] = {
            **shop.context.facts,
            "section.id": Fact("text", valid.section.id, valid.section.id),
        }
        self.mistakes: list[Mistake] = []
        self.sends = False
        self.addresses: list[Filled] = []
        self.widths = valid.block.widths(shop.library.house)
        self.node: Node = valid.section.node
        self.words = {name: words(text, voice) for name, text in shop.word_table(valid.block.name).items()}

    # -- the whole

    def run(self) -> dict[str, Any]:
        """The section's fields, with `tone`, `width`, `word`, and `brand` and `link` where its templates ask."""
        spec, values = self.valid.block.spec, self.valid.values
        given = {name: field_value(values, name) for name in spec.fields}
        tone = getattr(values, "tone", None) or BASE
        chosen = self.choices(spec.fields, given, (), 0, {})
        result = {"tone": tone, **self.fields(spec.fields, given, chosen, (), tone)}
        result["width"] = _widths(self.widths)
        result["word"] = Fields(**self.words)
        if "brand" in self.valid.block.uses:
            result["brand"] = self.brand(tone)
        if "link" in self.valid.block.uses:
            result["link"] = Fields(
                **{name: self.system_link(name) for name in ("unsubscribe", "preferences", "view_online")}
            )
        return result

    def heading(self) -> bool:
        """Whether the section has the heading its block names."""
        name = self.valid.block.spec.heading
        return bool(name and field_value(self.valid.values, name))

    def attempt(self, way: Way, work: Callable[[], T], otherwise: T) -> T:
        try:
            return work()
        except Fault as fault:
            node, _whole = find(self.node, way)
            self.mistakes.append(fault.at(place(node), join(self.valid.section.path, way)))
            return otherwise

    # -- choices

    def choices(
        self,
        fields: Mapping[str, FieldSpec],
        given: Mapping[str, Any],
        way: tuple[str, ...],
        number: int,
        counts: dict[str, int],
    ) -> dict[str, str]:
        """Every choice's value: the author's, the brand's, the block's; `counts` remembers how far cycles are."""
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
            if isinstance(value, Cycle):
                cycles.append((name, value))
            else:
                chosen[name] = str(value)
        for name, cycle in cycles:
            chosen[name] = cycle.cycle[counts.get(name, 0) % len(cycle.cycle)]
        for name, spec in fields.items():
            default = spec.default
            if isinstance(default, Cycle) and all(
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
        if spec.type in ("number",):
            return int(Decimal(value or 0))
        if value is None or value == "":
            return () if spec.type in ("list", "products", "reviews", "cells") else None
        kind = {
            "text": lambda: self.text(value, way, spec.most),
            "copy": lambda: self.copy(value, way, spec.most),
            "link": lambda: self.link(value, way),
            "button": lambda: self.button(value, None, way),
            "picture": lambda: self.picture(value, spec, given, chosen, way),
            "colour": lambda: value,
            "money": lambda: self.money(value, way),
            "date": lambda: words(self.shop.context.locale.date(value.date(), "long"), self.voice),
            "list": lambda: self.entries(spec, value, way, tone),
            "product": lambda: self.products(spec, (value,), given, way, tone, single=True)[0],
            "products": lambda: self.products(spec, value, given, way, tone),
            "review": lambda: self.reviews(spec, (value,), chosen, way, tone, single=True)[0],
            "reviews": lambda: self.reviews(spec, value, chosen, way, tone),
        }
        return kind[spec.type]()

    def fill(self, text: str, way: Way, url: bool = False) -> Filled:
        def work() -> Filled:
            filled = fill(
                parse(text),
                self.facts,
                self.shop.context.formats,
                rtl=self.shop.rtl,
                url=url,
                recipient=self.shop.recipient,
            )
            return filled

        return self.attempt(way, work, ())

    def text(self, value: str, way: Way, most: int | None = None) -> Text:
        filled = self.fill(value.strip(), way)
        if most is not None and (long := len(shown(filled))) > most:
            self.attempt(way, lambda: _refuse(f"{long} characters, more than {most}", "a shorter text"), None)
        made = (Lines if any("\n" in part for part in filled if isinstance(part, str)) else Text)(
            filled, self.voice
        )
        return self.spoken(made, way)

    def spoken(self, made: Text, way: Way) -> Text:
        """Notes whether a sample would say it otherwise, and lets what cannot be written fail here, with a place."""
        self.sends = self.sends or made.send

        def work() -> Text:
            _ = made.url if isinstance(made, Address) else made.html
            if made.send:
                _ = (made.attr, made.plain)
            return made

        return self.attempt(way, work, made)

    def copy(self, value: str, way: Way, most: int | None = None) -> Copy:
        def work() -> Copy:
            if most is not None and len(value) > most:
                raise Fault(f"{len(value)} characters, more than {most}", expected="a shorter text")
            context = self.shop.context
            tree = fill_copy(
                parse_copy(value.strip()),
                self.facts,
                context.formats,
                link=self.whole,
                rtl=self.shop.rtl,
                recipient=self.shop.recipient,
            )
            made = Copy(tree, self.voice)
            _ = (made.html({}), made.plain)
            return made

        made = self.attempt(way, work, Copy(literal_copy(""), self.voice))
        self.sends = self.sends or made.send
        return made

    def whole(self, filled: Filled) -> Filled:
        whole = self.links.whole(filled)
        self.addresses.append(whole)
        return whole

    def address(self, value: str, way: Way) -> Text:
        filled = self.fill(value.strip(), way, url=True)
        whole = self.attempt(way, lambda: self.whole(filled), ()) if filled else ()
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
            self.attempt(way, lambda: _refuse(f"{missing} is missing", f"{missing}: …"), None)
            return None
        text = self.text(label, own, 60)
        address = (
            self.address(target, (*way, "link") if value.link else (*(at or way), "link"))
            if target
            else Address(link, self.voice)
        )
        return Fields(label=text, link=address, width=self.button_width(shown(text.filled)))

    def button_width(self, label: str) -> int:
        house = self.shop.library.house
        tracking = house.measures["button-tracking"][0].removesuffix("px")
        return button_width(
            label + (" →" if self.shop.brand.button.arrow else ""),
            family=house.measures["button-face"][0],
            size=float(house.measures["button-size"][0].removesuffix("px")),
            bold=house.measures["button-weight"][0] == "700",
            letter_spacing=0.0 if tracking == "normal" else float(tracking),
            padding=house.px("button-inset"),
        )

    def money(self, value: str, way: Way) -> Text:
        money = self.attempt(way, lambda: parse_money(value, self.shop.brand.currency), None)
        return words(self.isolated(self.shop.context.money(money)) if money else "", self.voice)

    def isolated(self, text: str) -> str:
        """Prices keep their own order inside right-to-left text (UAX #9, isolates)."""
        return f"\u2066{text}\u2069" if self.shop.rtl else text

    # -- pictures

    def slot(self, spec: FieldSpec, chosen: Mapping[str, str]) -> int:
        name: Any = spec.slot or "full"
        while isinstance(name, Mapping):
            choice, cases = next(iter(name.items()))
            name = cases.get(chosen.get(choice), cases.get("else", "full"))
        if str(name).startswith("var("):
            return self.valid.block.pixels(str(name), self.shop.library.house)
        return look_up(str(name), self.widths, "slot")

    def picture(
        self, value: PictureIn, spec: FieldSpec, given: Mapping[str, Any], chosen: Mapping[str, str], way: Way
    ) -> Fields | None:
        link = self.address(value.link, (*way, "link")) if value.link else None
        if value.alt is None and not value.decorative:
            self.attempt(
                way,
                lambda: _refuse(
                    f"{value.file} has no alt text", "alt: what the picture shows, or decorative: true"
                ),
                None,
            )
        if link is not None and value.decorative:
            self.attempt(
                way,
                lambda: _refuse("a linked picture cannot be decorative", "alt: where the link leads"),
                None,
            )
        alt = self.text(value.alt, (*way, "alt"), 250) if value.alt else words("", self.voice)
        overlap = (
            int(Decimal(given.get(spec.overlap) or spec_default(self.valid, spec.overlap)))
            if spec.overlap
            else 0
        )
        return self.attempt(way, lambda: self.planned(value, spec, chosen, alt, link, overlap), None)

    def planned(
        self,
        value: PictureIn,
        spec: FieldSpec,
        chosen: Mapping[str, str],
        alt: Text,
        link: Text | None,
        overlap: int,
    ) -> Fields:
        width = self.slot(spec, chosen)
        how: dict[str, Any] = {"focus": _focus(value.focus)}
        ratio: Any = spec.ratio
        while isinstance(ratio, Mapping):
            choice, cases = next(iter(ratio.items()))
            ratio = cases.get(chosen.get(choice), cases.get("else"))
        if ratio:
            how["ratio"] = _ratio(str(ratio))
        pictures = self.shop.pictures
        dark = None
        if value.dark:
            made = pictures.plan(value.dark, width, **how)
            dark = self.shop.picture_fields(made, alt, link, self.voice)
        if overlap and chosen.get("layout") == "above" and pictures.mode != "cid":
            whole = pictures.source(value.file)
            height = round(width * whole.height / whole.width)
            if not 0 < overlap < height:
                raise Fault(
                    f"an overlap of {overlap} px in a picture {height} px high",
                    expected="less than its height",
                )
            over = pictures.plan(value.file, width, part=(0, overlap), **how)
            rest = pictures.plan(value.file, width, part=(overlap, height), **how)
            upper = self.shop.picture_fields(over, words("", self.voice), None, self.voice)
            return self.shop.picture_fields(rest, alt, link, self.voice, dark=dark, over=upper)
        return self.shop.picture_fields(
            pictures.plan(value.file, width, **how), alt, link, self.voice, dark=dark
        )

    # -- lists, products, reviews

    def entries(self, spec: FieldSpec, values: Sequence[Any], way: Way, tone: str) -> tuple[Fields, ...]:
        counts: dict[str, int] = {}
        result = []
        for number, entry in enumerate(values):
            given = {name: field_value(entry, name) for name in spec.of}
            own = getattr(entry, "tone", None) or tone
            chosen = self.choices(spec.of, given, (str(way[-1]),), number, counts)
            result.append(Fields(tone=own, **self.fields(spec.of, given, chosen, (*way, number), own)))
        return tuple(result)

    def products(
        self,
        spec: FieldSpec,
        values: Sequence[Any],
        given: Mapping[str, Any],
        way: Way,
        tone: str,
        single: bool = False,
    ) -> tuple[Any, ...]:
        from handbill.resolve.items import product_item

        counts: dict[str, int] = {}
        return tuple(
            product_item(self, spec, entry, given, way if single else (*way, number), tone, counts)
            for number, entry in enumerate(values)
        )

    def reviews(
        self,
        spec: FieldSpec,
        values: Sequence[Any],
        chosen: Mapping[str, str],
        way: Way,
        tone: str,
        single: bool = False,
    ) -> tuple[Any, ...]:
        from handbill.resolve.items import review_item

        counts: dict[str, int] = {}
        return tuple(
            review_item(self, spec, entry, chosen, way if single else (*way, number), tone, counts)
            for number, entry in enumerate(values)
        )

    # -- the brand

    def legal(self) -> Copy | None:
        text = self.shop.brand.legal
        if not text:
            return None
        tree = fill_copy(
            parse_copy(text.strip()),
            self.facts,
            self.shop.context.formats,
            link=self.whole,
            rtl=self.shop.rtl,
            recipient=self.shop.recipient,
        )
        made = Copy(tree, self.voice)
        self.sends = self.sends or made.send
        return made

    def system_link(self, name: str) -> Text:
        filled: Filled = (Send(("link", name)),)
        self.addresses.append(filled)
        return self.spoken(Address(filled, self.voice), ())

    def brand(self, tone: str) -> Fields:
        from handbill.resolve.items import brand_fields

        return brand_fields(self, tone)


def _widths(widths: Mapping[str, Any]) -> Fields:
    return Fields(
        **{name: Fields(**value) if isinstance(value, Mapping) else value for name, value in widths.items()}
    )


def _refuse(message: str, expected: str = "") -> Any:
    raise Fault(message, expected=expected)


def _true(value: Any) -> bool:
    return value is True or value in ("true", "True", "TRUE")


def _focus(text: str | None) -> tuple[float, float]:
    if text is None:
        return (0.5, 0.5)
    try:
        across, down = (float(part) for part in text.replace(",", " ").split())
    except ValueError:
        raise Fault(
            f"{text!r} is not a focal point", expected="two fractions from 0 to 1, such as '0.5 0.3'"
        ) from None
    return (across, down)


def _ratio(text: str) -> tuple[int, int]:
    across, colon, down = text.partition(":")
    if not colon or not across.isdigit() or not down.isdigit():
        raise Fault(f"{text!r} is not a ratio", expected="such as 5:4")
    return (int(across), int(down))


def spec_default(valid: ValidSection, name: str | None) -> str:
    """The default of a number field, as text."""
    spec = valid.block.spec.fields.get(name or "")
    return str(spec.default) if spec is not None and spec.default is not None else "0"
