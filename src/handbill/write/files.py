"""Writing. Enters: a rendered mail; leaves: its files under out/, whole or not at all.

Order: the old manifest goes first, files are renamed in one by one, the new manifest comes last. Only files
that a manifest lists are ever deleted.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from handbill import __version__
from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, Place
from handbill.base.files import write_atomic
from handbill.base.frozen import dataclass
from handbill.base.source import child, place
from handbill.pictures.produce import produced
from handbill.render.render import Rendered, hrefs
from handbill.resolve.mail import Mail
from handbill.resolve.shop import CID, cid
from handbill.write.eml import Envelope, Inline, envelope_headers, message, quoted_printable
from handbill.write.flowed import flow
from handbill.write.headers import Mailbox, address, list_unsubscribe, message_id

MANIFEST = "manifest.json"
MAIN = "main"  # the variant of a campaign that has none
FORMAT = 1
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._=-]*")


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
    coded = [piece.encode() for piece in rendered.sample_html]
    html = [quoted_printable(piece) for piece in coded]
    text = [
        quoted_printable(flow(piece.rstrip("\n") + "\n\n").encode())
        for piece in rendered.sample_text
        if piece
    ]
    return message(headers(mail, rendered, b"".join(coded)), text, html, inline)


def headers(mail: Mail, rendered: Rendered, html: bytes | None = None) -> list[bytes]:
    """The sample-filled header fields; Date and Message-ID derive from the campaign and the content.

    `html` is the sample-filled HTML as bytes, for a caller who has it.
    """
    brand, sender = mail.shop.brand, mail.shop.brand.sender
    digest = sha256("".join(rendered.sample_html).encode() if html is None else html)
    digest.update("".join(rendered.sample_text).encode())
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
    """What was made of what: facts used, links, sizes, each section's source and bytes in email.html."""
    from html import unescape

    sections, links, at = [], [], len(rendered.html[0].encode())
    for section, piece in zip(mail.sections, rendered.html[1:-1], strict=True):
        size = len(piece.encode())
        sections.append(
            {"id": section.id, "block": section.block, "source": str(section.place), "bytes": [at, at + size]}
        )
        links += [
            {"section": section.id, "address": mail.addresses.get(href) or unescape(href)}
            for href in hrefs(piece)
        ]
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


def write(built: Built, mail: Mail, out: Path, variant: str, cache: Cache) -> None:
    """Write one variant of a campaign below `out`. Raises Fault when the folder cannot be used."""
    campaign = out / mail.campaign.campaign
    folder, pictures = campaign / variant, campaign / "pictures"
    plans = () if mail.shop.pictures.mode == CID else mail.plans
    try:
        for one in (out, campaign, folder, pictures):
            _real_folder(one)
        listed = _listed(campaign)
        before = {name for names in listed.values() for name in names}
        (campaign / MANIFEST).unlink(missing_ok=True)
        (folder / MANIFEST).unlink(missing_ok=True)
        for plan in plans:
            path = pictures / plan.name  # its name tells its content: the same picture is not written again
            if plan.name not in before or path.is_symlink() or not path.is_file():
                write_atomic(path, produced(plan, cache))
        for name, data in (("email.html", built.html), ("email.txt", built.text), ("email.eml", built.eml)):
            write_atomic(folder / name, data)
        write_atomic(folder / MANIFEST, as_json(built.manifest))
        listed[variant] = sorted({plan.name for plan in plans})
        for name in sorted(before - {name for names in listed.values() for name in names}):
            (pictures / name).unlink(missing_ok=True)
        write_atomic(campaign / MANIFEST, as_json(_campaign_manifest(mail, listed)))
    except OSError as error:
        name = os.path.relpath(error.filename, out) if error.filename else "."
        message = "cannot be written" if name == "." else f"{name} cannot be written"
        raise Fault(f"{message}: {error.strerror}") from None


def _campaign_manifest(mail: Mail, listed: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    return {
        "handbill": __version__,
        "format": FORMAT,
        "campaign": mail.campaign.campaign,
        "variants": [{"id": variant, "pictures": list(names)} for variant, names in sorted(listed.items())],
    }


def _listed(campaign: Path) -> dict[str, list[str]]:
    """Which pictures each variant of an earlier run uses.

    From the campaign's manifest; when a run was cut off and left none, from the variants' own. A name that
    would lead out of the folder is none of ours.
    """
    data = _read(campaign / MANIFEST)
    variants = data.get("variants") if isinstance(data, dict) else None
    if not isinstance(variants, list):
        variants = []
        for path in sorted(campaign.glob(f"*/{MANIFEST}")):
            own = _read(path)
            files = own.get("pictures") if isinstance(own, dict) else None
            if isinstance(files, list):
                names = [one.get("file") for one in files if isinstance(one, dict)]
                variants.append({"id": path.parent.name, "pictures": names})
    listed: dict[str, list[str]] = {}
    for one in variants:
        if not (isinstance(one, dict) and _is_name(one.get("id")) and isinstance(one.get("pictures"), list)):
            continue
        if (campaign / one["id"] / MANIFEST).is_file():
            listed[one["id"]] = [name for name in one["pictures"] if _is_name(name)]
    return listed


def _read(path: Path) -> Any:
    try:
        return json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return None


def _is_name(value: Any) -> bool:
    return isinstance(value, str) and _NAME.fullmatch(value) is not None


def _real_folder(path: Path) -> None:
    if path.is_symlink():
        raise Fault(f"{path.name} is a link; output goes to real folders only", expected="a folder")
    path.mkdir(parents=True, exist_ok=True)
