"""Safe files. Enters: names from input and bytes to write; leaves: paths inside the workspace, whole files.

Inputs resolve inside the workspace and no step of them is a link; a file is written beside its target and
renamed in, so that a reader sees the old or the new one, never half.
"""

from __future__ import annotations

import os
import re
from pathlib import Path, PurePosixPath

from handbill.base.errors import Fault

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
