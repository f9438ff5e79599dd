"""The command as a user runs it: exit codes, one line for each mistake, data on request."""

from __future__ import annotations

import json
import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from handbill.cli import progress as progress_module
from handbill.cli.main import COMMANDS, cli, main
from handbill.cli.progress import Progress

ONE = "  - block: copy\n    headline: One\n    copy: Words.\n"


def run(*arguments: object, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from handbill.cli import main; main()", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, cwd=cwd, timeout=60, check=False)


def one_line(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    """What stands on stderr when a use is wrong: one line, exit code 2, nothing on stdout."""
    monkeypatch.setattr(sys, "argv", ["handbill", *map(str, arguments)])
    with pytest.raises(SystemExit) as left:
        main()
    out, err = capsys.readouterr()
    assert left.value.code == 2
    assert out == ""
    assert err.count("\n") == 1, err
    return err.rstrip("\n")


def test_help_is_short_and_names_every_command() -> None:
    done = run("--help")
    assert done.returncode == 0
    assert len(done.stdout.splitlines()) < 24
    for name in ("compile", "blocks", "schema"):
        assert f"\n  {name}" in done.stdout
        assert run(name, "--help").returncode == 0
    assert run("--version").stdout.startswith("handbill, version ")


def test_nothing_asked_shows_the_help() -> None:
    done = run()
    assert done.returncode == 2
    assert "Commands:" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["compil", "x"], "handbill: no command compil; nearest: compile"),
        (["zzz"], "handbill: no command zzz; expected one of " + ", ".join(COMMANDS)),
        (["compile", "x", "--ot", "d"], "handbill compile: no option --ot; nearest: --out"),
        (["compile"], "handbill compile: FILE... is missing"),
        (["compile", "x", "--out"], "handbill: Option '--out' requires an argument."),
        (
            ["compile", "x", "--pictures", "bas"],
            "--pictures: 'bas' is not a choice; expected one of base, cid, relative; nearest: base",
        ),
        (
            ["compile", "x", "--jobs", "0"],
            "handbill compile: --jobs: 0 is not a choice; expected a whole number from 1 to 256",
        ),
        (["compile", "demo/campaigns/winter-last-cal.yaml"], "no such file; nearest: winter-last-call.yaml"),
        (
            ["compile", "demo/handbill.yaml"],
            "demo/handbill.yaml: the workspace's own file, not a campaign; "
            "expected a file such as campaigns/NAME.yaml",
        ),
        (["blocks", "lst"], "handbill blocks: no command lst; nearest: list"),
        (["schema", "brnd"], "handbill schema: no command brnd; nearest: brand"),
        (["schema", "campaign"], "handbill schema campaign: --brand is missing"),
        (["blocks", "show", "heroo", "--workspace", "demo"], "nearest: hero"),
        (
            ["blocks", "list", "--workspace", "nowhere"],
            "nowhere: not a workspace; expected a folder with a handbill.yaml",
        ),
        (["schema", "campaign", "--brand", "orowby", "--workspace", "demo"], "nearest: orrowby"),
    ],
)
def test_wrong_uses(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], arguments: list[str], expected: str
) -> None:
    monkeypatch.chdir(Path(__file__).parents[1])
    assert one_line(monkeypatch, capsys, *arguments).endswith(expected)


def test_paths_that_cannot_be(
    shop: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    good = shop.campaign(ONE)
    monkeypatch.chdir(shop.root)
    stray = tmp_path / "stray.yaml"
    stray.write_bytes(good.read_bytes())
    file = shop.put("brands/notes.txt", "x")
    for arguments, expected in (
        ((shop.root / "campaigns",), "a folder, not a campaign; expected a file such as campaigns/NAME.yaml"),
        (("campaigns/none.yaml",), "campaigns/none.yaml: no such file; nearest: spring.yaml"),
        ((stray,), "not in a workspace; expected handbill.yaml in a folder above the file"),
        ((good, "--out", file), "not a folder; expected a folder to write in"),
        ((good, "--out", file / "deep"), "cannot be written: Not a directory"),
        ((good, "--brand", "pelow"), "no brand pelow; expected one of pellow; nearest: pellow"),
    ):
        line = one_line(monkeypatch, capsys, "compile", *arguments)
        assert line.endswith(expected), line


def test_one_bad_file_does_not_stop_the_others(shop: Any) -> None:
    good, bad = shop.campaign(ONE), shop.campaign(ONE + "    colour: x\n", name="bad")
    done = run("compile", bad, good, "--out", shop.root / "made", cwd=shop.root)
    assert done.returncode == 2
    assert done.stderr.startswith("campaigns/bad.yaml:10:5: stack[0] copy, colour: unknown field colour")
    heads, row = done.stdout.splitlines()
    assert heads.split()[:2] == ["campaign", "subject"]
    assert row.split()[:3] == ["spring", "A", "letter"]
    assert row.endswith("made/spring/main")
    assert {path.name for path in (shop.root / "made").iterdir()} == {"spring"}


def test_two_campaigns_of_one_name_would_overwrite_each_other(shop: Any) -> None:
    first = shop.campaign(ONE)
    second = shop.put("campaigns/second.yaml", first.read_bytes())
    done = run("compile", first, second, first, cwd=shop.root)
    assert done.returncode == 2
    assert done.stderr.startswith(
        "campaigns/second.yaml:2:11: campaign: campaigns/spring.yaml is called spring too"
    )
    assert len(done.stdout.splitlines()) == 3


def test_places_are_named_from_where_the_user_stands(shop: Any) -> None:
    shop.campaign(ONE + "    colour: x\n")
    assert run("compile", "spring.yaml", cwd=shop.root / "campaigns").stderr.startswith("spring.yaml:10:5: ")
    assert run("compile", "shop/campaigns/spring.yaml", cwd=shop.root.parent).stderr.startswith(
        "shop/campaigns/"
    )


def test_data_holds_mails_and_mistakes(shop: Any) -> None:
    good, bad = shop.campaign(ONE), shop.campaign(ONE + "    alin: start\n", name="bad")
    done = run("compile", "--format", "json", bad, good, cwd=shop.root)
    assert done.returncode == 2
    assert done.stderr == ""
    data = json.loads(done.stdout)
    (mail,) = data["mails"]
    assert (mail["campaign"], mail["subject"], mail["folder"]) == ("spring", "A letter", "out/spring/main")
    folder = shop.root / mail["folder"]
    assert mail["html"] == (folder / "email.html").stat().st_size
    assert mail["text"] == (folder / "email.txt").stat().st_size
    (mistake,) = data["mistakes"]
    assert {name: mistake[name] for name in ("file", "line", "column", "nearest")} == {
        "file": "campaigns/bad.yaml", "line": 10, "column": 5, "nearest": "align",
    }  # fmt: skip
    assert mistake["path"] == "stack[0] copy, alin"


def invoke(*arguments: object) -> Result:
    return CliRunner().invoke(cli, [*map(str, arguments)], catch_exceptions=False)


def test_blocks_list_says_where_each_lives(shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    for folder in ("brands/pellow/blocks/hero", "library/blocks/ours"):
        name = Path(folder).name
        shop.put(f"{folder}/block.yaml", f"handbill: 1\nblock: {name}\nabout: Our own {name}.\n")
    monkeypatch.chdir(shop.root / "brands")
    rows = {
        line.split()[0]: line for line in invoke("blocks", "list", "--brand", "pellow").output.splitlines()
    }
    assert "brand pellow, pellow/blocks/hero" in rows["hero"]
    assert rows["hero"].endswith("Our own hero.")
    assert "workspace library, ../library/blocks/ours" in rows["ours"]
    assert "built in" in rows["footer-nav"]
    assert list(rows) == sorted(rows)
    monkeypatch.chdir(shop.root.parent)  # outside any workspace: the built-in ones
    rows = {line.split()[0]: line for line in invoke("blocks", "list").output.splitlines()}
    assert "built in" in rows["hero"]
    assert "ours" not in rows


def test_blocks_show_is_written_from_block_yaml(shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.put(
        "library/blocks/card/block.yaml",
        "handbill: 1\nblock: card\nabout: A card.\nuse: Seldom.\nfields:\n"
        "  title: {type: text, required: true, most: 40, about: What it says.}\n"
        "  side: {type: choice, options: [start, end], default: end}\n"
        "  rows: {type: list, least: 2, of: {words: {type: copy}}}\n"
        "measures: {above: 12, gap: {desktop: 30, phone: 20}}\n"
        "slots: {row: {of: inset, columns: {a: 100, b: rest}, gap: '8'}}\nwords: {en: {more: More}}\n",
    )
    monkeypatch.chdir(shop.root)
    text = invoke("blocks", "show", "card").output
    lines = [" ".join(line.split()) for line in text.splitlines()]
    for expected in (
        "card (workspace library, library/blocks/card)", "A card.", "Use: Seldom.",
        "title text, required, at most 40 characters What it says.",
        "side choice of start | end, default end",
        "rows list, at least 2", "words copy", "above 12", "gap desktop 30, phone 20",
        "row of inset: a 100, b rest, gap 8", "en more More",
    ):  # fmt: skip
        assert expected in lines
    shop.change("brands/pellow/brand.yaml", "legal:", "blocks: {card: {side: start, above: 24}}\nlegal:")
    own = invoke("blocks", "show", "card", "--brand", "pellow").output
    assert "default start" in own
    assert "above  24" in own


def test_every_built_in_block_has_a_page() -> None:
    names = [line.split()[0] for line in invoke("blocks", "list", "--workspace", "demo").output.splitlines()]
    assert len(names) >= 7
    for name in names:
        assert "\nfields\n" in invoke("blocks", "show", name).output


def test_progress_shows_on_a_slow_terminal_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    master, slave = pty.openpty()

    def seen() -> str:
        text = b""  # a terminal hands out what it has in pieces
        while select.select([master], [], [], 0.1)[0]:
            text += os.read(master, 10_000)
        return text.decode()

    with os.fdopen(slave, "w") as terminal:
        monkeypatch.setattr(sys, "stderr", terminal)
        monkeypatch.setattr(progress_module, "DELAY", 3600.0)
        with Progress(3, enabled=True) as quick:
            quick.step()
        assert seen() == ""
        monkeypatch.setattr(progress_module, "DELAY", 0.0)
        with Progress(3, enabled=False):
            time.sleep(0.05)
        assert seen() == ""
        with Progress(3, enabled=True) as slow:
            slow.step()
            assert select.select([master], [], [], 60)[0]
        drawn = seen()
    os.close(master)
    assert " of 3" in drawn
    assert drawn.endswith("\r\x1b[K")  # nothing of it stays


def test_progress_counts_pictures_while_they_are_made() -> None:
    bar = Progress(2, enabled=False)
    bar.drawn(3, 12)
    assert bar.bar().endswith(" 0 of 2, picture 3 of 12")
    bar.drawn(12, 12)
    assert bar.bar().endswith(" 0 of 2")
    bar.part(1, 4)
    bar.drawn(0, 2)
    assert bar.bar().endswith(" 0 of 2, variant 1 of 4, picture 0 of 2")
    bar.step()
    assert bar.bar().endswith(" 1 of 2")


def test_no_progress_in_a_pipe(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress_module, "DELAY", 0.0)
    with Progress(1, enabled=True):
        time.sleep(0.05)
    assert capsys.readouterr().err == ""


def test_a_folder_that_another_campaign_of_the_name_made_is_not_written_over(shop: Any) -> None:
    """Each file by itself: the second says whose the folder is, until the first is gone or renamed."""
    first = shop.campaign(ONE)
    assert run("compile", first, cwd=shop.root).returncode == 0
    second = shop.put("campaigns/second.yaml", first.read_bytes())
    done = run("compile", second, cwd=shop.root)
    assert done.returncode == 2
    assert done.stderr.startswith(
        "campaigns/second.yaml:2:11: campaign: campaigns/spring.yaml is called spring too, and their folder"
    )
    first.unlink()
    assert run("compile", second, cwd=shop.root).returncode == 0
