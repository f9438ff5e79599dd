"""What a picture file is. Enters: a path; leaves: a `Source` of facts, or a `Fault` saying what is wrong.

Facts are cached by content, so that a known file costs one read and one SHA-256.
"""

from __future__ import annotations

import json
import stat
from dataclasses import asdict, fields
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.base.frozen import dataclass

MAX_BYTES = 30_000_000
_FACTS = 2  # raise when the meaning of a fact changes

_ARCHIVES = (b"PK\x03\x04", b"PK\x05\x06", b"\x1f\x8b", b"7z\xbc\xaf\x27\x1c", b"Rar!", b"BZh", b"\xfd7zXZ")
_HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1")


@dataclass(frozen=True, slots=True)
class Facts:
    """What the bytes say. `width` and `height` are px as the picture is seen (EXIF orientation applied);
    `alpha`: some pixel is not opaque; `flat`: few colours in even areas, drawn rather than photographed."""

    width: int
    height: int
    alpha: bool
    animated: bool
    flat: bool
    kind: str


@dataclass(frozen=True, slots=True)
class Source(Facts):
    """A picture file: its facts, where it lies and the SHA-256 of its bytes in hex."""

    path: Path
    sha256: str


def inspect(path: Path, cache: Cache) -> Source:
    """Look at the picture file `path`.

    Raises `Fault` if it is missing, unreadable, empty, over 30 MB or 40 megapixels (the project's limits),
    damaged, or no picture that mail can be made from (SVG, PDF, HEIC, archives, animations other than GIF).
    """
    digest = _digest(path)
    key = f"picture facts {_FACTS} {digest}"
    facts = _recalled(cache.get(key))
    if facts is None:
        facts = _looked_at(path)
        cache.put(key, json.dumps(asdict(facts)).encode())
    return Source(
        **{field.name: getattr(facts, field.name) for field in fields(Facts)}, path=path, sha256=digest
    )


def source_bytes(source: Source) -> bytes:
    """The file's bytes; `Fault` if they are no longer those that were inspected."""
    data = _read(source.path)
    if sha256(data).hexdigest() != source.sha256:
        raise Fault(f"picture {source.path.name} changed while it was being used; compile again")
    return data


def _digest(path: Path) -> str:
    """The file's hash, taken once while its status stays the same."""
    try:
        status = path.stat()
    except OSError as error:
        raise _unreadable(path, error) from None
    if not stat.S_ISREG(status.st_mode):
        raise Fault(f"{path.name} is not a file", expected="a picture file")
    if not status.st_size:
        raise Fault(f"picture {path.name} is empty")
    if status.st_size > MAX_BYTES:
        size = status.st_size / 1_000_000
        raise Fault(f"picture {path.name} is {size:.1f} MB; the limit is {MAX_BYTES // 1_000_000} MB")
    return _hashed(path, status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns)


@lru_cache(maxsize=1024)
def _hashed(path: Path, *_status: int) -> str:
    return sha256(_read(path)).hexdigest()


def _read(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(MAX_BYTES + 1)
    except OSError as error:
        raise _unreadable(path, error) from None


def _unreadable(path: Path, error: OSError) -> Fault:
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return Fault(f"no picture file {path.name}")
    return Fault(f"picture {path.name} cannot be read: {error.strerror or error}")


def _recalled(data: bytes | None) -> Facts | None:
    if data is None:
        return None
    try:
        return Facts(**json.loads(data))
    except (ValueError, TypeError):  # not ours, or from a version with other facts
        return None


def _looked_at(path: Path) -> Facts:
    data = _read(path)
    _refuse_known(path.name, data)
    from handbill.pictures import pixels  # brings Pillow

    try:
        return pixels.look(data)
    except pixels.PictureError as error:
        raise Fault(f"picture {path.name} {error}") from None


def _refuse_known(name: str, data: bytes) -> None:
    """Name the common files that are no pictures for mail, rather than say that they cannot be read."""
    head = data[:2048].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if head.startswith(b"<") and b"<svg" in data[:65536].lower():
        raise Fault(f"{name} is an SVG: refused, readers do not show it", expected="export it as PNG")
    if head.startswith((b"<!doctype html", b"<html")):
        raise Fault(f"{name} is a web page, not a picture")
    if data.startswith(b"%PDF"):
        raise Fault(f"{name} is a PDF, not a picture", expected="export it as PNG or JPEG")
    if data.startswith(_ARCHIVES) or data[257:262] == b"ustar":
        raise Fault(f"{name} is an archive, not a picture", expected="the picture unpacked")
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS:
        raise Fault(f"{name} is a HEIC picture, which is not read", expected="export it as JPEG or PNG")
