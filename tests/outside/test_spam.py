"""SpamAssassin (Debian) on the demos' mails: local tests only, no network, no user's settings. A note.

spam.toml explains every rule that they hit; one that it does not explain fails.
"""

from __future__ import annotations

import os
import re
import subprocess
import tomllib
from pathlib import Path

from .mails import CAMPAIGNS, compile_campaign

EXPLAINED = {
    entry["rule"]: entry["because"]
    for entry in tomllib.loads(Path(__file__).with_name("spam.toml").read_text("utf-8"))["hit"]
}
REQUIRED = 5.0  # points at which the program's own default calls a mail spam


def hits(eml: bytes, home: Path) -> dict[str, float]:
    """Points by rule."""
    done = subprocess.run(
        ["spamassassin", "--local", "--test-mode", "--nocreate-prefs"],
        input=eml,
        capture_output=True,
        env={**os.environ, "HOME": str(home), "LC_ALL": "C"},
        timeout=120,
        check=False,
    )
    report = done.stdout.decode("utf-8", "replace").rpartition(" pts rule name")[2]
    assert report, done.stderr.decode("utf-8", "replace")
    return {
        rule: float(points)
        for points, rule in re.findall(r"^\s*(-?[\d.]+)\s+([A-Z][A-Z0-9_]+)\s", report, re.MULTILINE)
    }


def test_every_rule_hit_is_explained(tmp_path: Path) -> None:
    seen: set[str] = set()
    for campaign in CAMPAIGNS:
        found = hits(compile_campaign(campaign, tmp_path / "out").eml, tmp_path)
        assert "HTML_MESSAGE" in found
        assert {rule: points for rule, points in found.items() if rule not in EXPLAINED} == {}, campaign
        assert sum(found.values()) < REQUIRED / 2, campaign
        seen |= found.keys()
    assert set(EXPLAINED) - seen == set(), "explanations that nothing needs any more"


def test_a_rule_that_is_hit_is_seen(tmp_path: Path) -> None:
    # GTUBE, the program's own test string
    gtube = "XJS*C4JDBQADN1.NSBN3*2IDNEN*GTUBE-STANDARD-ANTI-UBE-TEST-EMAIL*C.34X"
    found = hits(f"From: a@b.example\nSubject: x\n\n{gtube}\n".encode(), tmp_path)
    assert found["GTUBE"] > REQUIRED
