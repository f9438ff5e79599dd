"""Enters: pytest's JUnit XML files; leaves: one closing line over all of them, 'N passed, N failed'.

Exits with 1 when a test failed, when none passed, and when one was skipped: a missing tool is a fault.
"""

from __future__ import annotations

import sys
from pathlib import Path
from xml.etree import ElementTree


def main(paths: list[str]) -> int:
    passed = failed = skipped = 0
    for path in filter(Path.exists, map(Path, paths)):
        for case in ElementTree.parse(path).iter("testcase"):
            skip = case.find("skipped")
            if case.find("failure") is not None or case.find("error") is not None:
                failed += 1
            elif skip is not None and skip.get("type") != "pytest.xfail":
                print(f"skipped, which counts as a failure: {case.get('classname')}::{case.get('name')}")
                skipped += 1
            else:
                passed += 1
    print(f"{passed} passed, {failed} failed" + (f", {skipped} skipped" if skipped else ""))
    return int(failed > 0 or skipped > 0 or passed == 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
