"""`--watch`: a run for each settled change, in a process with real edits; Ctrl-C ends it quietly."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from handbill.cli import watch
from handbill.cli.watch import scan

from .test_killed import heeds_ctrl_c

ONE = "  - block: copy\n    headline: One\n    copy: Words.\n"
PATIENCE = 180  # seconds; a run takes less than two, but on a busy machine


class Watching:
    """A `handbill compile --watch`, its lines as they come."""

    def __init__(self, root: Path, *arguments: str) -> None:
        command = [
            sys.executable,
            "-c",
            "from handbill.cli import main; main()",
            "compile",
            "--watch",
            *arguments,
        ]
        self.process = subprocess.Popen(
            command,
            cwd=root,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            preexec_fn=heeds_ctrl_c,
        )
        self.lines: queue.Queue[str] = queue.Queue()
        self.errors: queue.Queue[str] = queue.Queue()
        self.threads = [
            threading.Thread(target=self._read, args=pair, daemon=True)
            for pair in ((self.process.stdout, self.lines), (self.process.stderr, self.errors))
        ]
        for thread in self.threads:
            thread.start()

    @staticmethod
    def _read(stream: Any, into: queue.Queue[str]) -> None:
        for line in stream:
            into.put(line.rstrip("\n"))

    def line(self) -> str:
        return self.lines.get(timeout=PATIENCE)

    def stop(self) -> int:
        self.process.send_signal(signal.SIGINT)
        code = self.process.wait(PATIENCE)
        for thread in self.threads:
            thread.join(PATIENCE)
        return code

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        for thread in self.threads:
            thread.join(PATIENCE)
        for stream in (self.process.stdout, self.process.stderr):
            if stream is not None:
                stream.close()


@pytest.fixture
def watching(shop: Any) -> Iterator[Watching]:
    shop.campaign(ONE)
    made = Watching(shop.root, "campaigns/spring.yaml")
    yield made
    made.close()


def test_edits_are_compiled_as_they_come(shop: Any, watching: Watching) -> None:
    assert watching.line().startswith("compiled spring (")
    html = shop.root / "out" / "spring" / "main" / "email.html"
    before = html.read_bytes()
    shop.change("campaigns/spring.yaml", "headline: One", "headline: Changed words")
    assert watching.line().startswith("compiled spring (")
    assert b"Changed words" in html.read_bytes()
    # a mistake is told and the watch goes on
    shop.change("campaigns/spring.yaml", "headline:", "haedline:")
    assert watching.line() == "compiled nothing, 1 mistake; waiting for changes"
    error = watching.errors.get(timeout=PATIENCE)
    assert error.startswith("campaigns/spring.yaml:8:5: stack[0] copy, haedline: unknown field haedline")
    assert b"Changed words" in html.read_bytes()
    # a new file of the brand counts as well, and so does its going, though no mail shows it
    shop.campaign(ONE)
    assert watching.line().startswith("compiled spring (")
    assert html.read_bytes() == before
    extra = shop.put("brands/pellow/standing/extra.yaml", "block: copy\ncopy: X\n")
    assert watching.line() == "nothing changed; waiting for changes"
    extra.unlink()
    assert watching.line() == "nothing changed; waiting for changes"
    # what it wrote itself, hidden files and a touch of nothing start no run
    shop.put("out/spring/main/notes.txt", "x")
    shop.put("brands/.notes.swp", "x")
    with pytest.raises(queue.Empty):
        watching.lines.get(timeout=1.5)
    assert watching.stop() == 0
    assert watching.errors.empty()
    assert watching.lines.empty()


def test_data_comes_one_line_for_a_run(shop: Any) -> None:
    shop.campaign(ONE)
    made = Watching(shop.root, "--format", "json", "--out", "made", "campaigns/spring.yaml")
    try:
        assert made.line().startswith('{"mails": [{"campaign": "spring"')
        shop.put("made/other.txt", "x")  # its own output, wherever it lies
        with pytest.raises(queue.Empty):
            made.lines.get(timeout=1.0)
        assert made.stop() == 0
    finally:
        made.close()


def test_no_workspace_nothing_to_watch(tmp_path: Path) -> None:
    made = Watching(tmp_path, "nothing.yaml")
    try:
        assert made.process.wait(PATIENCE) == 2
        assert made.errors.get(timeout=PATIENCE).startswith("nothing.yaml: no such file")
    finally:
        made.close()


def test_a_scan_sees_files_and_leaves_out_what_it_is_told_to(tmp_path: Path) -> None:
    for name in ("a/b/c.yaml", "a/out/x.html", "a/.git/config", "z.css"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("x")
    (tmp_path / "a" / "loop").symlink_to(tmp_path)
    found = scan([tmp_path], [tmp_path / "a" / "out"])
    assert sorted(os.path.relpath(path, tmp_path) for path in found) == ["a/b/c.yaml", "z.css"]
    (tmp_path / "z.css").write_text("longer")
    assert scan([tmp_path], [tmp_path / "a" / "out"]) != found
    assert scan([tmp_path / "gone"], []) == {}


def test_files_may_go_while_they_are_looked_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a").mkdir()
    for number in range(5):
        (tmp_path / "a" / f"{number}.yaml").write_text("x")
    (tmp_path / "b").mkdir()
    real = os.scandir

    class Vanishing:
        """A folder whose files are deleted after they were listed."""

        def __init__(self, folder: str) -> None:
            self.entries = list(real(folder))
            for entry in self.entries:
                if entry.name.endswith((".yaml", "b")):
                    os.rmdir(entry.path) if entry.is_dir() else os.unlink(entry.path)

        def __enter__(self) -> Iterator[Any]:
            return iter(self.entries)

        def __exit__(self, *_: object) -> None: ...

    monkeypatch.setattr(watch.os, "scandir", Vanishing)
    assert scan([tmp_path], []) == {}
