"""Mails stay whole in the webmail that clips long ones, links rewritten or not (common practice)."""

from __future__ import annotations

import re

import pytest
from tests.tools.reader_docs import PAGE, page, weights

from .clip import ALLOWANCE, LIMIT, sent, weigh
from .mails import CAMPAIGNS, Mail


def test_no_mail_is_clipped(mail: Mail) -> None:
    part = mail.message.get_body(("html",))
    assert part is not None
    decoded = part.get_payload(decode=True)
    assert isinstance(decoded, bytes)
    weight = weigh(decoded)
    assert weight.links > 5
    assert weight.plain < weight.rewritten < LIMIT
    # the table in docs/readers.md is made without pictures and message, and counts the same
    campaign = next(path for path in CAMPAIGNS if path.stem == mail.name)
    assert sent(campaign) == decoded


@pytest.mark.parametrize(
    ("part", "links", "grown"),
    [
        (b'<a href="https://a.example/">x</a>', 1, ALLOWANCE - 18),
        (b'<a href="mailto:a@a.example">x</a><img src="https://a.example/x.png">', 0, 0),
        (b'<a href="https://a.example/' + b"x" * ALLOWANCE + b'">x</a>', 1, 0),
    ],
)
def test_the_allowance(part: bytes, links: int, grown: int) -> None:
    weight = weigh(part)
    assert (weight.links, weight.rewritten) == (links, len(part) + grown + ALLOWANCE)


def test_the_page_about_readers_is_as_it_would_be_made() -> None:
    """Weights may be some KB off, so that not every word in a demo is a new table."""
    made = page(found := weights())
    there = PAGE.read_text("utf-8")
    row = re.compile(r"^\| ([\w-]+) \| (\d+) \| \d+ \| (\d+) \|$", re.MULTILINE)
    assert row.sub("", there) == row.sub("", made), "python tests/tools/reader_docs.py"
    listed = {name: (int(plain), int(rewritten)) for name, plain, rewritten in row.findall(there)}
    assert listed.keys() == found.keys()
    for name, (plain, rewritten) in listed.items():
        assert plain == pytest.approx(found[name].plain / 1024, rel=0.1), "python tests/tools/reader_docs.py"
        assert rewritten == pytest.approx(found[name].rewritten / 1024, rel=0.1)
