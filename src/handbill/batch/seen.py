"""Whether anything changed since the last run. Enters: folders, options; leaves: a result kept, or none.

All that a compile may read counts: every file of the workspace save other campaigns and what was written,
every file of handbill itself, and Python. Files are known by size, times and number on the disk, not by
content: a file that only looks changed costs a run that writes nothing. What is kept lies in the user's
cache; without it nothing is skipped.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Collection, Iterable, Iterator
from hashlib import blake2b
from pathlib import Path

from handbill.base.cache import Cache, seal, unseal
from handbill.batch.result import CompiledCampaign, unchanged

_FORMAT = 2  # raise when what is kept, or what it means, changes
# folders of tools, whose files no campaign reads (a hidden file elsewhere counts)
SKIPPED = frozenset({".git", ".hg", ".svn", ".venv", "node_modules", "__pycache__"})


def inputs(root: Path, file: Path, out: Path, options: Iterable[str | None]) -> str:
    """A digest of whatever decides what compiling `file` of the workspace `root` into `out` gives.

    It is "", for unknown, where `out` is among the inputs.
    """
    aside = os.path.abspath(out)
    top = os.path.relpath(aside, root).split(os.sep)[0]
    if top in (os.curdir, "brands", "campaigns", "library") or _above(aside, root):
        return ""
    package = Path(__file__).resolve().parent.parent
    blocks = package.parent.parent / "blocks"  # of a source checkout; else they are inside the package
    digest = blake2b(f"{_FORMAT} {sys.version}\0{root}\0{file}\0{_site()}\0".encode(), digest_size=20)
    digest.update(json.dumps(list(options)).encode())
    for folder in (root, package, blocks):
        for line in _tree(str(folder), {aside, str(root / "out")}, str(root / "campaigns"), str(file)):
            digest.update(line)
    return digest.hexdigest()


def _above(folder: str, root: Path) -> bool:
    return str(root).startswith(folder.rstrip(os.sep) + os.sep)


def _site() -> str:
    """The folder of the packages that handbill stands on, and its time: it changes as they come and go."""
    import click

    folder = Path(click.__file__).parent.parent
    return f"{folder} {folder.stat().st_mtime_ns}"


def _tree(folder: str, skipped: Collection[str], campaigns: str, own: str) -> Iterator[bytes]:
    """A line for every file below `folder`, in a fixed order; links stand for themselves."""
    try:
        with os.scandir(folder) as found:
            entries = sorted(found, key=lambda entry: entry.name)
    except OSError:
        return
    for entry in entries:
        path = entry.path
        if entry.name in SKIPPED or path in skipped:
            continue
        try:
            if entry.is_dir(follow_symlinks=False):
                yield b"%s/" % os.fsencode(path)
                yield from _tree(path, skipped, campaigns, own)
            elif folder != campaigns or path == own or not entry.name.endswith(".yaml"):
                yield _line(entry)
        except OSError:
            continue


def _line(entry: os.DirEntry[str]) -> bytes:
    one = entry.stat(follow_symlinks=False)
    return b"%s %d %d %d %d %d;" % (
        os.fsencode(entry.path), one.st_mode, one.st_size, one.st_mtime_ns, one.st_ctime_ns, one.st_ino,
    )  # fmt: skip


def outputs(folder: Path) -> str:
    """A digest of a campaign's folder as it lies there, two levels deep."""
    digest = blake2b(digest_size=20)
    for line in _tree(str(folder), (), "", ""):
        digest.update(line)
    return digest.hexdigest()


class Last:
    """What is known of the last run that was like this one."""

    def __init__(
        self, cache: Cache, root: Path, file: Path, out: Path, options: Iterable[str | None]
    ) -> None:
        options = list(options)
        self.cache = cache
        self.key = f"compiled {_FORMAT} {json.dumps([str(root), str(file), str(out), *options])}"
        self.inputs = inputs(root, file, out, options)

    def result(self) -> CompiledCampaign | None:
        """What the last run came to, when neither what it read nor what it wrote has changed since."""
        data = unseal(self.cache.get(self.key)) if self.inputs else None
        if data is None:
            return None
        lines = iter(data.decode().splitlines())
        was, lay, folder = json.loads(next(lines))
        if was != self.inputs or lay != outputs(Path(folder)):
            return None
        return unchanged(lines)

    def keep(self, result: CompiledCampaign) -> None:
        """Remember this run."""
        if self.inputs:
            head = json.dumps([self.inputs, outputs(result.folder), str(result.folder)])
            self.cache.put(self.key, seal("".join([head, "\n", *result.lines()]).encode()))
