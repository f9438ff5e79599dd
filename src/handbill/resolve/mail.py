"""A whole mail resolved. Enters: valid values and the shop; leaves: a frozen `Mail` that only needs rendering."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from handbill.base.errors import Fault, Mistake, Place, nearest
from handbill.base.source import find, key_place, place
from handbill.library.build import Library
from handbill.library.fields import field_value
from handbill.models.campaign import Campaign
from handbill.models.workspace import Workspace
from handbill.pictures.plan import Plan
from handbill.resolve.dialects import SHIPPED, Dialect, Sample
from handbill.resolve.facts import LINKS, Fact, fill, parse
from handbill.resolve.links import Links
from handbill.resolve.section import SectionResolver
from handbill.resolve.shop import Shop
from handbill.resolve.text import Filled, Send, Text
from handbill.validate import Valid, ValidSection

UNSUBSCRIBE: Filled = (Send(("link", "unsubscribe")),)


@dataclass(frozen=True, slots=True)
class Spoken:
    """A section's fields in the words of the dialect and of the sample; the same object where they agree."""

    id: str
    block: str
    tone: str
    level: int
    inner: int
    tagged: Mapping[str, Any]
    sampled: Mapping[str, Any]
    condition: tuple[str, str, str] | None
    in_sample: bool
    place: Place
    path: str


@dataclass(frozen=True, slots=True)
class Pair:
    """One text twice: with tags and with the sample's values."""

    tagged: Text
    sampled: Text


@dataclass(frozen=True, slots=True)
class Mail:
    """Everything the renderer and the writer need; addresses are whole, pictures planned, claims worked out."""

    campaign: Campaign
    shop: Shop
    library: Library
    language: str
    rtl: bool
    title: Pair
    subject: Pair
    preheader: Pair
    unsubscribe: Pair
    sections: tuple[Spoken, ...]
    sample: Sample
    sample_address: str
    plans: tuple[Plan, ...]
    facts: Mapping[str, str]
    links: tuple[tuple[str, str], ...]


class Recorder(dict[str, Any]):
    """Facts that remember which of them were asked for."""

    def __init__(self, facts: Mapping[str, Any]) -> None:
        super().__init__(facts)
        self.used: set[str] = set()

    def get(self, key: str, default: Any = None) -> Any:
        self.used.add(key)
        return super().get(key, default)


def resolve(
    valid: Valid, shop: Shop, dialect: Dialect, sample: Sample, address: str, root: Any
) -> tuple[Mail | None, list[Mistake]]:
    """The mail, or every mistake that looking things up brought to light. `root` is the campaign's node."""
    return _Resolution(valid, shop, dialect, sample, address, root).run()


class _Resolution:
    def __init__(
        self, valid: Valid, shop: Shop, dialect: Dialect, sample: Sample, address: str, root: Any
    ) -> None:
        self.valid, self.shop = valid, shop
        self.dialect, self.sample, self.sample_address = dialect, sample, address
        self.root = root
        self.mistakes: list[Mistake] = []
        self.links: list[tuple[str, str]] = []
        self.used: set[str] = set()

    def run(self) -> tuple[Mail | None, list[Mistake]]:
        campaign = self.valid.campaign
        self.check_clock(campaign)
        subject, preheader = (
            self.line(campaign.subject, "subject"),
            self.line(campaign.preheader, "preheader"),
        )
        sections, headed = [], False
        for valid in self.valid.sections:
            section, has_heading = self.section(valid, first=not headed)
            headed = headed or has_heading
            if section is not None:
                sections.append(section)
        if self.mistakes or subject is None or preheader is None:
            return None, self.mistakes
        facts = {
            name: self.shop.context.facts[name].text
            for name in sorted(self.used)
            if name in self.shop.context.facts
        }
        return Mail(
            campaign=campaign, shop=self.shop, library=self.shop.library, language=self.shop.language,
            rtl=self.shop.rtl, title=subject, subject=subject, preheader=preheader,
            unsubscribe=self.pair(UNSUBSCRIBE), sections=tuple(sections), sample=self.sample,
            sample_address=self.sample_address,
            plans=tuple(plan for _name, plan in sorted(self.shop.pictures.plans.items())),
            facts=facts, links=tuple(self.links),
        ), []  # fmt: skip

    def check_clock(self, campaign: Campaign) -> None:
        offer = campaign.offer
        if offer is None or offer.ends is None:
            return
        if offer.ends <= campaign.send:
            where = place(find(self.root, ("offer", "ends"))[0])
            self.mistakes.append(
                Mistake(
                    where,
                    "offer.ends",
                    "the offer ends before the mail is sent",
                    f"later than {campaign.send:%Y-%m-%dT%H:%M}",
                )
            )
        if offer.starts is not None and offer.starts >= offer.ends:
            where = place(find(self.root, ("offer", "starts"))[0])
            self.mistakes.append(Mistake(where, "offer.starts", "the offer starts after it ends"))

    def pair(self, filled: Filled) -> Pair:
        tagged = Text(filled, self.dialect)
        return Pair(tagged, Text(filled, self.sample) if tagged.send else tagged)

    def line(self, text: str, name: str) -> Pair | None:
        where = place(find(self.root, (name,))[0])
        facts = Recorder(self.shop.context.facts)
        try:
            if "\n" in text.strip() or "\r" in text:
                raise Fault("a header takes no line break", expected="one line")
            filled = fill(
                parse(text.strip()),
                facts,
                self.shop.context.formats,
                rtl=self.shop.rtl,
                recipient=self.shop.recipient,
            )
            pair = self.pair(filled)
            _ = (pair.tagged.header, pair.tagged.html, pair.sampled.header)
        except Fault as fault:
            self.mistakes.append(fault.at(where, name))
            return None
        self.used |= facts.used
        return pair

    def section(self, valid: ValidSection, first: bool) -> tuple[Spoken | None, bool]:
        section = valid.section
        condition, in_sample = None, True
        if section.when:
            try:
                condition = self.dialect.when(section.when)
                in_sample = self.sample.has(section.when)
            except Fault as fault:
                where = key_place(section.whole, ("when",))
                self.mistakes.append(fault.at(where, section.path))
        links = self.section_links(valid)
        tagged_run = SectionResolver(self.shop, valid, links, self.dialect)
        tagged_run.facts = facts = Recorder(tagged_run.facts)
        tagged = tagged_run.run()
        sampled = tagged
        if tagged_run.sends and not tagged_run.mistakes:
            sampled = SectionResolver(self.shop, valid, links, self.sample).run()
        self.mistakes.extend(tagged_run.mistakes)
        self.used |= facts.used
        self.links.extend((section.id, self.written(address)) for address in tagged_run.addresses)
        heading = tagged_run.heading()
        level = 1 if first and heading else 2
        inner = min(3, level + 1) if heading else 2
        made = Spoken(
            section.id,
            valid.block.name,
            tagged["tone"],
            level,
            inner,
            tagged,
            sampled,
            condition,
            in_sample,
            place(section.whole),
            section.path,
        )
        return made, heading

    def written(self, address: Filled) -> str:
        try:
            return Text(address, self.dialect).plain_url
        except Fault:
            return ""

    def section_links(self, valid: ValidSection) -> Links:
        brand = self.shop.brand
        facts = {**self.shop.context.facts, **_section_facts(valid)}
        tags = []
        for name, value in brand.link_tags.items():
            filled = fill(parse(value), facts, self.shop.context.formats)
            tags.append((name, "".join(part for part in filled if isinstance(part, str))))
        return Links(self.shop.site, tuple(tags))


def _section_facts(valid: ValidSection) -> Mapping[str, Any]:
    return {"section.id": Fact("text", valid.section.id, valid.section.id)}


def listed_products(sections: Iterable[ValidSection], catalogue: Any) -> list[Any]:
    """The rows of every product that the stack shows; unknown ones are reported where they stand, not here."""
    rows: dict[str, Any] = {}
    for valid in sections:
        for name, spec in valid.block.spec.fields.items():
            value = field_value(valid.values, name)
            if value is None or spec.type not in ("product", "products"):
                continue
            for entry in value if isinstance(value, tuple) else (value,):
                row = catalogue.get(entry.sku) if catalogue is not None else None
                if row is not None:
                    rows.setdefault(entry.sku, row)
    return list(rows.values())


def voices(workspace: Workspace) -> tuple[Dialect, Sample, str]:
    """The workspace's dialect, its first sample recipient, and that recipient's address. Raises Fault."""
    encoded = frozenset(f"recipient.{name}" for name, rule in workspace.fields.items() if rule.encoded)
    if isinstance(workspace.dialect, str):
        if workspace.dialect not in SHIPPED:
            raise Fault(
                f"no dialect {workspace.dialect}",
                expected="one of " + ", ".join(SHIPPED) + ", or patterns of your own",
                nearest=nearest(workspace.dialect, SHIPPED),
            )
        dialect = SHIPPED[workspace.dialect]
    else:
        from handbill.resolve.custom import custom

        dialect = custom(workspace.dialect)
    if encoded:
        dialect = replace(dialect, pre_encoded=dialect.pre_encoded | encoded)
    links = {name: f"https://example.com/{name.replace('_', '-')}" for name in LINKS}
    if not workspace.samples:
        return dialect, Sample({}, links, encoded), "reader@example.com"
    first = workspace.samples[0]
    return dialect, Sample(first.fields, {**links, **first.links}, encoded), first.address
