"""Enters: the open support data as its npm package holds it; leaves: src/handbill/readers/support.json.

Only slug, title, category, date and stats are kept: other fields name third-party products. Keys stay in the
order of the source, since the last one is the newest. One feature a line, so that a change can be read.
usage: python tests/tools/reader_support.py package/data/caniemail.json
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

KEPT = ("slug", "title", "category", "last_test_date", "stats")
TARGET = Path(__file__).resolve().parents[2] / "src" / "handbill" / "readers" / "support.json"


def reduced(source: str) -> str:
    """The file's text."""
    data = json.loads(source)
    about = {"api_version": data["api_version"], "last_update_date": data["last_update_date"]}
    rows = [{name: feature[name] for name in KEPT} for feature in data["data"]]
    lines = ",\n".join(json.dumps(row, ensure_ascii=False, separators=(",", ":")) for row in rows)
    return f'{{"about":{json.dumps(about)},\n"features":[\n{lines}\n]}}\n'


if __name__ == "__main__":
    TARGET.write_text(reduced(Path(sys.argv[1]).read_text("utf-8")), "utf-8", newline="\n")
