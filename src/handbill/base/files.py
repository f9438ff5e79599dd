"""Safe files. Enters: names from input and bytes to write; leaves: paths inside the workspace, whole files.

Inputs resolve inside the workspace and no step of them is a link; a file is written beside its target and
renamed in, so that a reader sees the old or the new one, never half.
"""

from __future__ import annotations

import os
import re
import stat
import sys
from collections.abc import Callable
from pathlib import Path, PurePosixPath

from handbill.base.errors import Fault

MARK = "handbill.yaml"  # the file that makes a folder a workspace
_ODD = re.compile("[\x00-\x1f\x7f\ud800-\udfff]")  # control characters, and what no file system encodes


def inside(root: Path, folder: Path, name: str) -> Path:
    """`name` (forward slashes) below `folder`, refused when it leaves `root` or passes through a link.

    Raises Fault; does not ask whether the file exists.
    """
    pure = PurePosixPath(name)
    if not name or "\\" in name or _ODD.search(name):
        raise Fault(f"{name!r} is not a file name", expected="a path with forward slashes")
    if pure.is_absolute():
        raise Fault(f"{name} is an absolute path", expected="a path inside the workspace")
    path = Path(os.path.normpath(folder / pure))
    if not path.is_relative_to(root):
        raise Fault(f"{name} leaves the workspace", expected="a path inside the workspace")
    step = root
    for part in path.relative_to(root).parts:
        step = step / part
        try:
            linked = step.is_symlink()
        except OSError as error:
            raise Fault(f"{name} cannot be looked up: {error.strerror}") from None
        if linked:
            raise Fault(
                f"{name} passes through a link ({step.relative_to(root)})", expected="a real file or folder"
            )
    return path


def find_root(start: Path) -> Path | None:
    """The nearest folder at or above `start` that holds handbill.yaml."""
    here = start if start.is_dir() else start.parent
    for folder in (here, *here.parents):
        if (folder / MARK).is_file():
            return folder
    return None


def write_atomic(path: Path, data: bytes) -> None:
    """Write `data` to `path` by way of a temporary file in the same folder."""
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with open(temporary, "wb") as out:
            out.write(data)
        os.replace(temporary, path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def read_real(path: Path | str) -> bytes | None:
    """The bytes of a plain file; None where there is none, or a link or a pipe stands in its place."""
    try:
        handle = os.open(path, _READ)
    except OSError:
        return None
    try:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            return None
        data = os.read(handle, status.st_size + 1)
        return data if len(data) == status.st_size else None
    except OSError:
        return None
    finally:
        os.close(handle)


# a link is not followed, a pipe does not block
_READ = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def hold(folder: Path) -> Callable[[], None] | None:
    """Mark `folder` as in use by this process until the function returned is called, or the process ends.

    None when another process holds it. Where the system has no such locks (flock(2)), nothing is marked.
    """
    try:
        import fcntl
    except ImportError:
        return lambda: None
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        return None
    except OSError:  # a file system without locks
        pass
    return lambda: os.close(handle)


def exchange(one: Path, other: Path) -> None:
    """Let two folders trade names: in one step on Linux (renameat2(2)), elsewhere in three renames."""
    if sys.platform == "linux" and _traded(one, other):
        return
    aside = one.with_name(one.name + ".old")
    os.rename(other, aside)
    os.rename(one, other)
    os.rename(aside, one)


def _traded(one: Path, other: Path) -> bool:
    import ctypes

    here, trade = -100, 2  # AT_FDCWD, RENAME_EXCHANGE of <linux/fs.h>
    try:
        call = ctypes.CDLL(None).renameat2
    except (OSError, AttributeError):  # a C library that does not know it
        return False
    return bool(call(here, os.fsencode(one), here, os.fsencode(other), trade) == 0)
