"""A campaign's folder under out/. Enters: files of variants; leaves: each one's folder, whole.

Everything is first put into a hidden folder beside the variants: what changed is written there, what did not
is linked, so that it stays the same file. At the end each folder is renamed into place (rename(2) is atomic).
A run that is killed leaves whole variants, and its hidden folder to the next run. Only files that a manifest
lists are ever deleted.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeGuard

from handbill import __version__
from handbill.base.errors import Fault
from handbill.base.files import exchange, hold, read_real
from handbill.base.frozen import dataclass
from handbill.write.files import FORMAT, MANIFEST, json_lines

PICTURES = "pictures"
FILES = ("email.html", "email.txt", "email.eml", MANIFEST)
_PART = ".part"
_BINARY = getattr(os, "O_BINARY", 0)  # Windows would write other line ends
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._=,+-]*")


@dataclass(frozen=True, slots=True)
class Listed:
    """A variant as the campaign's manifest lists it; `scope` says which runs it belongs to."""

    id: str
    pictures: tuple[str, ...]
    scope: str = ""


@dataclass(frozen=True, slots=True)
class Changes:
    """What a run did: variants written and removed, and whether any file at all was touched."""

    written: int
    removed: tuple[str, ...]
    any: bool


def stage(folder: Path, staging: Path, files: Mapping[str, bytes]) -> bool:
    """Put a variant whose folder is `folder` into `staging` unless it lies there byte by byte already.

    Says whether it did. Raises OSError.
    """
    # plain names rather than paths: building those would cost as much as half the writing
    old, new = str(folder), str(staging)
    there = os.path.lexists(old)
    same = [name for name, data in files.items() if read_real(f"{old}/{name}") == data] if there else []
    if len(same) == len(files):
        return False
    os.mkdir(new)
    for name, data in files.items():
        if name not in same or not _linked(f"{old}/{name}", f"{new}/{name}"):
            write(f"{new}/{name}", data)
    return True


def write(path: str, data: bytes) -> None:
    """A new file. Raises OSError that names it."""
    # straight to the system: a file object would ask it four things more
    try:
        out = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | _BINARY, 0o666)
        try:
            left = memoryview(data)
            while left:
                left = left[os.write(out, left) :]
        finally:
            os.close(out)
    except OSError as error:  # a full disk does not say which file it could not take
        raise OSError(error.errno, error.strerror, path) from None


def _linked(old: str, new: str) -> bool:
    try:
        os.link(old, new, follow_symlinks=False)
    except OSError:
        try:
            shutil.copy2(old, new, follow_symlinks=False)  # a file system without hard links
        except OSError:
            return False
    return True


class Tray:
    """Where a run puts by what it makes: `folder` is the campaign's, `staging` the hidden one in it."""

    def __init__(self, folder: Path, staging: Path) -> None:
        self.folder, self.staging = folder, staging

    def stage(self, variant: str, files: Mapping[str, bytes]) -> bool:
        """Put a variant by unless it is there already; says whether it did. Raises Fault."""
        with _Faults(self.folder.parent):
            if (self.folder / variant).is_symlink():
                raise _link(variant)
            return stage(self.folder / variant, self.staging / variant, files)

    def picture(self, name: str, data: bytes) -> bool:
        """Put a picture by unless it is there already; says whether it did. Raises Fault."""
        with _Faults(self.folder.parent):
            if read_real(self.folder / PICTURES / name) == data:
                return False
            (self.staging / PICTURES).mkdir(exist_ok=True)
            write(str(self.staging / PICTURES / name), data)
            return True


class Store(Tray):
    """The folder of one campaign while a run writes it. Call `close` when done, whatever happened."""

    def __init__(self, out: Path, campaign: str, source: str = "") -> None:
        """`source` is the campaign's file, in its workspace. Raises Fault when the folder cannot be used."""
        folder = out / campaign
        with _Faults(out):
            self._fresh = [one for one in (out, folder, folder / PICTURES) if _real_folder(one)]
            super().__init__(folder, Path(tempfile.mkdtemp(prefix=".", suffix=_PART, dir=folder)))
            self._hold = hold(self.staging)
            self._left: list[Path] = []
            self.listed = self._read_listed()
            self.source, self.source_before = source, _source(folder / MANIFEST)

    # -- in its place

    def commit(self, variants: Sequence[Listed], scope: str, partial: bool) -> Changes:
        """Everything put by into its place; what no run of this `scope` makes any more is removed.

        A `partial` run removes nothing. Raises Fault.
        """
        with _Faults(self.folder.parent):
            return self._commit(variants, scope, partial)

    def _commit(self, variants: Sequence[Listed], scope: str, partial: bool) -> Changes:
        made = {one.id for one in variants}
        gone = [
            one for one in self.listed.values() if one.id not in made and not partial and one.scope == scope
        ]
        leaving = {one.id for one in gone}
        others = [one for one in self.listed.values() if one.id not in made and one.id not in leaving]
        now = [*variants, *others]
        wanted = {name for one in now for name in one.pictures}
        stale = {name for one in self.listed.values() for name in one.pictures} - wanted
        manifest = self.staging / MANIFEST
        with open(manifest, "w", encoding="utf-8", newline="\n") as out:
            out.writelines(json_lines(_manifest(self.folder.name, self.source, now)))
            out.write("\n")
        same = _same(manifest, self.folder / MANIFEST)
        staged = [entry.name for entry in os.scandir(self.staging) if entry.name not in (MANIFEST, PICTURES)]
        if not same:
            (self.folder / MANIFEST).unlink(missing_ok=True)
        fresh = 0
        for name in _names(self.staging / PICTURES):
            os.replace(self.staging / PICTURES / name, self.folder / PICTURES / name)
            fresh += 1
        for name in staged:
            self._place(name)
        for one in gone:
            self._remove(one.id)
        if not same:
            os.replace(manifest, self.folder / MANIFEST)
        for name in sorted(stale):
            (self.folder / PICTURES / name).unlink(missing_ok=True)
        for left in self._left:
            _clear_run(left, self.folder)
        removed = tuple(one.id for one in gone)
        self._fresh = []
        return Changes(len(staged), removed, bool(staged or removed or fresh or stale or not same))

    def _place(self, name: str) -> None:
        new, place = self.staging / name, self.folder / name
        try:
            os.rename(new, place)  # there is none yet, or an empty one
        except OSError:
            exchange(new, place)
            _clear(new, place)

    def _remove(self, name: str) -> None:
        """A folder goes in one step, and only what is ours stays gone."""
        place, old = self.folder / name, self.staging / name
        if place.is_dir() and not place.is_symlink():
            os.rename(place, old)
            _clear(old, place)

    def close(self) -> None:
        """Takes the hidden folder away, and after a run that put nothing in its place all it had made."""
        _clear_run(self.staging, self.folder)
        for one in reversed(self._fresh):
            try:
                one.rmdir()
            except OSError:  # something lies in it
                break
        if self._hold is not None:
            self._hold()

    # -- what is there

    def _read_listed(self) -> dict[str, Listed]:
        """Variants of earlier runs: from the manifest, from those that a killed run left, else their own."""
        listed: dict[str, Listed] = {}
        for path in sorted(self.folder.glob(f".*{_PART}")):
            if path != self.staging and path.is_dir() and not path.is_symlink():
                release = hold(path)
                if release is None:
                    continue  # another run is at work
                release()
                listed.update(_listed(path / MANIFEST))
                self._left.append(path)
        before = _listed(self.folder / MANIFEST)
        listed.update({name: one for name, one in before.items() if name not in listed})
        if not before and not listed:
            for path in sorted(self.folder.glob(f"*/{MANIFEST}")):
                own = _json(path)
                if isinstance(own, dict) and own.get("campaign") == self.folder.name:
                    listed[path.parent.name] = _of_variant(path.parent.name, own)
        for left in self._left:  # a folder that was being replaced when its run was killed
            for name in _names(left):
                if name in listed and not (self.folder / name).exists() and _whole(left / name):
                    os.rename(left / name, self.folder / name)
        return {name: one for name, one in listed.items() if (self.folder / name / MANIFEST).is_file()}


class _Faults:
    """Turns what the system says into a Fault that names the file as seen from `out`."""

    def __init__(self, out: Path) -> None:
        self.out = out

    def __enter__(self) -> None: ...

    def __exit__(self, kind: Any, error: BaseException | None, trace: Any) -> None:
        if isinstance(error, OSError):
            name = os.path.relpath(error.filename, self.out) if error.filename else "."
            message = "cannot be written" if name == "." else f"{name} cannot be written"
            raise Fault(f"{message}: {error.strerror}") from None


def _manifest(campaign: str, source: str, variants: Iterable[Listed]) -> Iterator[tuple[str, Any]]:
    yield "handbill", __version__
    yield "format", FORMAT
    yield "campaign", campaign
    if source:
        yield "source", source
    ordered = sorted(variants, key=lambda one: one.id)
    yield (
        "variants",
        (
            {"id": one.id, **({"scope": one.scope} if one.scope else {}), "pictures": list(one.pictures)}
            for one in ordered
        ),
    )


def _source(path: Path) -> str:
    """The file that a campaign's manifest was made from, by lines as for `_listed`; "" where it says none."""
    try:
        with open(path, encoding="utf-8") as lines:
            for line in lines:
                if line.startswith('  "source": '):
                    value = json.loads(line.partition(":")[2].strip().rstrip(","))
                    return value if isinstance(value, str) else ""
                if line.startswith('  "variants": '):
                    break
    except (OSError, ValueError):
        pass
    return ""


def _listed(path: Path) -> dict[str, Listed]:
    """What a campaign's manifest lists. A name that would lead out of the folder is none of ours.

    Read by lines, as it was written: a whole tree of ten thousand variants would take tens of megabytes.
    """
    found: dict[str, Listed] = {}
    known: dict[Any, Any] = {}  # most variants list the same pictures
    for one in _variant_lines(path) or _variants(_json(path)):
        if isinstance(one, dict) and _is_name(one.get("id")) and isinstance(one.get("pictures"), list):
            names = [known.setdefault(name, name) for name in one["pictures"] if _is_name(name)]
            pictures, scope = tuple(names), one.get("scope")
            pictures = known.setdefault(pictures, pictures)
            found[one["id"]] = Listed(one["id"], pictures, scope if isinstance(scope, str) else "")
    return found


def _variant_lines(path: Path) -> Iterator[Any] | None:
    """Each variant of a manifest with one on a line; None for any other."""
    try:
        with open(path, encoding="utf-8") as lines:
            if not any(line.startswith('  "variants": [') for line in lines):
                return None
    except (OSError, ValueError):
        return None
    return _lines(path)


def _lines(path: Path) -> Iterator[Any]:
    try:
        with open(path, encoding="utf-8") as lines:
            for line in lines:
                if line.startswith('    {"id": '):
                    yield json.loads(line.rstrip(",\n"))
    except (OSError, ValueError, RecursionError):
        return


def _variants(data: Any) -> list[Any]:
    variants = data.get("variants") if isinstance(data, dict) else None
    return variants if isinstance(variants, list) else []


def _of_variant(name: str, own: dict[str, Any]) -> Listed:
    """A variant by its own manifest."""
    pictures, scope = own.get("pictures"), own.get("scope")
    files = (
        [one.get("file") for one in pictures if isinstance(one, dict)] if isinstance(pictures, list) else []
    )
    return Listed(name, tuple(filter(_is_name, files)), scope if isinstance(scope, str) else "")


def _json(path: Path) -> Any:
    try:
        return json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return None


def _is_name(value: Any) -> TypeGuard[str]:
    return isinstance(value, str) and _NAME.fullmatch(value) is not None


def _names(folder: Path) -> list[str]:
    try:
        return sorted(os.listdir(folder))
    except OSError:
        return []


def _same(one: Path, other: Path) -> bool:
    return read_real(other) == one.read_bytes()


def _whole(folder: Path) -> bool:
    return not folder.is_symlink() and all((folder / name).is_file() for name in FILES)


def _clear(folder: Path, place: Path) -> None:
    """A variant's old folder goes; what else lies in it moves to `place`."""
    for name in _names(folder):
        if name in FILES:
            (folder / name).unlink()
        else:
            place.mkdir(exist_ok=True)
            if not os.path.lexists(place / name):
                os.rename(folder / name, place / name)
    if not _names(folder):
        folder.rmdir()


def _clear_run(staging: Path, campaign: Path) -> None:
    """A run's hidden folder goes, save what is not ours and has nowhere to go."""
    try:
        for name in _names(staging):
            path = staging / name
            if name == PICTURES:
                shutil.rmtree(path, ignore_errors=True)
            elif path.is_dir() and not path.is_symlink():
                _clear(path, campaign / name)
            else:
                path.unlink()
        staging.rmdir()
    except OSError:
        return


def _link(name: str) -> Fault:
    return Fault(f"{name} is a link; output goes to real folders only", expected="a folder")


def _real_folder(path: Path) -> bool:
    """Whether there was no such folder; there is now. Raises Fault for a link."""
    if path.is_symlink():
        raise _link(path.name)
    fresh = not path.exists()
    path.mkdir(parents=True, exist_ok=True)
    return fresh
