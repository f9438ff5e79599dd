"""The library as one page. Enters: blocks with their samples in each brand; leaves: self-contained HTML.

Mails and pictures lie in the page once, as data; a short script sets them into frames of two widths, in which
no script runs. The same library gives the same bytes.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import Any

from handbill.apps.describe import field_rows, measure_rows, slot_rows, word_rows
from handbill.apps.samples import Sample
from handbill.base.cache import Cache
from handbill.base.frozen import dataclass
from handbill.library.spec import BlockSpec
from handbill.pictures.produce import produced

PHONE, DESKTOP = 375, 600  # px: the widths samples are shown at
_ASSETS = Path(__file__).parent
_PICTURE = re.compile(r"\.\./pictures/([A-Za-z0-9._-]+)")


@dataclass(frozen=True, slots=True)
class Entry:
    """One block: `own` when it is not built in, `place` says where it lives; its samples by brand."""

    spec: BlockSpec
    place: str
    own: bool
    samples: tuple[Sample, ...]


def page(title: str, entries: Sequence[Entry], cache: Cache) -> str:
    """The gallery as one HTML document."""
    brands = list(dict.fromkeys(one.brand for entry in entries for one in entry.samples))
    mails: dict[str, str] = {}
    pictures: dict[str, str] = {}
    for number, entry in enumerate(entries):
        for sample in entry.samples:
            mails[f"{number} {sample.brand}"] = sample.html
            used = set(_PICTURE.findall(sample.html))
            for plan in sample.mail.plans:
                if plan.name in used and plan.name not in pictures:
                    data = base64.b64encode(produced(plan, cache)).decode()
                    pictures[plan.name] = f"data:{plan.content_type};base64,{data}"
    names = {one.brand: one.mail.shop.brand.name for entry in entries for one in entry.samples}
    own = sum(entry.own for entry in entries)
    count = f"{len(entries)} blocks" + (f", {own} of them your own" if own else "")
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(title)}: blocks</title>",
        f"<style>{_asset('sheet.css')}</style></head><body>",
        '<a class="skip" href="#blocks">To the blocks</a>',
        '<header class="top">',
        f"<h1>{escape(title)}</h1>",
        f'<p class="count">{count}</p>',
        _controls(brands, names),
        "</header>",
        '<nav class="index" aria-label="Blocks"><ol>',
        *(_index(number, entry) for number, entry in enumerate(entries)),
        "</ol></nav>",
        '<main id="blocks">',
        "<noscript><p>The frames of this page are filled by its script; each sample's text stands below it."
        "</p></noscript>",
        *(_section(number, entry, names) for number, entry in enumerate(entries)),
        "</main>",
        _data("mails", mails),
        _data("pictures", pictures),
        f"<script>{_asset('sheet.js')}</script>",
        "</body></html>",
    ]
    return "\n".join(parts) + "\n"


def _asset(name: str) -> str:
    return (_ASSETS / name).read_text("utf-8").strip()


def _data(name: str, data: Mapping[str, Any]) -> str:
    # an opening angle bracket could end the element (HTML standard, 4.12.1.3)
    text = json.dumps(data, ensure_ascii=False, sort_keys=True).replace("<", "\\u003c")
    return f'<script type="application/json" id="{name}">{text}</script>'


def _controls(brands: Sequence[str], names: Mapping[str, str]) -> str:
    choices = "".join(_choice("shop", brand, names[brand], False) for brand in brands)
    shops = _choice("shop", "", "All shops", True) + choices if len(brands) > 1 else ""
    return (
        '<form class="controls">'
        + (f"<fieldset><legend>Shop</legend>{shops}</fieldset>" if shops else "")
        + "<fieldset><legend>Screen</legend>"
        + _choice("scheme", "light", "Light", True)
        + _choice("scheme", "dark", "Dark", False)
        + "</fieldset></form>"
    )


def _choice(name: str, value: str, label: str, chosen: bool) -> str:
    mark = " checked" if chosen else ""
    radio = f'<input type="radio" name="{name}" value="{escape(value)}"{mark}>'
    return f"<label>{radio}<span>{escape(label)}</span></label>"


def _anchor(number: int, entry: Entry) -> str:
    """A brand's own block may have the name of a built-in one."""
    return f"{entry.spec.block}-{number}" if entry.own else entry.spec.block


def _index(number: int, entry: Entry) -> str:
    mark = '<span class="own" title="not built in">own</span>' if entry.own else ""
    return f'<li><a href="#{_anchor(number, entry)}">{escape(entry.spec.block)}</a>{mark}</li>'


def _section(number: int, entry: Entry, names: Mapping[str, str]) -> str:
    spec = entry.spec
    place = "own" if entry.own else "built-in"
    head = (
        f'<section class="block" id="{_anchor(number, entry)}"><div class="words">'
        f"<h2>{escape(spec.block)}</h2>"
        f'<p class="place {place}">{escape(entry.place)}</p><p class="about">{escape(spec.about)}</p>'
        + (f'<p class="use">{escape(spec.use)}</p>' if spec.use else "")
        + "</div>"
    )
    frames = "".join(_specimen(number, entry, sample, names) for sample in entry.samples)
    if not entry.samples:
        frames = '<p class="none">This block has no sample.yaml yet.</p>'
    return f'{head}{frames}<div class="facts">{_facts(spec, entry.samples)}</div></section>'


def _specimen(number: int, entry: Entry, sample: Sample, names: Mapping[str, str]) -> str:
    key, shop = f"{number} {sample.brand}", escape(names[sample.brand])

    def frame(kind: str, width: int) -> str:
        label = f"{escape(entry.spec.block)} in {shop}, {width} px wide"
        return (
            f'<div class="{kind}"><iframe title="{label}" data-mail="{escape(key)}" width="{width}" '
            'height="240" sandbox="allow-same-origin"></iframe></div>'
        )

    return (
        f'<figure class="specimen" data-shop="{escape(sample.brand)}"><figcaption>{shop}</figcaption>'
        f'<div class="pair">{frame("desktop", DESKTOP)}{frame("phone", PHONE)}</div></figure>'
    )


def _facts(spec: BlockSpec, samples: Sequence[Sample]) -> str:
    parts = []
    rows = list(field_rows(spec.fields, {}, step="· "))
    if rows:
        parts.append(_table("Fields", ("Field", "What it takes", "What it is for"), rows))
    if spec.measures:
        parts.append(_folded("Measures", _table("", ("Measure", "Default"), measure_rows(spec, {}))))
    if spec.slots:
        parts.append(_folded("Slots", _table("", ("Slot", "Columns"), slot_rows(spec))))
    if spec.words:
        parts.append(_folded("Words", _table("", ("Language", "Word", "Text"), word_rows(spec))))
    if samples:
        parts.append(_folded("As text", f"<pre>{escape(samples[0].text)}</pre>"))
    return "".join(parts)


def _folded(title: str, inner: str) -> str:
    return f"<details><summary>{title}</summary>{inner}</details>"


def _table(title: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    caption = f"<caption>{title}</caption>" if title else ""
    head = "".join(f'<th scope="col">{one}</th>' for one in heads)
    body = "".join(
        "<tr>"
        + f'<th scope="row"><code>{escape(row[0])}</code></th>'
        + "".join(f"<td>{escape(cell)}</td>" for cell in row[1:])
        + "</tr>"
        for row in rows
    )
    table = f"<table>{caption}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
    return f'<div class="scroll">{table}</div>'
