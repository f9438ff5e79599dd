"""Writing. Enters: a rendered mail; leaves: its files under out/, whole or not at all.

Order: the old manifest goes first, files are renamed in one by one, the new manifest comes last. Only files
that a manifest lists are ever deleted.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from handbill import __version__
from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.base.files import write_atomic
from handbill.pictures.produce import produced
from handbill.render.render import Rendered
from handbill.resolve.mail import Mail
from handbill.resolve.shop import CID, cid
from handbill.write.eml import Envelope, Inline, envelope_headers, message, quoted_printable
from handbill.write.flowed import flow
from handbill.write.headers import Mailbox, message_id

MANIFEST = "manifest.json"
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
    """A mail's files in memory."""

    html: bytes
    text: bytes
    eml: bytes
    manifest: Mapping[str, Any]
    sizes: Sizes


def eml(mail: Mail, rendered: Rendered, inline: Sequence[Inline] = ()) -> bytes:
    """The sample-filled message."""
    html = [quoted_printable(piece.encode()) for piece in rendered.sample_html]
    text = [
        quoted_printable(flow(piece.rstrip("\n") + "\n\n").encode())
        for piece in rendered.sample_text
        if piece
    ]
    return message(headers(mail, rendered), text, html, inline)


def headers(mail: Mail, rendered: Rendered) -> list[bytes]:
    """The sample-filled header fields; Date and Message-ID derive from the campaign and the content."""
    brand, sender = mail.shop.brand, mail.shop.brand.sender
    digest = sha256()
    for piece in (*rendered.sample_html, *rendered.sample_text):
        digest.update(piece.encode())
    digest.update(
        f"{mail.campaign.campaign}\0{mail.campaign.send.isoformat()}\0{mail.subject.sampled.header}".encode()
    )
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


def sent_at(mail: Mail) -> datetime:
    """`send:` in the shop's time zone."""
    moment: datetime = mail.campaign.send
    return moment.replace(tzinfo=ZoneInfo(mail.shop.brand.timezone))


def domain_of(address: str) -> str:
    return address.rpartition("@")[2]


def build(mail: Mail, rendered: Rendered, cache: Cache) -> Built:
    """All of a mail's files as bytes; pictures are read only when they travel inside."""
    html = "".join(rendered.html).encode()
    text = ("".join(rendered.text).rstrip("\n") + "\n").encode()
    inline = _inline(mail, cache) if mail.shop.pictures.mode == CID else ()
    whole = eml(mail, rendered, inline)
    pictures = sum(len(produced(plan, cache)) for plan in mail.plans)
    sizes = Sizes(len(html), len(text), len(whole), pictures)
    return Built(html, text, whole, manifest(mail, rendered, sizes), sizes)


def _inline(mail: Mail, cache: Cache) -> tuple[Inline, ...]:
    domain = mail.shop.pictures.domain
    return tuple(
        Inline(cid(plan.name, domain), plan.name, plan.content_type, produced(plan, cache))
        for plan in mail.plans
    )


def manifest(mail: Mail, rendered: Rendered, sizes: Sizes) -> dict[str, Any]:
    """What was made of what: facts, links, sizes, and each section's place in the source and in email.html."""
    sections, at = [], len(rendered.html[0].encode())
    for section, piece in zip(mail.sections, rendered.html[1:-1], strict=True):
        size = len(piece.encode())
        sections.append(
            {"id": section.id, "block": section.block, "source": str(section.place), "bytes": [at, at + size]}
        )
        at += size
    unsubscribe = mail.unsubscribe.tagged.plain_url
    sender = mail.shop.brand.sender
    return {
        "handbill": __version__,
        "format": FORMAT,
        "campaign": mail.campaign.campaign,
        "brand": mail.shop.brand.brand,
        "language": mail.language,
        "headers": {
            "From": f"{sender.name} <{sender.address}>",
            "Subject": mail.subject.tagged.header,
            "List-Unsubscribe": f"<{unsubscribe}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
        },
        "preheader": mail.preheader.tagged.plain,
        "facts": dict(mail.facts),
        "links": [{"section": section, "address": address} for section, address in mail.links],
        "pictures": [
            {"file": plan.name, "width": plan.width, "height": plan.height, "pixels": list(plan.pixels)}
            for plan in mail.plans
        ],
        "sizes": {"html": sizes.html, "text": sizes.text, "eml": sizes.eml, "pictures": sizes.pictures},
        "sections": sections,
    }


def as_json(data: Any) -> bytes:
    """JSON with a fixed order and two spaces, so that two runs compare."""
    return (json.dumps(data, ensure_ascii=False, indent=2) + "\n").encode()


def write(built: Built, mail: Mail, out: Path, variant: str, cache: Cache) -> list[Path]:
    """Write one variant of a campaign below `out`. Raises Fault when the folder cannot be used."""
    campaign = out / mail.campaign.campaign
    folder, pictures = campaign / variant, campaign / "pictures"
    try:
        for one in (campaign, folder, pictures):
            _real_folder(one)
        listed = _listed(campaign)
        before = {name for variants in listed.values() for name in variants}
        (campaign / MANIFEST).unlink(missing_ok=True)
        (folder / MANIFEST).unlink(missing_ok=True)
        written = []
        if mail.shop.pictures.mode != CID:
            for plan in mail.plans:
                path = pictures / plan.name
                if not (plan.name in before and path.is_file()):
                    write_atomic(path, produced(plan, cache))
                written.append(path)
        for name, data in (("email.html", built.html), ("email.txt", built.text), ("email.eml", built.eml)):
            write_atomic(folder / name, data)
            written.append(folder / name)
        write_atomic(folder / MANIFEST, as_json(built.manifest))
        kept = {} if mail.shop.pictures.mode == CID else {plan.name: None for plan in mail.plans}
        listed[variant] = list(kept)
        for name in sorted(before - {name for variants in listed.values() for name in variants}):
            (pictures / name).unlink(missing_ok=True)
        write_atomic(campaign / MANIFEST, as_json(_campaign_manifest(mail, listed)))
    except OSError as error:
        raise Fault(f"{error.filename or out} cannot be written: {error.strerror}") from None
    return written


def _campaign_manifest(mail: Mail, listed: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    return {
        "handbill": __version__,
        "format": FORMAT,
        "campaign": mail.campaign.campaign,
        "variants": [{"id": variant, "pictures": list(names)} for variant, names in sorted(listed.items())],
    }


def _listed(campaign: Path) -> dict[str, Sequence[str]]:
    """Which pictures each variant of an earlier run uses; nothing when the manifest is missing or damaged."""
    try:
        data = json.loads((campaign / MANIFEST).read_bytes())
        return {
            str(one["id"]): [name for name in one["pictures"] if isinstance(name, str) and "/" not in name]
            for one in data["variants"]
            if (campaign / str(one["id"]) / "email.html").is_file()
        }
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def _real_folder(path: Path) -> None:
    if path.is_symlink():
        raise Fault(f"{path} is a link; output goes to real folders only")
    path.mkdir(parents=True, exist_ok=True)
