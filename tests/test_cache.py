"""The per-user cache: private (XDG Base Directory, 0700), whole entries or none, safe side by side."""

from __future__ import annotations

import os
import threading
from hashlib import sha256
from pathlib import Path

import pytest

from handbill.base.cache import Cache, default_cache_dir, seal, unseal


def test_what_is_put_comes_back(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "c")
    assert cache.get("k") is None
    cache.put("k", b"data")
    assert (cache.get("k"), Cache(tmp_path / "c").get("k")) == (b"data", b"data")
    assert (tmp_path / "c").stat().st_mode & 0o777 == 0o700
    kept = cache.path("k")
    assert kept is not None
    assert kept.stat().st_mode & 0o077 == 0
    assert kept.parent.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("mode", [0o755, 0o777, 0o710, 0o701])
def test_a_folder_that_others_reach_is_not_used(tmp_path: Path, mode: int) -> None:
    folder = tmp_path / "c"
    folder.mkdir()
    folder.chmod(mode)
    cache = Cache(folder)
    cache.put("k", b"data")
    assert cache.get("k") is None
    assert list(folder.iterdir()) == []


def test_a_linked_folder_is_not_used(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir(mode=0o700)
    (tmp_path / "link").symlink_to(tmp_path / "real")
    cache = Cache(tmp_path / "link")
    cache.put("k", b"data")
    assert cache.get("k") is None
    assert list((tmp_path / "real").iterdir()) == []


def test_a_folder_of_another_user_is_not_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    uid = os.getuid()
    monkeypatch.setattr(os, "getuid", lambda: uid + 1)
    cache = Cache(tmp_path / "c")
    cache.put("k", b"data")
    assert cache.get("k") is None


def test_a_file_in_its_place_is_not_used(tmp_path: Path) -> None:
    (tmp_path / "c").write_text("x")
    cache = Cache(tmp_path / "c")
    cache.put("k", b"data")
    assert cache.get("k") is None


def test_many_writers_and_readers_see_whole_entries(tmp_path: Path) -> None:
    entries = [bytes([number]) * 200_000 for number in range(4)]
    torn: list[bytes] = []

    def work(data: bytes) -> None:
        cache = Cache(tmp_path / "c")
        for _ in range(20):
            cache.put("k", data)
            found = cache.get("k")
            if found not in entries:
                torn.append(found or b"")

    threads = [threading.Thread(target=work, args=(data,)) for data in entries]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert torn == []
    assert len([path for path in (tmp_path / "c").rglob("*") if path.is_file()]) == 1


def test_a_failed_write_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_paths: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        Cache(tmp_path / "c").put("k", b"data")
    assert [path for path in (tmp_path / "c").rglob("*") if path.is_file()] == []


def test_a_seal_shows_damage() -> None:
    sealed = seal(b"code")
    assert sealed[:32] == sha256(b"code").digest()
    assert unseal(sealed) == b"code"
    for damaged in (None, b"", sealed[:-1], sealed + b"x", sealed[:40][::-1]):
        assert unseal(damaged) is None


def test_where_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("HANDBILL_CACHE", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", "/x")
    assert default_cache_dir() == Path("/x/handbill")
    monkeypatch.setenv("XDG_CACHE_HOME", "")
    monkeypatch.setenv("HOME", "/h")
    assert default_cache_dir() == Path("/h/.cache/handbill")
