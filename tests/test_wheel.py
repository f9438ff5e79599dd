"""The wheel, installed into an empty environment, compiles the demo to the very bytes of a source checkout.

Third-party packages are those of this environment, lent by a path file; handbill itself is the wheel's alone.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def run(*command: object, cwd: Path = ROOT, **environment: str) -> str:
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(
        list(map(str, command)), cwd=cwd, env={**kept, **environment}, capture_output=True, text=True,
        timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder)
    (made,) = folder.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an environment's programs."""
    home = tmp_path_factory.mktemp("environment")
    venv.create(home, with_pip=False)
    paths = {"base": str(home), "platbase": str(home)}
    site = Path(sysconfig.get_path("purelib", "venv", paths))
    programs = Path(sysconfig.get_path("scripts", "venv", paths))
    assert [path.name for path in site.iterdir()] == []
    run(
        sys.executable, "-m", "pip", "--python", programs / "python", "install", "--quiet", "--no-deps",
        "--no-index", "--disable-pip-version-check", wheel,
    )  # fmt: skip
    # added last: what the wheel brings is found before anything here, and path files in here are not read
    (site / "lent.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return programs


def test_the_wheel_holds_every_block(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    blocks = {f"handbill/{path.relative_to(ROOT)}" for path in (ROOT / "blocks").rglob("*") if path.is_file()}
    assert blocks
    assert blocks <= names
    assert not [name for name in names if name.startswith(("tests/", "demo/", "src/"))]
    assert any(name.endswith("licenses/docs/LICENSE") for name in names)


def test_it_runs_from_the_wheel_alone(installed: Path, tmp_path: Path) -> None:
    where = run(installed / "python", "-c", "import handbill; print(handbill.__file__)", cwd=tmp_path)
    assert str(installed.parent) in where
    assert str(ROOT / "src") not in where
    paths = run(installed / "python", "-c", "import sys; print(sys.path)", cwd=tmp_path)
    assert str(ROOT / "src") not in paths
    assert "hero" in run(installed / "handbill", "blocks", "list", cwd=tmp_path)


def test_it_compiles_the_demo_to_the_same_bytes(installed: Path, tmp_path: Path) -> None:
    campaigns = sorted((ROOT / "demo" / "campaigns").glob("*.yaml"))
    command = ["compile", *campaigns, "--out"]
    cache = str(tmp_path / "cache")
    run(installed / "handbill", *command, tmp_path / "wheel", cwd=tmp_path, HANDBILL_CACHE=cache)
    source = "import sys; sys.path.insert(0, sys.argv.pop(1)); from handbill.cli import main; main()"
    run(sys.executable, "-c", source, ROOT / "src", *command, tmp_path / "source", cwd=tmp_path)
    made, expected = (
        {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        for folder in (tmp_path / "wheel", tmp_path / "source")
    )
    assert made.keys() == expected.keys()
    assert [name for name in made if made[name] != expected[name]] == []
    assert any(name.endswith("email.eml") for name in made)


def test_the_examples_of_the_reference_run_and_type_check(installed: Path, tmp_path: Path) -> None:
    """`docs/reference/python.md`, by mypy in strict mode (PEP 561) and by Python."""
    page = (ROOT / "docs" / "reference" / "python.md").read_text("utf-8")
    examples = re.findall(r"^```python\n(.*?)^```$", page, re.DOTALL | re.MULTILINE)
    assert len(examples) == 2
    shutil.copytree(ROOT / "demo", tmp_path / "demo", ignore=shutil.ignore_patterns("out", "art"))
    for number, example in enumerate(examples):
        (tmp_path / f"example_{number}.py").write_text(example, "utf-8")
    (tmp_path / "wrong.py").write_text("import handbill\n\nhandbill.load(1).nothing\n", "utf-8")
    mypy = (installed / "python", "-m", "mypy", "--strict", "--config-file", os.devnull)
    run(*mypy, "example_0.py", "example_1.py", cwd=tmp_path)
    wrong = subprocess.run(
        [*map(str, mypy), "wrong.py"], cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False
    )
    assert "[arg-type]" in wrong.stdout
    assert "[attr-defined]" in wrong.stdout
    cache = str(tmp_path / "cache")
    first = run(installed / "python", "example_0.py", cwd=tmp_path, HANDBILL_CACHE=cache)
    assert "winter-last-call changed" in first
    assert (tmp_path / "letters" / "winter-last-call" / "main" / "email.eml").is_file()
    again = run(installed / "python", "example_1.py", cwd=tmp_path, HANDBILL_CACHE=cache)
    assert again == "1\n"
