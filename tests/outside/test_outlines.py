"""Every outline in every demo shop, as `handbill new` writes it, held to the outside checks.

Sources: the Nu HTML checker (HTML Standard), axe-core's WCAG A and AA rules, WCAG 2.2 SC 1.4.10 (width).
One direction for each pair of outline and shop, in turn, so that both are met in every shop.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.composing import resolved, write

from handbill.apps.outline import draft, outlines, stock
from handbill.base.errors import Place
from handbill.base.source import parse_yaml
from handbill.brand.parts import load_brand

from .browser import Reader, View
from .mails import Mail, demo
from .test_axe import lines, run_axe
from .test_html import is_allowed, nu_errors

BRANDS = ("orrowby", "quillfern", "dunmarrow")
VIEWS = (View(320), View(600), View(320, styles=False))


@pytest.fixture(scope="module")
def mails(tmp_path_factory: pytest.TempPathFactory) -> list[Mail]:
    return list(_mails(tmp_path_factory.mktemp("outlines")))


def _mails(out: Path) -> Iterator[Mail]:
    loader = demo()
    number = 0
    for brand in BRANDS:
        kept = stock(loader, load_brand(loader, brand, Place("--brand")))
        for outline, path in sorted(outlines(loader).items()):
            text = draft(path.read_text("utf-8"), outline, f"{outline}-{brand}", brand, kept).text
            direction = ("ltr", "rtl")[(number := number + 1) % 2]
            doc = parse_yaml(f"{text}dir: {direction}\n".encode(), f"campaigns/{outline}.yaml")
            yield Mail(write(loader, resolved(loader, doc), out), (), "")


def test_nu_checker_finds_no_error_in_them(mails: list[Mail], tmp_path: Path) -> None:
    files = []
    for mail in mails:
        file = tmp_path / f"{mail.name}.html"
        file.write_text(mail.html, "utf-8", newline="\n")
        files.append(file)
    assert len(files) == 30
    assert sorted({error for error in nu_errors(files) if not is_allowed(error)}) == []


def test_axe_finds_no_violation_in_them(mails: list[Mail], reader: Reader) -> None:
    wrong = {}
    for mail in mails:
        found = lines(run_axe(reader, mail.html, mail.pictures, View(375))["violations"])
        if found:
            wrong[mail.name] = found
    assert wrong == {}


@pytest.mark.parametrize("view", VIEWS, ids=str)
def test_they_fit_and_nothing_is_cut_off(mails: list[Mail], reader: Reader, view: View) -> None:
    wrong = {}
    for mail in mails:
        with reader.open(mail.html, mail.pictures, view) as opened:
            seen = opened.look()
        scroll, window = seen["overflow"]
        if scroll > window or seen["clipped"] or seen["covered"]:
            wrong[mail.name] = (scroll, seen["clipped"], seen["covered"])
    assert wrong == {}
