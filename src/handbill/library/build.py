"""A library built for one brand and direction. Enters: blocks and a house style; leaves: a `Library`.

Building resolves styles and compiles templates; the result is kept per user, keyed by the content of every
file it came from and by versions, so that a second run reads it back in a few milliseconds.
"""

from __future__ import annotations

import marshal
import pickle
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from types import CodeType
from typing import TYPE_CHECKING, Any

from handbill.base.cache import Cache, seal, unseal
from handbill.base.frozen import dataclass
from handbill.base.source import Doc
from handbill.brand.style import HouseStyle
from handbill.library.block import Block
from handbill.library.find import PARTS, SHARED, Found, built_in
from handbill.models.kept import kept_as, plain_value

if TYPE_CHECKING:
    from handbill.models.brand import Brand

SHARED_PARTS = ("macros.yaml", "macros.html.j2", "macros.css", "macros.txt.j2")


@dataclass(frozen=True, slots=True)
class Library:
    """Everything that rendering needs of a brand's blocks."""

    house: HouseStyle
    blocks: Mapping[str, Block]
    tables: Mapping[str, Any]
    rules: Mapping[str, tuple[str, str]]
    codes: Mapping[str, CodeType]
    shared_words: Mapping[str, Mapping[str, str]]
    rtl: bool
    digest: str


def versions() -> str:
    """What a kept library depends on beside its blocks: the programs that made it."""
    import jinja2

    from handbill import __version__

    python = f"{sys.implementation.cache_tag} {sys.version_info[:3]}"
    return f"{__version__} {python} {jinja2.__version__} {kept_as()}"


def digest_of(found: Sequence[Found], *more: str) -> str:
    """One key for the content of all files of `found`, of the shared macros, and of whatever `more` says."""
    digest = sha256(versions().encode())
    for text in more:
        digest.update(text.encode())
    for name in SHARED_PARTS:
        digest.update((built_in() / SHARED / name).read_bytes())
    for one in found:
        digest.update(f"\0{one.name}\0{one.folder}\0".encode())
        for name in PARTS:
            try:
                digest.update(b"\0" + (one.folder / name).read_bytes())
            except OSError:
                digest.update(b"\0missing")
    return digest.hexdigest()


def build(
    found: Sequence[Found], brand: Brand, brand_doc: Doc, house: HouseStyle, *, rtl: bool, cache: Cache,
    brand_digest: str, root: Path, beside: Library | None = None,
) -> Library:  # fmt: skip
    """The library from the cache, or built and kept. Raises MistakesError with everything wrong in it.

    One built `beside` that of the other direction may serve the same mail: its rules hold the other's too,
    and no class means two things.
    """
    key = digest_of(found, brand_digest, "rtl" if rtl else "ltr", beside.digest if beside else "")
    kept = unseal(cache.get(f"library {key}"))
    if kept is not None:
        library = _thaw(kept, key)
        if library is not None:
            return library
    from handbill.library.assemble import assemble

    library = assemble(found, brand, brand_doc, house, rtl, key, root, beside.rules if beside else {})
    blocks = {name: replace(block, spec=plain_value(block.spec)) for name, block in library.blocks.items()}
    library = replace(library, blocks=blocks)
    cache.put(f"library {key}", seal(_freeze(library)))
    return library


def _freeze(library: Library) -> bytes:
    codes = marshal.dumps(dict(library.codes))
    rest = {name: getattr(library, name) for name in Library.__slots__ if name != "codes"}
    return pickle.dumps((codes, rest), protocol=5)


def _thaw(data: bytes, digest: str) -> Library | None:
    """The cache folder is private to the user and holds code anyway, so reading it back may build objects."""
    try:
        codes, rest = pickle.loads(data)
        library = Library(codes=marshal.loads(codes), **rest)
    except Exception:  # a damaged or foreign entry is a miss, whatever it breaks on
        return None
    return library if library.digest == digest else None
