"""A second run: it imports nothing it can do without, and says the same as the first one.

Against: pydantic itself, whose models the kept schemas stand in for; POSIX pipes.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from pydantic_core import SchemaValidator, ValidationError

from handbill.base.cache import Cache
from handbill.models.brand import Brand
from handbill.models.campaign import Campaign
from handbill.models.kept import Value, plain_value, reader
from handbill.models.workspace import Workspace

ROOT = Path(__file__).parent.parent
CAMPAIGN = str(ROOT / "demo" / "campaigns" / "winter-last-call.yaml")
SLOW = (
    "pydantic.main",
    "premailer",
    "tinycss2",
    "babel",
    "PIL",
    "numpy",
    "markdown_it",
    "handbill.models.common",
)
SCRIPT = f"""
import sys
from handbill.cli.main import main
sys.argv = ["handbill", "compile", sys.argv[1], "--out", sys.argv[2]]
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
print(*[name for name in {SLOW!r} if name in sys.modules])
"""
HEAD: dict[str, Any] = {
    "handbill": "1", "campaign": "spring", "brand": "orrowby", "send": "2027-01-15T08:00", "subject": "Now",
    "offer": {"kind": "code", "code": "ABC", "percent": "20"}, "stack": ["…"],
}  # fmt: skip


def run(command: list[str], cache: Path, **more: Any) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "HANDBILL_CACHE": str(cache)}
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=False, **more)


def test_a_second_run_imports_nothing_slow_and_writes_the_same(tmp_path: Path) -> None:
    found, mails = [], []
    for number in range(2):
        out = tmp_path / str(number)
        done = run([sys.executable, "-c", SCRIPT, CAMPAIGN, str(out)], tmp_path / "cache")
        assert done.returncode == 0, done.stderr
        found.append(done.stdout.splitlines()[-1].split())
        mails.append({path.relative_to(out): path.read_bytes() for path in out.rglob("*") if path.is_file()})
    assert {"pydantic.main", "handbill.models.common"} <= set(found[0])
    assert found[1] == []
    assert mails[0] == mails[1]


@pytest.mark.parametrize(
    "change",
    [{}, {"offer": None}, {"subject": ""}, {"extra": 1}, {"offer": {"kind": "x"}}, {"send": "today"}],
)
def test_a_kept_schema_judges_as_the_model(change: dict[str, Any], tmp_path: Path) -> None:
    cache, content = Cache(tmp_path / "cache"), {**HEAD, **change}
    readers = [reader(lambda: Campaign, "campaign", cache), reader(_never, "campaign", cache)]
    try:
        expected: Any = plain_value(Campaign.model_validate(content))
    except ValidationError as error:
        words = [(one["type"], one["loc"]) for one in error.errors()]
        for one in readers:
            with pytest.raises(ValidationError) as caught:
                one.validate_python(content)
            assert [(detail["type"], detail["loc"]) for detail in caught.value.errors()] == words
    else:
        assert [one.validate_python(content) for one in readers] == [expected, expected]


def _never() -> Any:
    raise AssertionError("the schema was kept")


def test_a_damaged_schema_is_made_again(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "cache")
    reader(lambda: Workspace, "workspace", cache)
    (kept,) = [path for path in (tmp_path / "cache").rglob("*") if path.is_file()]
    kept.write_bytes(kept.read_bytes()[:-9])
    made = reader(lambda: Workspace, "workspace", cache)
    assert isinstance(made, SchemaValidator)
    assert made.validate_python({"handbill": "1"}).budgets.html_kb == Workspace(handbill=1).budgets.html_kb


def test_a_value_is_frozen_and_survives_pickling() -> None:
    columns = {"file": "products.csv"}
    sender = {"name": "A", "address": "a@b.example"}
    brand = Brand(
        handbill=1, brand="a", name="A", site="https://a.example", pictures_at="https://a.example",
        sender=sender, products=columns,
    )  # fmt: skip
    value: Any = plain_value(brand)
    again: Any = pickle.loads(pickle.dumps(value))
    assert isinstance(again, Value)
    assert again == value
    assert hash(again.sender) == hash(value.sender)
    assert again.button.height == brand.button.height
    assert again.products.columns == {}
    with pytest.raises(AttributeError, match="name cannot be set"):
        again.name = "B"


def test_all_output_arrives_and_a_closed_pipe_ends_the_run_quietly(tmp_path: Path) -> None:
    command = [str(Path(sys.executable).with_name("handbill")), "compile", "--help"]
    whole = run(command, tmp_path)
    assert whole.returncode == 0
    assert "--watch" in whole.stdout
    assert whole.stdout.endswith("\n")
    wrong = run([*command[:2], "nowhere.yaml"], tmp_path)
    assert (wrong.returncode, wrong.stdout, wrong.stderr) == (2, "", "nowhere.yaml: no such file\n")
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, check=False)
    finally:
        os.close(writing)
    assert (done.returncode, done.stderr) == (1, b"")
