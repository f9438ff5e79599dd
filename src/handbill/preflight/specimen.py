"""The mail under examination. Enters: a resolved and rendered mail; leaves: its facets, read when asked for.

What a reader is shown is the sample recipient's; sections that the sample does not get are in the specimen of
the others, in the sample's words. A facet that cannot be read is missing, with the reason.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from email import message_from_bytes, policy
from functools import cached_property
from typing import TYPE_CHECKING

from handbill.base.frozen import dataclass
from handbill.base.source import Node, find
from handbill.dom.tree import Element
from handbill.measure.layout import PANE, PHONES, Layout, Screen, measure
from handbill.measure.readings import Readings, readings
from handbill.pictures.plan import Plan
from handbill.pictures.produce import produced
from handbill.preflight.contract import Facet, Where
from handbill.preflight.laid import Laid
from handbill.preflight.page import Page
from handbill.preflight.part import Part, parts_of
from handbill.render.render import Piece, Rendered
from handbill.resolve.mail import Mail

if TYPE_CHECKING:
    from email.message import EmailMessage

    from handbill.models.workspace import Workspace
    from handbill.preflight.claims import Judged
    from handbill.truth.history import History


@dataclass(frozen=True, slots=True)
class Missing:
    """Why a facet is not there."""

    reason: str


class Specimen:
    """A mail as rules see it. What is read is kept, so that one rule's reading serves the next.

    `others` is the same mail with every section that depends on the recipient the other way round.
    """

    def __init__(
        self, mail: Mail, pieces: Sequence[Piece], rendered: Rendered, workspace: Workspace, root: Node,
        variant: str = "main",
    ) -> None:  # fmt: skip
        self.mail = mail
        self.rendered = rendered
        self.workspace = workspace
        self.workspace_node = root
        self.variant = variant
        self.others: Specimen | None = None
        self.unmeasured: dict[str, str] = {}  # sections that could not be laid out, and why
        self.missing: dict[Facet, Missing] = {}
        self._laid: dict[Screen, Laid] = {}
        self._readings: dict[Screen, Readings] = {}
        self.parts: tuple[Part, ...] = tuple(parts_of(mail, pieces, len(rendered.sample_html[0].encode())))

    def has(self, facet: Facet) -> bool:
        """Whether `facet` can be read; `missing` holds the reason when it cannot."""
        if facet in self.missing:
            return False
        try:
            if facet == "html":
                _ = self.page
            elif facet == "headers":
                _ = self.headers
            elif facet == "layout":
                _ = self.laid_out(self.phone)
        except Exception as error:  # whatever a mail does to a reader, the other rules go on
            self.missing[facet] = Missing(f"{type(error).__name__}: {error}")
            return False
        return True

    @cached_property
    def html(self) -> str:
        """The HTML that the sample recipient gets."""
        return "".join(self.rendered.sample_html)

    @cached_property
    def page(self) -> Page:
        """The HTML read back."""
        inside = [(part.id, part.first, part.end) for part in self.parts if part.first >= 0]
        return Page(self.html, inside)

    @cached_property
    def phone(self) -> Screen:
        """The phone that the shop wants its mails judged on."""
        chosen = self.mail.shop.brand.preflight.screen
        return Screen(chosen.width, chosen.height, first=chosen.first)

    @cached_property
    def phones(self) -> tuple[Screen, ...]:
        """Every phone that is looked at, from the narrowest, the shop's own among them."""
        own = self.phone
        share = own.first_screen / own.height
        others = [Screen(one.width, one.height, first=round(one.height * share)) for one in PHONES]
        found = {one.width: one for one in (*others, own)}
        return tuple(found[width] for width in sorted(found))

    @property
    def screens(self) -> tuple[Screen, ...]:
        """The phones, and a desktop's pane."""
        return (*[one for one in self.phones if one.width != PANE.width], PANE)

    def laid_out(self, screen: Screen) -> Laid:
        """The mail's boxes on a screen, in the light."""
        if screen not in self._laid:
            self._laid[screen] = Laid(self._measured(screen))
        return self._laid[screen]

    def _measured(self, screen: Screen) -> Layout:
        """The mail laid out; a section that cannot be is left empty, and `unmeasured` says why."""
        document = self.page.document
        sizes = self.sizes
        out = [self._rows[id] for id in self.unmeasured]
        try:
            return measure(document, screen, pictures=sizes, without=out)
        except Exception:
            for id in self._rows:
                others = [row for other, row in self._rows.items() if other != id]
                try:
                    measure(document, screen, pictures=sizes, without=others)
                except Exception as error:
                    self.unmeasured[id] = f"{type(error).__name__}: {error}"
            out = [self._rows[id] for id in self.unmeasured]
            return measure(document, screen, pictures=sizes, without=out)

    @cached_property
    def sizes(self) -> Mapping[str, tuple[int, int]]:
        """px of each picture's file by its address."""
        return {src: plan.pixels for src, plan in self._plans.items()}

    @cached_property
    def _rows(self) -> Mapping[str, Element]:
        """The row of each section that shows."""
        firsts = {part.first: part.id for part in self.parts if part.first >= 0}
        return {firsts[one.start]: one for one in self.page.body.iter("tr") if one.start in firsts}

    @cached_property
    def readings(self) -> Readings:
        """What is measured on the shop's phone."""
        return self.readings_on(self.phone)

    def readings_on(self, screen: Screen) -> Readings:
        """What is measured on a screen."""
        if screen not in self._readings:
            self._readings[screen] = readings(
                self.laid_out(screen).layout,
                amounts=filter(None, [self.amount]), codes=filter(None, [self.code]),
            )  # fmt: skip
        return self._readings[screen]

    @property
    def amount(self) -> str:
        """What the offer takes off, in the mail's words for it; empty without an offer."""
        offer, facts = self.mail.campaign.offer, self.mail.shop.context.facts
        if offer is None:
            return ""
        sale = offer.kind == "markdown"
        names = ("offer.best_percent",) if sale else ("offer.percent", "offer.amount")
        return next((facts[name].text for name in names if facts[name].text), "")

    @property
    def code(self) -> str:
        """The code that the reader types in the shop; empty without one."""
        offer = self.mail.campaign.offer
        return offer.code if offer is not None and offer.kind == "code" else ""

    @cached_property
    def text(self) -> str:
        """The text part that the sample recipient gets."""
        return "".join(self.rendered.sample_text)

    @cached_property
    def headers(self) -> EmailMessage:
        """The header fields as a mail program reads them."""
        from handbill.write.files import headers

        raw = b"".join(headers(self.mail, self.rendered, self.variant))
        return message_from_bytes(raw, policy=policy.default)

    @cached_property
    def judged(self) -> tuple[Judged, ...]:
        """What the author's own words claim, and what is wrong with it."""
        from handbill.preflight.claims import judged

        return tuple(judged(self))

    @cached_property
    def history(self) -> History | None:
        """What products cost before, where the shop tells it. Raises MistakesError."""
        name = self.mail.shop.brand.truth.prices
        if name is None:
            return None
        from handbill.truth.history import load

        shop = self.mail.shop
        at = find(shop.brand_node, ("truth", "prices"))[0]
        return load(name, shop.pictures.folders, shop.pictures.root, shop.brand.currency, at)

    @property
    def subject(self) -> str:
        """The subject as the sample recipient reads it."""
        return self.mail.subject.sampled.plain

    @property
    def preheader(self) -> str:
        """The preheader as the sample recipient reads it."""
        return self.mail.preheader.sampled.plain

    def part(self, id: str) -> Part:
        """The section called `id`."""
        return next(part for part in self.parts if part.id == id)

    def part_at(self, at: int) -> Part | None:
        """The section that holds byte `at` of the HTML."""
        return next((part for part in self.parts if part.first <= at < part.end), None)

    @cached_property
    def unseen(self) -> frozenset[str]:
        """The ids of sections that the sample recipient does not get, and others do."""
        return frozenset(part.id for part in self.parts if not part.shown and part.html.strip())

    def asked(self, picture: str) -> Where:
        """The field that asked for the picture file `picture`."""
        _place, path = self.mail.asked[picture]
        source = next(plan.source.path.name for plan in self.mail.plans if plan.name == picture)
        part = next((one for one in self.parts if path.startswith(one.spoken.path)), None)
        if part is None:
            return Where(file="brand", near=source)
        return Where(section=part.id, near=source)

    def picture(self, src: str) -> Plan | None:
        """The plan of the picture that the mail finds at `src`."""
        return self._plans.get(src)

    @cached_property
    def _plans(self) -> Mapping[str, Plan]:
        where = self.mail.shop.pictures.where
        return {where(plan.name): plan for plan in self.mail.plans}

    def bytes_of(self, plan: Plan) -> bytes:
        """A picture's file. Raises Fault when it cannot be made."""
        return produced(plan, self.mail.shop.pictures.cache)

    @property
    def system_links(self) -> frozenset[str]:
        """The sample's links that the sending program will write: where they lead says nothing."""
        return frozenset(self.mail.sample.links.values())
