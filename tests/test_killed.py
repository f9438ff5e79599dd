"""A run may end at any moment: what lies there is whole, and the next run makes of it what a clean one makes.

Against: SIGKILL and SIGINT as the system delivers them (signal(7)); 128 + 2 as shells report the latter.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import handbill

from .many import campaign, touched, tree

HERE = Path(__file__).parent
KILLS = 100
#: The command line with a pause in each variant: no run is over before a busy machine sends the signal.
SLOWED = """
import time
from handbill.batch.work import Bench
from handbill.cli import main

make = Bench.make
Bench.make = lambda bench, number: time.sleep(0.02) or make(bench, number)
main()
"""


def heeds_ctrl_c() -> None:
    """A shell lets what it starts in the background ignore Ctrl-C, and so do all that it starts."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def test_a_hundred_kills_leave_whole_variants(shop: Any, tmp_path: Path) -> None:
    for name, said in (
        ("old", {"arms": ("loud",)}),
        ("new", {"arms": ("late",), "headline": "Other", "picture": "rook.png"}),
    ):
        campaign(shop, **said)  # type: ignore[arg-type]
        subprocess.run(["cp", "-r", str(shop.root), str(tmp_path / name)], check=True)
        handbill.compile(tmp_path / name / "campaigns" / "spring.yaml")
    done = subprocess.run(
        [sys.executable, str(HERE / "killing.py"), str(tmp_path), str(KILLS)],
        capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "mixed" in done.stdout  # some kills fell between the first variant put in place and the last


def test_ctrl_c_says_so_in_one_line(shop: Any) -> None:
    path = campaign(shop, arms=tuple(f"arm{number}" for number in range(300)))
    before = tree(handbill.compile(path, variants=["arm=control,wording=plain"]).folder)
    for jobs in ("1", "2"):
        program = [sys.executable, "-c", SLOWED]
        running = subprocess.Popen(
            [*program, "compile", str(path), "--jobs", jobs],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
            preexec_fn=heeds_ctrl_c,
        )  # fmt: skip
        folder = shop.root / "out" / "spring"
        until = time.monotonic() + 60
        while len(list(folder.glob(".*.part/arm*"))) < 5 and time.monotonic() < until:
            assert running.poll() is None, running.communicate()
            time.sleep(0.005)
        os.killpg(running.pid, signal.SIGINT)  # as a terminal does: to every process of the group
        out, err = running.communicate(timeout=60)
        assert (running.returncode, out) == (130, "")
        # a line of its own comes first: terminals show ^C where the cursor is
        assert err.splitlines() == ["", "handbill: interrupted; what lies there is whole"]
        assert tree(folder) == before


def test_another_run_at_work_is_left_alone(shop: Any) -> None:
    from handbill.write.store import Store

    path = campaign(shop)
    first = Store(shop.root / "out", "spring")
    first.stage("arm=control,wording=plain", {"email.html": b"x"})
    made = handbill.compile(path)
    assert first.staging.is_dir()
    first.close()
    handbill.compile(campaign(shop, headline="Other"))
    assert not [name for name in tree(made.folder) if name.startswith(".")]


def test_an_executor_gives_the_same_bytes(shop: Any, tmp_path: Path) -> None:
    """One process, processes of this machine, threads, and a cluster's scheduler and workers (Dask)."""
    from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
    from multiprocessing import get_context

    from distributed import Client, LocalCluster

    path = campaign(shop, arms=("loud", "late", "long"))
    alone = handbill.compile(path, out=tmp_path / "alone")
    expected = tree(tmp_path / "alone")
    assert len(alone.variants) == 18
    made = [handbill.compile(path, out=tmp_path / "jobs", jobs=2)]
    assert tree(tmp_path / "jobs") == expected
    with ProcessPoolExecutor(2, get_context("spawn")) as pool:
        made.append(handbill.compile(path, out=tmp_path / "processes", executor=pool))
    assert tree(tmp_path / "processes") == expected
    with ThreadPoolExecutor(3) as threads:
        made.append(handbill.compile(path, out=tmp_path / "threads", executor=threads))
    assert tree(tmp_path / "threads") == expected
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
        client.get_executor() as executor,
    ):
        made.append(handbill.compile(path, out=tmp_path / "cluster", executor=executor))
        before = touched(tmp_path / "cluster")
        campaign(shop, arms=("loud", "late", "long"), headline="Other")
        handbill.compile(path, out=tmp_path / "alone")
        again = handbill.compile(path, out=tmp_path / "cluster", executor=executor)
    assert tree(tmp_path / "cluster") == tree(tmp_path / "alone")
    assert again.changed
    kept = [name for name, lay in touched(tmp_path / "cluster").items() if before.get(name) == lay]
    assert any("/pictures/" in name for name in kept)
    rows = [[(one.id, one.subject, one.html, one.eml) for one in result.variants] for result in made]
    assert rows == [[(one.id, one.subject, one.html, one.eml) for one in alone.variants]] * 4


def test_a_mistake_found_by_a_worker_has_its_place(shop: Any) -> None:
    path = campaign(shop, arms=("loud",))
    text = path.read_text("utf-8")
    path.write_text(text.replace("loud: {set: {top.headline: loud}}", "loud: {set: {top.headline: '${no}'}}"))
    for jobs in (1, 2):
        try:
            handbill.compile(path, jobs=jobs)
        except handbill.MistakesError as error:
            (mistake,) = error.mistakes
            assert mistake.place.file == "campaigns/spring.yaml"
            assert mistake.place.line > 20
    assert not (shop.root / "out").exists()
