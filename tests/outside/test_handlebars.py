"""The Handlebars dialect against Handlebars itself (npm `handlebars`, run by Node in one batch).

HTML is compared after decoding character references (HTML standard §13.5): the engine writes `=` and the
backtick as references too.
"""

from __future__ import annotations

import html
import json
import os
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from tests.test_dialect_mails import LINKS as LETTER_LINKS
from tests.test_dialect_mails import RECIPIENTS, resolved, shown

from handbill.resolve.dialects import HANDLEBARS, Sample
from handbill.resolve.text import Send, Text

ROOT = Path(__file__).parent.parent.parent
PROGRAM = """
const handlebars = require("handlebars");
const cases = JSON.parse(require("fs").readFileSync(0, "utf8"));
process.stdout.write(JSON.stringify(cases.map(([text, data]) => handlebars.compile(text)(data))));
"""

FIELD = ("recipient", "first_name")
NAMES = ["Anna", '<b onclick="x()">&amp; O\'Neil</b>', "{{x}} }}} \\", "עַדִי, مريم", "", None]
FALLBACKS = [None, "there", "it's <you> & me", "{{ you {", "100 % \\"]
TEXTS = [
    "",
    "{",
    "}",
    "{{ x }}",
    "{{{",
    "}}}}",
    "\\",
    "\\\\",
    "c\\{{d}}",
    "\\{",
    "{ ",
    " }",
    "{\n",
    "{{{{raw}}}} {{{{/raw}}}}",
]
LINKS = {"unsubscribe": "https://s.example/u?a=1&b=%20x'y"}


def render(cases: list[tuple[str, Mapping[str, Any]]]) -> list[str]:
    paths = [str(ROOT / ".tools" / "node" / "node_modules"), os.environ.get("NODE_PATH", "")]
    done = subprocess.run(
        ["node", "-e", PROGRAM],
        input=json.dumps(cases),
        env={**os.environ, "NODE_PATH": os.pathsep.join(filter(None, paths))},
        capture_output=True,
        encoding="utf-8",
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    found: list[str] = json.loads(done.stdout)
    return found


def test_the_engine_writes_what_the_sample_shows() -> None:
    cases: list[tuple[str, Mapping[str, Any]]] = []
    wanted: list[tuple[str, str]] = []
    for name in NAMES:
        fields = {} if name is None else {"first_name": name}
        sample = Sample(fields, LINKS)
        for fallback in FALLBACKS:
            for text in TEXTS:
                # Text before, between and after tags: braces and backslashes touch them on both sides.
                filled = (text, Send(FIELD, fallback), text, Send(("link", "unsubscribe")), text)
                tagged, shown = Text.of(filled, HANDLEBARS), Text.of(filled, sample)
                for form in ("html", "attr", "plain"):
                    cases.append((getattr(tagged, form), {"recipient": fields, "link": LINKS}))
                    wanted.append((form, getattr(shown, form)))
    for (template, _), (form, want), got in zip(cases, wanted, render(cases), strict=True):
        if form != "plain":
            # a field stands in an element that lets it keep an order of its own
            got = got.replace('<span dir="auto">', "").replace("</span>", "")
            want = want.replace('<span dir="auto">', "").replace("</span>", "")
            assert not {"<", '"'} & set(got)
            got, want = html.unescape(got), html.unescape(want)
        assert got == want, (form, template)


def test_conditions_and_links() -> None:
    opened, otherwise, close = HANDLEBARS.when("recipient.vip")
    template = f"{opened}yes{otherwise}no{close}"
    href = HANDLEBARS.tag(("link", "unsubscribe"), "url", None)
    raw = HANDLEBARS.tag(("link", "unsubscribe"), "plain_url", None)
    values: list[Any] = ["gold", "", None, True, False]
    cases: list[tuple[str, Mapping[str, Any]]] = [
        (template, {"recipient": {"vip": value}}) for value in values
    ]
    got = render([*cases, (href, {"link": LINKS}), (raw, {"link": LINKS})])
    assert got[:5] == ["yes", "no", "no", "yes", "no"]
    assert html.unescape(got[5]) == LINKS["unsubscribe"]
    assert got[6] == LINKS["unsubscribe"]


@pytest.mark.parametrize("recipient", RECIPIENTS)
def test_a_whole_mail_is_what_the_sample_shows(shop: Any, recipient: str) -> None:
    fields = RECIPIENTS[recipient]
    tagged, sample = resolved(shop, "handlebars", fields)
    data = {"recipient": fields, "link": LETTER_LINKS}
    for (part, want), got in zip(
        sample.items(), render([(tagged[part], data) for part in sample]), strict=True
    ):
        assert shown(got, part) == shown(want, part), part
