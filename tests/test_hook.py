"""Before a commit: the hook of docs/preflight.md in a real repository, and the definition for `pre-commit`.

Sources: githooks(5) for what a hook is; pre-commit's documented keys of .pre-commit-hooks.yaml.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path

import pytest
import yaml
from tests.breaking import workspace

ROOT = Path(__file__).parent.parent


def git(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    known = ("-c", "user.name=Maud", "-c", "user.email=maud@reader.example")
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return subprocess.run(
        ["git", *known, *arguments], cwd=folder, capture_output=True, text=True, check=False,
        env={**os.environ, "PATH": path, "GIT_CONFIG_GLOBAL": os.devnull, "NO_COLOR": "1"},
    )  # fmt: skip


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    """The demo's shops as a repository of their own, with the hook that the docs give."""
    shop = workspace(tmp_path)
    git(shop, "init", "--quiet")
    assert git(shop, "add", "--all").returncode == 0
    assert git(shop, "commit", "--quiet", "--message", "The shops").returncode == 0
    (script,) = re.findall(
        r"```sh\n(#!/bin/sh\n.*?)```", (ROOT / "docs/preflight.md").read_text("utf-8"), re.S
    )
    hook = shop / ".git/hooks/pre-commit"
    hook.parent.mkdir(exist_ok=True)
    hook.write_text(script, "utf-8")
    hook.chmod(0o755)
    return shop


def test_a_commit_of_a_sound_campaign_goes_through_and_of_a_broken_one_does_not(repository: Path) -> None:
    sale = repository / "campaigns/winter-last-call.yaml"
    text = sale.read_text("utf-8")
    for words, code in (("Shop all of the sale", 0), ("Click here", 1)):
        sale.write_text(text.replace("Shop the whole sale", words), "utf-8")
        git(repository, "add", "--all")
        done = git(repository, "commit", "--message", words)
        assert done.returncode == code, done.stdout + done.stderr
    assert "link-words" in done.stdout + done.stderr
    assert "campaigns/winter-last-call.yaml:40:" in done.stdout + done.stderr


def test_a_commit_without_campaigns_is_let_through(repository: Path) -> None:
    (repository / "notes.txt").write_text("nothing to see", "utf-8")
    git(repository, "add", "--all")
    done = git(repository, "commit", "--message", "Notes")
    assert (done.returncode, "readings" in done.stdout + done.stderr) == (0, False)


def test_the_definition_names_a_command_that_is_there_and_campaigns_alone() -> None:
    (hook,) = yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text("utf-8"))
    assert {"id", "name", "entry", "language", "files"} <= {*hook}
    command, *arguments = hook["entry"].split()
    assert [one.name for one in entry_points(group="console_scripts") if one.name == command] == ["handbill"]
    assert arguments == ["preflight"]
    wanted = ("campaigns/spring.yaml", "shops/campaigns/spring.yaml")
    others = (
        "brands/orrowby/brand.yaml",
        "campaigns/notes.txt",
        "my-campaigns/a.yaml",
        "campaigns/t/fr.yaml",
    )
    for path in (*wanted, *others):
        assert (re.search(hook["files"], path) is not None) == (path in wanted), path
