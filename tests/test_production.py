"""Pictures made side by side: counted as they come, whole whatever happens, the same whoever is first.

Against: SIGKILL as the system delivers it (signal(7)); a build that nothing disturbed.
"""

from __future__ import annotations

import io
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from threading import current_thread
from typing import Any

from PIL import Image

from handbill.base.cache import Cache
from handbill.batch.how import How
from handbill.batch.run import compile_campaign
from handbill.loader import Loader
from handbill.pictures import pixels

from .many import tree

PICTURES = 4
KILLS = 5


def photograph(seed: int) -> bytes:
    """Noise that takes a JPEG encoder some time."""
    rough = random.Random(seed).randbytes(90 * 60 * 3)
    out = io.BytesIO()
    Image.frombytes("RGB", (90, 60), rough).resize((900, 600), Image.Resampling.BICUBIC).save(out, "JPEG")
    return out.getvalue()


def campaign(shop: Any) -> Path:
    stack = ""
    for number in range(PICTURES):
        shop.put(f"brands/pellow/pictures/p{number}.jpg", photograph(number))
        asked = f"{{file: p{number}.jpg, alt: Noise, shade: {{strength: 0.{number}1}}}}"
        stack += f"  - block: picture\n    picture: {asked}\n"
    path: Path = shop.campaign(stack)
    return path


def test_each_picture_is_counted_once_it_is_there(shop: Any, tmp_path: Path) -> None:
    path, told = campaign(shop), []
    cache = Cache(tmp_path / "cache")
    compile_campaign(
        Loader(shop.root, cache), path, tmp_path / "out", How(),
        drawn=lambda done, total: told.append((done, total)),
    )  # fmt: skip
    total = told[0][1]
    assert total > PICTURES
    assert sorted(told) == [(number, total) for number in range(1, total + 1)]
    told.clear()
    compile_campaign(
        Loader(shop.root, cache), path, tmp_path / "again", How(),
        drawn=lambda done, total: told.append((done, total)),
    )  # fmt: skip
    assert told == []
    assert tree(tmp_path / "again") == tree(tmp_path / "out")


def test_pictures_are_made_side_by_side(shop: Any, tmp_path: Path, monkeypatch: Any) -> None:
    """Each of two threads waits until the other is at work too."""
    from threading import Barrier

    both, threads, make = Barrier(2, timeout=60), set[str](), pixels.make
    monkeypatch.setattr(os, "cpu_count", lambda: 2)

    def meeting(*args: Any) -> bytes:
        if current_thread().name not in threads:
            threads.add(current_thread().name)
            both.wait()
        return make(*args)

    monkeypatch.setattr(pixels, "make", meeting)
    compile_campaign(Loader(shop.root, Cache(tmp_path / "cache")), campaign(shop), tmp_path / "out", How())
    assert len(threads) == 2


def entries(cache: Path) -> dict[str, bytes]:
    """What a cache would hand out: files under a digest's name; others are on their way."""
    return {
        path.relative_to(cache).as_posix(): path.read_bytes()
        for path in cache.glob("??/*") if len(path.name) == 62
    }  # fmt: skip


def test_a_run_killed_among_its_pictures_leaves_none_that_is_broken(shop: Any, tmp_path: Path) -> None:
    path = campaign(shop)
    program = [sys.executable, "-c", "from handbill.cli import main; main()", "compile", str(path), "--out"]
    clean, cut = tmp_path / "clean", tmp_path / "cut"

    def begin(cache: Path, out: Path) -> subprocess.Popen[bytes]:
        here = {**os.environ, "HANDBILL_CACHE": str(cache)}
        return subprocess.Popen([*program, str(out)], env=here, stdout=subprocess.DEVNULL)

    start = time.monotonic()
    assert begin(clean / "cache", clean / "out").wait(120) == 0
    took = time.monotonic() - start
    whole = entries(clean / "cache")
    killed = 0
    for number in range(KILLS):
        running = begin(cut / "cache", cut / "out")
        time.sleep(took * (number + 2) / (KILLS + 2))
        running.send_signal(signal.SIGKILL)
        killed += running.wait(60) == -signal.SIGKILL
        for name, data in entries(cut / "cache").items():
            if name in whole and data[:2] in (b"\xff\xd8", b"\x89P"):  # JPEG, PNG
                assert data == whole[name]
        for path_ in (cut / "out").glob("spring/pictures/*"):
            assert path_.read_bytes() == (clean / "out/spring/pictures" / path_.name).read_bytes()
    assert killed >= 2  # later runs find more and more done, and may end before they are killed
    assert begin(cut / "cache", cut / "out").wait(120) == 0
    assert tree(cut / "out") == tree(clean / "out")
