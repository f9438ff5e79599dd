"""Loading a catalogue. Enters: where the file is and its columns; leaves: a Catalogue, or MistakesError.

Checked rows are kept in the cache by content, so that an unchanged file is neither parsed nor checked again.
"""

from __future__ import annotations

import marshal
import stat
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from handbill import __version__
from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.files import inside
from handbill.catalogue.rows import Catalogue, Plain, ProductRow, ReviewRow, make_review, product_maker

if TYPE_CHECKING:
    from handbill.base.source import Node

MAX_BYTES = 20_000_000  # some 60,000 products; more is a mistake or an attack
_FORMATS = (".csv", ".tsv", ".json")
_ENTRY_FORMAT = 2


class Columns(Protocol):
    """A file and the header each field stands under: what `models.brand.Columns` is, without importing it."""

    @property
    def file(self) -> str: ...

    @property
    def columns(self) -> Mapping[str, str]: ...


def load_products(
    columns: Columns, folder: Path, root: Path, currency: str, cache: Cache | None, *, at: Node | None = None,
    swatches: Mapping[str, str] | None = None,
) -> Catalogue[ProductRow]:  # fmt: skip
    """The products of `columns.file`, which is relative to `folder` and stays inside `root`.

    `currency` is an ISO 4217 code. `at` is the `products` mapping of brand.yaml, for the places of mistakes
    in it, `swatches` the shop's own names of product colours. Raises MistakesError with everything wrong in
    the file.
    """
    label, rows = _load("product", columns, folder, root, currency, cache, at, swatches)
    return Catalogue(label, "product", rows, product_maker(currency))


def load_reviews(
    columns: Columns, folder: Path, root: Path, cache: Cache | None, *, at: Node | None = None
) -> Catalogue[ReviewRow]:
    """The reviews of `columns.file`; else as `load_products`."""
    label, rows = _load("review", columns, folder, root, "", cache, at)
    return Catalogue(label, "review", rows, make_review)


def _load(
    noun: str, columns: Columns, folder: Path, root: Path, currency: str, cache: Cache | None,
    at: Node | None, swatches: Mapping[str, str] | None = None,
) -> tuple[str, dict[str, Plain]]:  # fmt: skip
    label, raw = _read(noun, columns, folder, root, at)
    form = Path(label).suffix.lower()
    parts = (__version__, noun, form, currency, sorted(columns.columns.items()), sha256(raw).hexdigest())
    named = repr(sorted(swatches.items())) if swatches else ""
    key = f"catalogue {_ENTRY_FORMAT} {parts!r}{named}"
    rows = _thaw(cache.get(key)) if cache else None
    if rows is None:
        from handbill.catalogue.check import check

        rows = check(raw, label, noun, columns.columns, currency, at, swatches)
        if cache:
            data = marshal.dumps(rows, 4)
            cache.put(key, sha256(data).digest() + data)
    return label, rows


def _thaw(entry: bytes | None) -> dict[str, Plain] | None:
    """An entry's rows. The digest is there because marshal may crash on half-written bytes."""
    if entry is None or sha256(entry[32:]).digest() != entry[:32]:
        return None
    rows: dict[str, Plain] = marshal.loads(entry[32:])
    return rows


def _read(noun: str, columns: Columns, folder: Path, root: Path, at: Node | None) -> tuple[str, bytes]:
    label = columns.file
    try:
        path = inside(root, folder, columns.file)
        label = path.relative_to(root).as_posix()
        if path.suffix.lower() not in _FORMATS:
            raise Fault(f"{columns.file} is not a file of {noun}s", expected="a .csv, .tsv or .json file")
        return label, _bytes(path)
    except Fault as fault:
        where, way = Place(label), ""
        if at is not None:
            from handbill.base.source import find, place

            where, way = place(find(at, ("file",))[0]), f"{noun}s.file"
        raise MistakesError([fault.at(where, way)]) from None
    except OSError as error:
        raise MistakesError([Mistake(Place(label), "", f"cannot be read: {error.strerror}")]) from None


def _bytes(path: Path) -> bytes:
    try:
        status = path.stat()
    except FileNotFoundError:
        others = [other.name for other in path.parent.glob("*.*")] if path.parent.is_dir() else []
        raise Fault(f"no such file: {path.name}", nearest=nearest(path.name, sorted(others))) from None
    if not stat.S_ISREG(status.st_mode):  # reading a pipe would block for ever
        raise Fault(f"{path.name} is not a file")
    if status.st_size > MAX_BYTES:
        raise Fault(f"{path.name} has {status.st_size:,} bytes, more than the {MAX_BYTES:,} allowed")
    return path.read_bytes()
