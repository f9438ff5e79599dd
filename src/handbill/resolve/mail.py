"""A whole mail resolved. Enters: valid values and the shop; leaves: a frozen `Mail` that is only rendered."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from handbill.base.errors import Fault, Mistake, Place, nearest
from handbill.base.frozen import dataclass
from handbill.base.kept import Kept
from handbill.base.source import Node, find, key_place, place
from handbill.library.build import Library
from handbill.pictures.plan import Plan
from handbill.resolve.dialects import Dialect, Sample
from handbill.resolve.facts import fill, parse
from handbill.resolve.links import Links
from handbill.resolve.section import SectionResolver, has_heading, section_facts
from handbill.resolve.shop import CopyOn, Shop, undeclared
from handbill.resolve.text import Filled, Send, Text
from handbill.resolve.tongues import Tongues, spoken_in
from handbill.resolve.values import Recorder, Used
from handbill.resolve.voices import Voices
from handbill.validate import Valid, ValidSection

if TYPE_CHECKING:
    from handbill.models.campaign import Campaign

UNSUBSCRIBE: Filled = (Send(("link", "unsubscribe")),)


@dataclass(frozen=True, slots=True)
class Spoken:
    """A section's fields in the words of the dialect and of the sample; the same object where they agree.

    `level` is its heading's, `inner` that of its items' headings; `library` is of its direction. `condition`
    opens, parts and closes what only some recipients get; `in_sample` says whether the sample recipient does,
    `otherwise` is what the others get. `node` is what the author wrote, `when` the field of the condition.
    """

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
    language: str
    rtl: bool
    library: Library
    node: Node
    when: str = ""
    otherwise: Spoken | None = None


@dataclass(frozen=True, slots=True)
class LookedUp:
    """A section by itself: how it is spoken, what it used of the shop, what is wrong with it.

    `plans` are its pictures by name, `asked` says which field asked for each, `copy_on` what copy on them
    comes to.
    """

    spoken: Spoken
    facts: Used
    addresses: Mapping[str, str]
    plans: Mapping[str, Plan]
    asked: Mapping[str, tuple[Place, str]]
    copy_on: Mapping[str, CopyOn]
    mistakes: tuple[Mistake, ...]


@dataclass(frozen=True, slots=True)
class Pair:
    """One text twice: with tags and with the sample's values."""

    tagged: Text
    sampled: Text


@dataclass(frozen=True, slots=True)
class Mail:
    """Everything the renderer and the writer need; addresses are whole, pictures planned, claims worked out.

    `root` is the campaign's node. `facts` are those used, by name and SKU. `addresses` gives, for links with
    send-time parts, the href in the HTML and the same link as text. `asked` says which field asked for a
    picture, `copy_on` how legible copy on one is.
    """

    campaign: Campaign
    root: Node
    shop: Shop
    library: Library
    dialect: Dialect
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
    asked: Mapping[str, tuple[Place, str]]
    copy_on: Mapping[str, CopyOn]
    facts: Mapping[tuple[str, str], str]
    addresses: Mapping[str, str]


#: The subject or the preheader, the facts it uses, what is wrong with it.
Line = tuple[Pair | None, Used, list[Mistake]]


def resolve(
    valid: Valid,
    shop: Shop,
    voices: Voices,
    root: Node,
    tongues: Tongues | None = None,
    kept: Kept[LookedUp] | None = None,
    lines: Kept[Line] | None = None,
    serial: int = 0,
) -> tuple[Mail | None, list[Mistake]]:
    """The mail, or every mistake that looking things up brought to light. `root` is the campaign's node.

    `tongues` are the shop as sections with a language or a direction of their own need it. `kept` holds
    sections looked up before for these voices, `lines` subjects and the like; `serial` stands there for this
    very shop, with its tongues.
    """
    return _Resolution(valid, shop, voices, root, tongues or {}).run(
        kept or Kept(1), lines or Kept(2), serial
    )


class _Resolution:
    def __init__(self, valid: Valid, shop: Shop, voices: Voices, root: Node, tongues: Tongues) -> None:
        self.valid, self.shop, self.voices, self.root = valid, shop, voices, root
        self.tongues = tongues
        self.dialect, self.sample = voices.dialect, voices.sample
        self.mistakes: list[Mistake] = []
        self.addresses: dict[str, str] = {}
        self.used: Used = {}

    def run(self, kept: Kept[LookedUp], lines: Kept[Line], serial: int) -> tuple[Mail | None, list[Mistake]]:
        campaign = self.valid.campaign
        self.check_clock(campaign)
        subject, preheader = (
            self.kept_line(text, name, lines, serial)
            for text, name in ((campaign.subject, "subject"), (campaign.preheader, "preheader"))
        )
        first = self.first_heading()
        found = [
            kept.of(valid, partial(self.looked_up, valid, valid is first), serial, valid is first)
            for valid in self.valid.sections
        ]
        plans: dict[str, Plan] = {}
        asked: dict[str, tuple[Place, str]] = {}
        copy_on: dict[str, CopyOn] = {}
        for one in found:
            copy_on |= {
                name: copy for name, copy in one.copy_on.items()
                if name not in copy_on or copy.least < copy_on[name].least
            }  # fmt: skip
            self.mistakes.extend(one.mistakes)
            self.used.update(one.facts)
            self.addresses.update(one.addresses)
            plans.update(one.plans)
            asked = {**one.asked, **asked}
        if self.mistakes or subject is None or preheader is None:
            return None, self.mistakes
        return Mail(
            campaign=campaign, root=self.root, shop=self.shop, library=self.shop.library,
            dialect=self.dialect, language=self.shop.language, rtl=self.shop.rtl, title=subject,
            subject=subject, preheader=preheader, unsubscribe=self.pair(UNSUBSCRIBE),
            sections=tuple([one.spoken for one in found]), sample=self.sample,
            sample_address=self.voices.address,
            plans=tuple([plans[name] for name in sorted(plans)]), asked=asked, copy_on=copy_on,
            facts=dict(sorted(self.used.items())), addresses=self.addresses,
        ), []  # fmt: skip

    def first_heading(self) -> ValidSection | None:
        """The section whose heading is the one h1: the first that every recipient gets, if any is."""
        headed = [valid for valid in self.valid.sections if has_heading(valid)]
        return next((valid for valid in headed if _for_all(valid)), headed[0] if headed else None)

    # -- the head

    def check_clock(self, campaign: Campaign) -> None:
        offer = campaign.offer
        starts, ends = (offer.starts, offer.ends) if offer is not None else (None, None)
        for way, moment in (
            (("send",), campaign.send), (("offer", "starts"), starts), (("offer", "ends"), ends),
        ):  # fmt: skip
            if moment is not None and _skipped(moment, self.shop.brand.timezone):
                message = f"the clocks of {self.shop.brand.timezone} skip {moment:%Y-%m-%dT%H:%M}"
                self.wrong(way, message, "a time that exists")
        if ends is not None and ends <= campaign.send:
            expected = f"later than {campaign.send:%Y-%m-%dT%H:%M}"
            self.wrong(("offer", "ends"), "the offer ends before the mail is sent", expected)
        if ends is not None and starts is not None and starts >= ends:
            self.wrong(("offer", "starts"), "the offer starts after it ends")

    def wrong(self, way: tuple[str, ...], message: str, expected: str = "") -> None:
        self.mistakes.append(Mistake(place(find(self.root, way)[0]), ".".join(way), message, expected))

    def pair(self, filled: Filled) -> Pair:
        tagged = Text(filled, self.dialect)
        return Pair(tagged, Text(filled, self.sample) if tagged.send else tagged)

    def kept_line(self, text: str, name: str, lines: Kept[Line], serial: int) -> Pair | None:
        """A line that may have been made for a mail before, and the facts that it uses."""

        def made() -> Line:
            own = _Resolution(self.valid, self.shop, self.voices, self.root, self.tongues)
            return own.line(text, name), own.used, own.mistakes

        at = place(find(self.root, (name,))[0])
        pair, used, mistakes = lines.by((serial, name, text, at), made)
        self.used.update(used)
        self.mistakes.extend(mistakes)
        return pair

    def line(self, text: str, name: str) -> Pair | None:
        """The subject or the preheader; both stand on one line, the subject in a header as well."""
        shop = self.shop
        facts = Recorder(shop.context.facts, self.used)
        try:
            if "\n" in text.strip() or "\r" in text:
                raise Fault(f"the {name} takes no line break", expected="one line")
            shop.check_recipient(text)
            filled = fill(
                parse(text.strip()), facts, shop.context.formats, rtl=shop.rtl, recipient=shop.recipient
            )
            if any(part.names[0] == "link" for part in filled if isinstance(part, Send)):
                raise Fault(f"a link cannot stand in the {name}", expected="words")
            pair = self.pair(filled)
            _ = (pair.tagged.html, pair.tagged.attr, pair.tagged.plain, pair.sampled.plain)
            if name == "subject":
                if not pair.tagged:
                    raise Fault("the subject is empty", expected="words")
                _ = (pair.tagged.header, pair.sampled.header)
        except Fault as fault:
            self.mistakes.append(fault.at(place(find(self.root, (name,))[0]), name))
            return None
        return pair

    # -- sections

    def looked_up(self, valid: ValidSection, first: bool) -> LookedUp:
        """A section with all it used of the shop, whoever else used it too."""
        shop = self.shop.afresh()
        own = _Resolution(self.valid, shop, self.voices, self.root, self.tongues)
        spoken = own.section(valid, first)
        pictures = shop.pictures
        return LookedUp(
            spoken, own.used, own.addresses, pictures.plans, pictures.asked, pictures.copy_on,
            tuple(own.mistakes),
        )  # fmt: skip

    def section(self, valid: ValidSection, first: bool) -> Spoken:
        section = valid.section
        shop = spoken_in(section, self.shop, self.tongues)
        condition, in_sample = self.when(valid)
        links = self.section_links(valid, shop.site)
        run = SectionResolver(shop, valid, links, self.dialect, self.used)
        tagged = run.run()
        sampled = tagged
        if run.sends and not run.mistakes:
            again = SectionResolver(shop, valid, links, self.sample, {})
            sampled = again.run()
            self.mistakes.extend(again.mistakes)
        self.mistakes.extend(run.mistakes)
        for address in run.addresses:
            self.note(address)
        headed = has_heading(valid)
        level = 1 if first else 2
        return Spoken(
            id=section.id, block=valid.block.name, tone=tagged["tone"], level=level,
            inner=level + 1 if headed else 2, tagged=tagged, sampled=sampled, condition=condition,
            in_sample=in_sample, place=place(section.whole), path=section.path, language=shop.language,
            rtl=shop.rtl, library=shop.library, node=section.node, when=section.when or "",
            otherwise=self.section(valid.otherwise, first) if valid.otherwise is not None else None,
        )  # fmt: skip

    def when(self, valid: ValidSection) -> tuple[tuple[str, str, str] | None, bool]:
        """The dialect's condition around a section, and whether the sample recipient gets it."""
        section, known = valid.section, self.shop.recipient
        if not section.when:
            return None, True
        try:
            condition = self.dialect.when(section.when)
            if not known:
                raise undeclared(section.when)
            name = section.when.removeprefix("recipient.")
            if name not in known:
                near = nearest(name, known)
                raise Fault(
                    f"there is no recipient field `{name}`",
                    expected="one of " + ", ".join(sorted(known)),
                    nearest=f"recipient.{near}" if near else "",
                )
        except Fault as fault:
            self.mistakes.append(fault.at(key_place(section.whole, ("when",)), section.path))
            return None, True
        if valid.otherwise is not None and not condition[1]:
            message = f"the dialect {self.dialect.name} has no way to say what the others get"
            expected = "otherwise or unless in the dialect's when, or no otherwise here"
            where = key_place(section.whole, ("otherwise",))
            self.mistakes.append(Mistake(where, section.path, message, expected))
        return condition, self.sample.has(section.when)

    def note(self, address: Filled) -> None:
        """How a link with send-time parts reads as text; the manifest lists it so."""
        if any(isinstance(part, Send) for part in address):
            text = Text(address, self.dialect)
            try:
                self.addresses[text.url] = text.plain_url
            except Fault:  # reported where the link stands
                return

    def section_links(self, valid: ValidSection, site: str) -> Links:
        shop = self.shop
        facts = Recorder(section_facts(shop, valid), self.used)
        tags = []
        for name, value in shop.brand.link_tags.items():
            try:
                filled = fill(parse(value), facts, shop.context.formats)
                if any(isinstance(part, Send) for part in filled):
                    message = "a link tag is the same for every reader"
                    raise Fault(message, expected="words and facts, no recipient field")
            except Fault as fault:
                where = place(find(shop.brand_node, ("link_tags", name))[0])
                self.mistakes.append(fault.at(where, f"link_tags.{name}"))
                continue
            tags.append((name, "".join(part for part in filled if isinstance(part, str))))
        return Links(site, tuple(tags))


def _for_all(valid: ValidSection) -> bool:
    """Whether every recipient gets a heading here."""
    return not valid.section.when or (valid.otherwise is not None and has_heading(valid.otherwise))


def _skipped(moment: datetime, timezone: str) -> bool:
    """Whether a local time does not exist, for the clocks went over it (PEP 495)."""
    local = moment.replace(tzinfo=ZoneInfo(timezone))
    return local.astimezone(UTC).astimezone(local.tzinfo).replace(tzinfo=None) != moment
