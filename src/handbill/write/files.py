"""A mail's files. Enters: a rendered mail; leaves: the bytes of its HTML, text, .eml and manifest.

Where they go, and how, is `write.store`'s.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from hashlib import sha256
from typing import Any
from zoneinfo import ZoneInfo

from handbill import __version__
from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, Place
from handbill.base.frozen import dataclass
from handbill.base.source import child, place
from handbill.pictures.produce import produced
from handbill.render.render import Rendered
from handbill.resolve.mail import Mail
from handbill.resolve.shop import CID, cid
from handbill.write.coded import Coder, Entry
from handbill.write.eml import Envelope, Inline, envelope_headers, message
from handbill.write.headers import Mailbox, address, list_unsubscribe, message_id

MANIFEST = "manifest.json"
MAIN = "main"  # the variant of a campaign that has none
FORMAT = 1


@dataclass(frozen=True, slots=True)
class Sizes:
    """Bytes after decoding, as readers count them."""

    html: int
    text: int
    eml: int
    pictures: int


@dataclass(frozen=True, slots=True)
class Built:
    """A mail's files in memory. Two mails whose `digest` is the same differ in their Message-ID alone."""

    html: bytes
    text: bytes
    eml: bytes
    manifest: Mapping[str, Any]
    sizes: Sizes
    digest: bytes

    def files(self) -> dict[str, bytes]:
        """Each file by its name, the manifest last."""
        return {
            "email.html": self.html,
            "email.txt": self.text,
            "email.eml": self.eml,
            MANIFEST: as_json(self.manifest),
        }


def eml(mail: Mail, rendered: Rendered, inline: Sequence[Inline] = (), coder: Coder | None = None) -> bytes:
    """The sample-filled message."""
    coder = coder or Coder()
    return _message(rendered, headers(mail, rendered, coder=coder), inline, coder)


def _message(rendered: Rendered, fields: Sequence[bytes], inline: Sequence[Inline], coder: Coder) -> bytes:
    html = [coder.html(piece) for piece in rendered.sample_html]
    text = [coder.text(piece) for piece in rendered.sample_text if piece]
    return message(fields, text, html, inline)


def headers(mail: Mail, rendered: Rendered, variant: str = MAIN, coder: Coder | None = None) -> list[bytes]:
    """The sample-filled header fields; Date and Message-ID derive from the campaign and the content.

    Two variants alike are two messages, so the variant's id is in the Message-ID too (RFC 5322 §3.6.4).
    """
    brand, sender = mail.shop.brand, mail.shop.brand.sender
    coder = coder or Coder()
    digest = sha256(b"".join([coder.digest(piece) for piece in rendered.sample_html]))
    digest.update(b"".join([coder.digest(piece) for piece in rendered.sample_text]))
    digest.update(
        f"{mail.campaign.campaign}\0{mail.campaign.send.isoformat()}\0{mail.subject.sampled.header}".encode()
    )
    if variant != MAIN:
        digest.update(f"\0{variant}".encode())
    link = mail.unsubscribe.sampled.plain_url
    return envelope_headers(
        Envelope(
            sender=Mailbox(sender.name, sender.address),
            reply_to=Mailbox("", sender.reply_to) if sender.reply_to else None,
            to=(Mailbox(mail.sample.fields.get("first_name", ""), mail.sample_address),),
            subject=mail.subject.sampled.header,
            date=sent_at(mail),
            message_id=message_id(digest.hexdigest()[:32], domain_of(sender.address)),
            unsubscribe=(link,),
            language=mail.language,
            list_id=f"letters.{domain_of(brand.sender.address)}",
        )
    )


def check_envelope(mail: Mail) -> list[Mistake]:
    """What cannot stand in the head of a mail: the brand's addresses, the sample's address and link."""
    brand = mail.shop.brand
    brand_place, workspace = _file_of(mail), Place("handbill.yaml")
    tests: list[tuple[Place, str, Callable[[], object]]] = [
        (brand_place, "sender", lambda: address(brand.sender.name, brand.sender.address)),
        (brand_place, "sender.reply_to", lambda: address("", brand.sender.reply_to or brand.sender.address)),
        (workspace, "samples[0].address", lambda: address("", mail.sample_address)),
        (
            workspace,
            "samples[0].links.unsubscribe",
            lambda: list_unsubscribe((mail.unsubscribe.sampled.plain_url,)),
        ),
    ]
    wrong = []
    for where, path, test in tests:
        try:
            test()
        except Fault as fault:
            wrong.append(fault.at(where, path))
    return wrong


def _file_of(mail: Mail) -> Place:
    node = child(mail.shop.brand_node, "sender")
    return place(node if node is not None else mail.shop.brand_node)


def sent_at(mail: Mail) -> datetime:
    """`send:` in the shop's time zone."""
    moment: datetime = mail.campaign.send
    return moment.replace(tzinfo=ZoneInfo(mail.shop.brand.timezone))


def domain_of(address: str) -> str:
    return address.rpartition("@")[2]


def build(
    mail: Mail, rendered: Rendered, cache: Cache, coder: Coder | None = None, variant: str = MAIN,
    scope: str = "",
) -> Built:  # fmt: skip
    """All of a mail's files as bytes; pictures are read only when they travel inside.

    `scope` says which runs the variant belongs to, where those for the campaign alone do not make it.
    """
    coder = coder or Coder()
    html = b"".join([coder.data(piece) for piece in rendered.html])
    text = ("".join(rendered.text).rstrip("\n") + "\n").encode()
    inline = _inline(mail, cache) if mail.shop.pictures.mode == CID else ()
    fields = headers(mail, rendered, variant, coder)
    whole = _message(rendered, fields, inline, coder)
    pictures = sum([coder.size(plan, cache) for plan in mail.plans])
    sizes = Sizes(len(html), len(text), len(whole), pictures)
    digest = sha256(b"".join([coder.digest(piece) for piece in rendered.html]))
    for part in (text, mail.subject.tagged.header.encode(), *fields):
        if not part.startswith(b"Message-ID:"):
            digest.update(part)
    told = manifest(mail, rendered, sizes, coder, variant, scope)
    return Built(html, text, whole, told, sizes, digest.digest()[:16])


def _inline(mail: Mail, cache: Cache) -> tuple[Inline, ...]:
    domain = mail.shop.pictures.domain
    return tuple(
        Inline(cid(plan.name, domain), plan.name, plan.content_type, produced(plan, cache))
        for plan in mail.plans
    )


def manifest(
    mail: Mail, rendered: Rendered, sizes: Sizes, coder: Coder, variant: str, scope: str
) -> dict[str, Any]:
    """What was made of what: facts used, links, sizes, each section's source and bytes in email.html."""
    sections: list[dict[str, Any]] = []
    links: list[Entry] = []
    at = len(coder.data(rendered.html[0]))
    for section, piece in zip(mail.sections, rendered.html[1:-1], strict=True):
        size = len(coder.data(piece))
        sections.append(
            {"id": section.id, "block": section.block, "source": str(section.place), "bytes": [at, at + size]}
        )
        links += coder.links(section.id, piece, mail.addresses)
        at += size
    unsubscribe = mail.unsubscribe.tagged.plain_url
    sender = mail.shop.brand.sender
    products: dict[str, dict[str, str]] = {}
    for (name, sku), text in mail.facts.items():
        if sku:
            products.setdefault(sku, {})[name] = text
    return {
        "handbill": __version__,
        "format": FORMAT,
        "campaign": mail.campaign.campaign,
        "variant": variant,
        **({"scope": scope} if scope else {}),
        "brand": mail.shop.brand.brand,
        "language": mail.language,
        "headers": {
            "From": f"{sender.name} <{sender.address}>",
            "Subject": mail.subject.tagged.header,
            "List-Unsubscribe": f"<{unsubscribe}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
        },
        "preheader": mail.preheader.tagged.plain,
        "facts": {name: text for (name, sku), text in mail.facts.items() if not sku and name != "section.id"},
        "product_facts": dict(sorted(products.items())),
        "links": links,
        "pictures": [coder.picture(plan, mail.copy_on.get(plan.name)) for plan in mail.plans],
        "sizes": {"html": sizes.html, "text": sizes.text, "eml": sizes.eml, "pictures": sizes.pictures},
        "sections": sections,
    }


def as_json(data: Mapping[str, Any]) -> bytes:
    """JSON in a fixed order, one entry of a list or mapping on a line, so that two runs compare."""
    return ("".join(json_lines(data.items())) + "\n").encode()


_encode = json.JSONEncoder(ensure_ascii=False).encode


@lru_cache(maxsize=4000)  # the mails of a campaign share most of their facts
def _word(text: str) -> str:
    return _encode(text)


def _entry(value: Any) -> str:
    """One entry of a list or mapping; most are links and facts that came before."""
    if type(value) is Entry:
        return value.line
    return _word(value) if type(value) is str else _encode(value)


def json_lines(pairs: Iterable[tuple[str, Any]]) -> Iterable[str]:
    """The parts of a JSON mapping of `pairs`; a list may be any iterable, and is not held in memory."""
    start = "{\n"
    for name, value in pairs:
        yield f"{start}  {_word(name)}: "
        start = ",\n"
        if isinstance(value, str | int):
            yield _encode(value)
        elif isinstance(value, Mapping):
            yield from _entries("{}", (f"{_word(key)}: {_entry(one)}" for key, one in value.items()))
        else:
            yield from _entries("[]", map(_entry, value))
    yield "\n}"


def _entries(ends: str, entries: Iterable[str]) -> Iterable[str]:
    before = ends[0] + "\n    "
    for entry in entries:
        yield before + entry
        before = ",\n    "
    yield "\n  " + ends[1] if before.startswith(",") else ends
