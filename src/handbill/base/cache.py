"""The per-user cache. Enters: a content key and bytes; leaves: the same bytes later, or nothing.

An entry is written to a temporary file and renamed in, so that runs side by side never see half of one.
The folder is private (0700) and must belong to the user: entries hold compiled code (see `library`).
"""

from __future__ import annotations

import os
import stat
import sys
import tempfile
from functools import lru_cache
from hashlib import sha256
from pathlib import Path


def default_cache_dir() -> Path:
    """`$HANDBILL_CACHE`, else `handbill` under the XDG Base Directory cache home."""
    own = os.environ.get("HANDBILL_CACHE")
    if own:
        return Path(own)
    home = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    return Path(home) / "handbill"


def seal(data: bytes) -> bytes:
    """`data` with its digest before it: a reader of code or pickles may crash on half-written bytes."""
    return sha256(data).digest() + data


def unseal(entry: bytes | None) -> bytes | None:
    """What `seal` was given, or None for a missing or damaged entry."""
    if entry is None or sha256(entry[32:]).digest() != entry[:32]:
        return None
    return entry[32:]


@lru_cache(maxsize=1)
def code_stamp() -> str:
    """Changes with every edit of handbill's own code: what was kept by other code is not read back.

    Sizes and times of the modules, since their content would have to be read to be hashed.
    """
    package = Path(__file__).resolve().parent.parent
    digest = sha256()
    for folder in (package, *(one for one in sorted(package.iterdir()) if one.is_dir())):
        with os.scandir(folder) as entries:
            for entry in sorted(entries, key=lambda one: one.name):
                if entry.name.endswith(".py"):
                    status = entry.stat()
                    digest.update(f"{entry.name} {status.st_size} {status.st_mtime_ns};".encode())
    return digest.hexdigest()


class Cache:
    """Bytes by key. A cache that cannot be used safely is simply empty: nothing depends on it but speed."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder if folder is not None else default_cache_dir()
        self._usable: bool | None = None

    def get(self, key: str) -> bytes | None:
        """The bytes kept under `key`, or None."""
        if not self._ready():
            return None
        try:
            return self._file(key).read_bytes()
        except OSError:
            return None

    def path(self, key: str) -> Path | None:
        """The file that holds `key`'s bytes, or None; for copying without reading into memory."""
        if not self._ready():
            return None
        file = self._file(key)
        return file if file.is_file() else None

    def put(self, key: str, data: bytes) -> None:
        """Keep `data` under `key`; failing to (disk full, read-only home) is silent."""
        if not self._ready():
            return
        file = self._file(key)
        try:
            file.parent.mkdir(mode=0o700, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=file.parent)
            try:
                with os.fdopen(handle, "wb") as out:
                    out.write(data)
                os.replace(name, file)
            except BaseException:
                os.unlink(name)
                raise
        except OSError:
            return

    def _file(self, key: str) -> Path:
        digest = sha256(key.encode()).hexdigest()
        return self.folder / digest[:2] / digest[2:]

    def _ready(self) -> bool:
        if self._usable is None:
            self._usable = _private_folder(self.folder)
        return self._usable


def _private_folder(folder: Path) -> bool:
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        status = folder.lstat()
    except OSError:
        return False
    if not stat.S_ISDIR(status.st_mode):
        return False
    if sys.platform == "win32":  # the profile folder is private there; mode bits say nothing
        return True
    return status.st_uid == os.getuid() and not status.st_mode & 0o077
