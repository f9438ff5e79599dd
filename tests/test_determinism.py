"""Same input, same bytes: whatever the hash seed, the time zone, the cache and the current folder."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def tree(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def compiled(workspace: Path, out: Path, cwd: Path, **environment: str) -> dict[str, bytes]:
    campaigns = [os.path.relpath(path, cwd) for path in sorted((workspace / "campaigns").glob("*.yaml"))]
    assert campaigns
    done = subprocess.run(
        [sys.executable, "-c", "from handbill.cli import main; main()", "compile", *campaigns, "--out", out],
        cwd=cwd, env={**os.environ, **environment}, capture_output=True, text=True, timeout=600, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return tree(out)


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("copy") / "demo"
    shutil.copytree(ROOT / "demo", folder, ignore=shutil.ignore_patterns("out", "art"))
    return folder


def test_bytes_do_not_depend_on_the_run(workspace: Path, tmp_path: Path) -> None:
    cache = str(tmp_path / "cache")
    cold = compiled(
        workspace, tmp_path / "cold", ROOT, PYTHONHASHSEED="1", TZ="Pacific/Kiritimati", HANDBILL_CACHE=cache
    )
    warm = compiled(
        workspace,
        tmp_path / "warm",
        tmp_path,
        PYTHONHASHSEED="77",
        TZ="America/St_Johns",
        HANDBILL_CACHE=cache,
    )
    assert {name for name in cold if cold[name] != warm.get(name)} == set()
    assert cold.keys() == warm.keys()
    assert {Path(name).name for name in cold} >= {"email.html", "email.txt", "email.eml", "manifest.json"}


def test_bytes_do_not_depend_on_where_the_workspace_lies(workspace: Path, tmp_path: Path) -> None:
    moved = tmp_path / "elsewhere" / "shops"
    shutil.copytree(workspace, moved)
    first = compiled(workspace, tmp_path / "a", workspace)
    assert compiled(moved, tmp_path / "b", moved / "campaigns") == first


def test_a_second_run_over_the_first_changes_nothing(workspace: Path, tmp_path: Path) -> None:
    first = compiled(workspace, tmp_path / "out", ROOT)
    assert compiled(workspace, tmp_path / "out", ROOT) == first
