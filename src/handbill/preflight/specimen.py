"""The mail under examination. Enters: a resolved and rendered mail; leaves: its facets, read when asked for.

What a reader is shown is the sample recipient's; a section that the sample does not get is looked at with the
dialect's tags in it. A facet that cannot be read is missing, with the reason.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from email import message_from_bytes, policy
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any

from handbill.base.frozen import dataclass
from handbill.base.source import Node
from handbill.measure.layout import PHONE, Screen, measure
from handbill.measure.readings import Readings, readings
from handbill.pictures.plan import Plan
from handbill.pictures.produce import produced
from handbill.preflight.contract import Facet, Way, Where
from handbill.preflight.laid import Laid
from handbill.preflight.page import Page
from handbill.render.render import Piece, Rendered
from handbill.resolve.copy import Copy
from handbill.resolve.mail import Mail, Spoken
from handbill.resolve.text import Filled, Text
from handbill.resolve.values import Address, Cell, Fields

if TYPE_CHECKING:
    from email.message import EmailMessage

    from handbill.models.workspace import Workspace

#: A value of a section: the way to it, and what it is.
Value = tuple[Way, Text | Copy | Fields]


@dataclass(frozen=True, slots=True)
class Part:
    """One section of the mail, or what the others get in its place.

    `shown`: the sample recipient gets it; `first` and `end` are then its bytes in the HTML of the whole.
    """

    mail: Mail
    spoken: Spoken
    piece: Piece
    id: str
    shown: bool
    first: int = -1
    end: int = -1
    branch: int = 0

    @property
    def when(self) -> str:
        """The recipient field that the section is kept back without, if there is one."""
        return "" if self.branch else self.spoken.when

    @property
    def html(self) -> str:
        """As the sample recipient gets it, or else with tags."""
        return self.piece.sample_html if self.shown else self.piece.branches[self.branch]

    @property
    def page(self) -> Page:
        """Its HTML read back by itself; elements' places are of no use outside it."""
        return _fragment(self.html)

    @property
    def system_links(self) -> frozenset[str]:
        """The sample's links that the sending program will write: where they lead says nothing."""
        return frozenset(self.mail.sample.links.values())

    def at(self, near: str) -> Where:
        """The field of this section that says `near`."""
        return Where(section=self.id, near=near)

    @property
    def text(self) -> str:
        """Its text as the sample recipient gets it, else nothing."""
        return self.piece.sample_text if self.shown else ""

    @property
    def fields(self) -> Mapping[str, Any]:
        """The section's fields in the sample's words."""
        return self.spoken.sampled

    def values(self) -> Iterator[Value]:
        """Every text, copy, link and group of the section's fields, with the way to it."""
        for name, value in self.fields.items():
            if name not in ("word", "width", "brand", "link"):
                yield from _values(value, (name,))

    def texts(self) -> Iterator[tuple[Way, Filled, str]]:
        """Every text and copy: the way to it, its parts, what the reader reads. Addresses are left out."""
        for way, value in self.values():
            if isinstance(value, Copy):
                yield way, filled_of(value), value.plain
            elif isinstance(value, Text) and not isinstance(value, Address):
                yield way, value.filled, value.plain


@lru_cache(maxsize=512)
def _fragment(html: str) -> Page:
    return Page(f"<!DOCTYPE html><html><head></head><body><table>{html}</table></body></html>")


def _values(value: Any, way: Way) -> Iterator[Value]:
    if isinstance(value, Text | Copy):
        yield way, value
    elif isinstance(value, Fields):
        yield way, value
        for name, inner in vars(value).items():
            yield from _values(inner, (*way, name))
    elif isinstance(value, Cell):
        for name, inner in value.fields.items():
            if name not in ("word", "width"):
                yield from _values(inner, (*way, name))
    elif isinstance(value, tuple | list):
        for number, entry in enumerate(value):
            yield from _values(entry, (*way, number))


def filled_of(copy: Copy) -> Filled:
    """The parts of all of a copy's text, one after the other."""
    return tuple(part for run in copy.runs for part in run)


@dataclass(frozen=True, slots=True)
class Missing:
    """Why a facet is not there."""

    reason: str


class Specimen:
    """A mail as rules see it. What is read is kept, so that one rule's reading serves the next."""

    def __init__(
        self, mail: Mail, pieces: Sequence[Piece], rendered: Rendered, workspace: Workspace, root: Node,
        variant: str = "main",
    ) -> None:  # fmt: skip
        self.mail = mail
        self.rendered = rendered
        self.workspace = workspace
        self.workspace_node = root
        self.variant = variant
        self.missing: dict[Facet, Missing] = {}
        self._laid: dict[Screen, Laid] = {}
        self.parts: tuple[Part, ...] = tuple(_placed(mail, pieces, rendered))

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
                _ = self.laid_out(PHONE)
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

    def laid_out(self, screen: Screen) -> Laid:
        """The mail's boxes on a screen, in the light."""
        if screen not in self._laid:
            sizes = {plan.name: plan.pixels for plan in self.mail.plans}
            self._laid[screen] = Laid(measure(self.page.document, screen, pictures=sizes))
        return self._laid[screen]

    @cached_property
    def readings(self) -> Readings:
        """What is measured on a phone."""
        return readings(
            self.laid_out(PHONE).layout, amounts=filter(None, [self.amount]), codes=filter(None, [self.code])
        )

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
        return self._plans.get(src.rpartition("/")[2])

    @cached_property
    def _plans(self) -> Mapping[str, Plan]:
        return {plan.name: plan for plan in self.mail.plans}

    def bytes_of(self, plan: Plan) -> bytes:
        """A picture's file. Raises Fault when it cannot be made."""
        return produced(plan, self.mail.shop.pictures.cache)

    @property
    def system_links(self) -> frozenset[str]:
        """The sample's links that the sending program will write: where they lead says nothing."""
        return frozenset(self.mail.sample.links.values())


def _placed(mail: Mail, pieces: Sequence[Piece], rendered: Rendered) -> Iterator[Part]:
    at = len(rendered.sample_html[0].encode())
    for spoken, piece in zip(mail.sections, pieces, strict=True):
        size = len(piece.sample_html.encode())
        for branch, one in enumerate((spoken, spoken.otherwise)):
            if one is None:
                continue
            id = f"{spoken.id}, otherwise" if branch else spoken.id
            if size and spoken.in_sample == (branch == 0):
                yield Part(mail, one, piece, id, True, at, at + size, branch)
            else:
                yield Part(mail, one, piece, id, False, branch=branch)
        at += size


def one_line(text: str) -> str:
    """`text` with its white space squeezed, as it reads."""
    return re.sub(r"\s+", " ", text).strip()
