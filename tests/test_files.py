"""Paths stay inside the workspace (POSIX.1 pathname resolution: `..`, links, limits); files appear whole."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from handbill.base.errors import Fault
from handbill.base.files import inside, write_atomic
from handbill.base.urls import base_url


def test_names_inside(tmp_path: Path) -> None:
    folder = tmp_path / "brands"
    assert inside(tmp_path, folder, "a/b.png") == folder / "a" / "b.png"
    assert inside(tmp_path, folder, "../shared.png") == tmp_path / "shared.png"
    assert inside(tmp_path, folder, "Bild ä.png").name == "Bild ä.png"


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("../x", "../x leaves the workspace"),
        ("a/../../../x", "a/../../../x leaves the workspace"),
        ("/etc/passwd", "/etc/passwd is an absolute path"),
        ("a\\b", "'a\\\\b' is not a file name"),
        ("a\0b", "'a\\x00b' is not a file name"),
        ("a\nb", "'a\\nb' is not a file name"),
        ("\ud800", "'\\ud800' is not a file name"),
        ("", "'' is not a file name"),
        ("x" * 300, "cannot be looked up: File name too long"),
    ],
)
def test_names_that_are_refused(tmp_path: Path, name: str, message: str) -> None:
    with pytest.raises(Fault) as caught:
        inside(tmp_path, tmp_path, name)
    assert message in caught.value.message


def test_links_are_refused_at_every_step(tmp_path: Path) -> None:
    root = tmp_path / "root"
    (root / "real").mkdir(parents=True)
    (tmp_path / "secret.png").write_text("x")
    (root / "link.png").symlink_to(tmp_path / "secret.png")
    (root / "folder").symlink_to(root / "real")
    for name in ("link.png", "folder/x.png"):
        with pytest.raises(Fault, match="passes through a link"):
            inside(root, root, name)


def test_a_failed_write_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "email.html"
    write_atomic(target, b"old")

    def full(*_paths: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(OSError, match="No space"):
        write_atomic(target, b"new")
    assert target.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["email.html"]


@pytest.mark.parametrize(
    "text",
    [
        "https://a.example/x y",
        "https://a.example/'",
        "https://a.example/?q",
        "https://a.example/\\",
        "ftp://a.example",
        "//a.example",
        "https://",
        "javascript:x",
    ],
)
def test_base_addresses_that_are_refused(text: str) -> None:
    with pytest.raises(Fault):
        base_url(text, "site")


def test_a_base_address_ends_in_a_slash() -> None:
    assert base_url("https://a.example/b", "site") == "https://a.example/b/"
