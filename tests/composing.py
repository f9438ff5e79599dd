"""Stacks of blocks' samples. Enters: nodes of sections; leaves: the same with other words, whole mails."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from handbill.apps.samples import HEAD, folder, sample_sections, visible
from handbill.base.errors import MistakesError
from handbill.base.source import (
    Doc,
    Node,
    child,
    entries,
    is_mapping,
    items,
    make_mapping,
    make_scalar,
    make_sequence,
    parse_yaml,
    plain,
    put,
    scalar,
)
from handbill.library.spec import BlockSpec, FieldSpec
from handbill.loader import Loader
from handbill.models.limits import MAX_ALT, MAX_LABEL
from handbill.pictures.produce import produced
from handbill.pipeline import produce, renderer_for, resolve_doc
from handbill.render.render import Piece, Rendered, assemble, pieces
from handbill.resolve.mail import Mail
from handbill.resolve.shop import RELATIVE
from handbill.write import files
from handbill.write.store import Listed, Store

Specs = Mapping[str, BlockSpec]


@dataclass(frozen=True)
class Spot:
    """Where an author wrote something: the kind of place, its limit in characters, the way to it."""

    kind: str  # text, copy, label, alt, link
    most: int | None
    way: tuple[str | int, ...]
    items: int = 1  # how many show it: a section's button passed to its products


Change = Callable[[Spot, str], str]


def specs(loader: Loader, brand: str) -> dict[str, BlockSpec]:
    """block.yaml of every block that `brand` sees."""
    return {
        name: BlockSpec.model_validate(
            plain(parse_yaml((found.folder / "block.yaml").read_bytes(), name).root)
        )
        for name, found in visible(loader, brand).items()
    }


def every_sample(loader: Loader, brand: str) -> list[Node]:
    """The sections of every visible block's sample; the masthead first and the foot last, as in any mail."""
    found = visible(loader, brand)
    first, last = ("masthead", "hero"), ("footer-nav",)
    names = [*first, *(name for name in found if name not in first + last), *last]
    return [section for name in names for section in sample_sections(loader, found[name])]


def rewrite(section: Node, known: Specs, change: Change) -> Node:
    """The section with `change` applied to every text an author wrote in it, in the order of the file."""
    spec = known[scalar(child(section, "block")) or ""]
    return _fields(section, spec.fields, known, change, ())


def _fields(
    node: Node, fields: Mapping[str, FieldSpec], known: Specs, change: Change, way: tuple[str | int, ...]
) -> Node:
    for key, value in items(node):
        spec = fields.get(key.value)
        if spec is not None:
            many = 1
            if spec.passed_to:
                rows = entries(child(node, spec.passed_to))
                many = sum(1 for row in rows if not (is_mapping(row) and child(row, "button")))
            node = put(node, key.value, _value(value, spec, known, change, (*way, key.value), many), key)
    return node


def _value(
    value: Node, spec: FieldSpec, known: Specs, change: Change, way: tuple[str | int, ...], many: int
) -> Node:
    def changed(node: Node, kind: str, most: int | None, *end: str) -> Node:
        return make_scalar(change(Spot(kind, most, (*way, *end), many), node.value), node)

    if spec.type in ("text", "copy"):
        return changed(value, spec.type, spec.most)
    if spec.type in ("button", "link", "picture") and is_mapping(value):
        limits = {"label": MAX_LABEL if spec.type == "button" else None, "alt": MAX_ALT, "link": None}
        for key, inner in items(value):
            if key.value in limits:
                value = put(value, key.value, changed(inner, key.value, limits[key.value], key.value), key)
        return value
    if spec.type in ("list", "products", "reviews"):
        return make_sequence(
            [
                _fields(entry, spec.of, known, change, (*way, number)) if is_mapping(entry) else entry
                for number, entry in enumerate(entries(value))
            ],
            value,
        )
    if spec.type in ("product", "review") and is_mapping(value):
        return _fields(value, spec.of, known, change, way)
    if spec.type == "cells":
        return make_sequence([rewrite(entry, known, change) for entry in entries(value)], value)
    return value


def document(brand: str, sections: Iterable[Node], *, rtl: bool = False, name: str = "composed") -> Doc:
    """A campaign of these sections, with an offer that holds every kind of fact."""
    head = HEAD.format(brand=brand, direction="rtl" if rtl else "ltr").replace(
        "campaign: sample", f"campaign: {name}"
    )
    root = parse_yaml(head.encode(), f"{name}.yaml").root
    return Doc(
        f"{name}.yaml", put(root, "stack", make_sequence(list(sections), root), make_scalar("stack", root))
    )


def resolved(loader: Loader, doc: Doc) -> Mail:
    """The mail; the sample shop stands in for what the brand lacks. Raises MistakesError."""
    return resolve_doc(loader, doc, pictures=RELATIVE, samples=folder())


def rendered(mail: Mail) -> tuple[tuple[Piece, ...], Rendered]:
    """Sections and whole, unwritten. Raises MistakesError for a block that fails."""
    made, wrong = pieces(mail, renderer_for(mail))
    if wrong:
        raise MistakesError(wrong)
    return made, assemble(mail, made)


def write(loader: Loader, mail: Mail, out: Path) -> Path:
    """The mail's files and pictures below `out`; its folder.

    A mail that holds every block passes the limit of style that a shop's mail has, so that is not checked.
    """
    produce(mail, loader.cache)
    _made, whole = rendered(mail)
    built = files.build(mail, whole, loader.cache)
    store = Store(out, mail.campaign.campaign)
    store.stage(files.MAIN, built.files())
    for plan in mail.plans:
        store.picture(plan.name, produced(plan, loader.cache))
    store.commit([Listed(files.MAIN, tuple(plan.name for plan in mail.plans))], "", partial=False)
    store.close()
    return out / mail.campaign.campaign / files.MAIN


def mapping(pairs: Mapping[str, str], like: Node) -> Node:
    """A mapping of texts that stands where `like` stands."""
    return make_mapping(
        [(make_scalar(key, like), make_scalar(value, like)) for key, value in pairs.items()], like
    )
