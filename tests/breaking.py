"""Breaking a demo mail in one way: in its YAML and CSV, or in the HTML, text or head that were made of it."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from handbill.base.cache import Cache
from handbill.loader import MARK, Loader
from handbill.pipeline import campaign_file, produce, renderer_for, resolve_doc
from handbill.preflight.contract import Finding
from handbill.preflight.registry import every
from handbill.preflight.runner import FAILED, UNREAD, UNUSED, Outcome, run
from handbill.preflight.settings import settings
from handbill.preflight.specimen import Specimen
from handbill.render.render import assemble, pieces

DEMO = Path(__file__).parent.parent / "demo"
CAMPAIGNS = {"orrowby": "winter-last-call", "dunmarrow": "the-lamp-is-lit", "quillfern": "what-is-growing"}
#: (file in the workspace, what stands there, what is to stand there)
Edit = tuple[str, str, str]


def campaign(brand: str) -> str:
    """The campaign's file, as messages name it."""
    return f"campaigns/{CAMPAIGNS[brand]}.yaml"


def specimen(root: Path, brand: str) -> Specimen:
    """The demo's campaign of `brand` in the workspace at `root`, as preflight sees it."""
    loader = Loader(root, Cache())
    mail = resolve_doc(loader, campaign_file(loader, root / campaign(brand)))
    produce(mail, loader.cache)
    renderer = renderer_for(mail)
    made, wrong = pieces(mail, renderer)
    assert wrong == []
    rendered = assemble(mail, made, renderer)
    found = Specimen(mail, made, rendered, loader.workspace, loader.read(root / MARK).root)
    _ = found.history  # read while the file is as the test wants it
    return found


@cache
def sound(brand: str) -> Specimen:
    """The demo as it is."""
    return specimen(DEMO, brand)


def workspace(root: Path) -> Path:
    """A copy of the demo's workspace that tests may change."""
    for name in (MARK, "brands", "campaigns"):
        source = DEMO / name
        if source.is_dir():
            shutil.copytree(source, root / name, ignore=shutil.ignore_patterns("art"))
        else:
            shutil.copy(source, root / name)
    return root


def edited(root: Path, brand: str, edits: Sequence[Edit]) -> Specimen:
    """The mail of a workspace with some words changed; the workspace is as before afterwards."""
    before = {name: (root / name).read_text("utf-8") for name, _old, _new in edits}
    try:
        for name, old, new in edits:
            text = (root / name).read_text("utf-8")
            assert old in text, f"{name} does not hold {old!r}"
            (root / name).write_text(text.replace(old, new, 1), "utf-8")
        return specimen(root, brand)
    finally:
        for name, text in before.items():
            (root / name).write_text(text, "utf-8")


def marked_up(brand: str, old: str, new: str, part: str = "html") -> Specimen:
    """The demo's mail with other markup, or another text part, in the first section that holds `old`."""
    found = sound(brand)
    fields = {"html": ("html", "sample_html"), "text": ("text", "sample_text")}[part]
    made = [one.piece for one in found.parts]
    at = next((at for at, piece in enumerate(made) if old in getattr(piece, fields[1])), None)
    if at is None:
        assert part == "html"
        head = found.rendered.sample_html[0]
        assert old in head, old
        rendered = replace(
            found.rendered, sample_html=(head.replace(old, new, 1), *found.rendered.sample_html[1:])
        )
        return Specimen(found.mail, made, rendered, found.workspace, found.workspace_node)
    made[at] = replace(made[at], **{name: getattr(made[at], name).replace(old, new, 1) for name in fields})
    rendered = replace(
        found.rendered,
        **{
            name: tuple(
                getattr(made[number - shift], name) if number - shift == at else piece
                for number, piece in enumerate(getattr(found.rendered, name))
            )
            for name, shift in zip(fields, (1, 1) if part == "html" else (0, 0), strict=True)
        },
    )
    return Specimen(found.mail, made, rendered, found.workspace, found.workspace_node)


def remade(brand: str, change: Callable[[str], str]) -> Specimen:
    """The demo's mail with all of its HTML changed."""
    found = sound(brand)
    made = [
        replace(one.piece, html=change(one.piece.html), sample_html=change(one.piece.sample_html))
        for one in found.parts
    ]
    rendered = replace(
        found.rendered,
        html=tuple(map(change, found.rendered.html)),
        sample_html=tuple(map(change, found.rendered.sample_html)),
    )
    return Specimen(found.mail, made, rendered, found.workspace, found.workspace_node)


def changed(brand: str, **fields: Callable[[Any], Any]) -> Specimen:
    """The demo's mail with some of its fields changed after it was made."""
    found = sound(brand)
    mail = replace(found.mail, **{name: change(getattr(found.mail, name)) for name, change in fields.items()})
    pieces_ = [one.piece for one in found.parts]
    return Specimen(mail, pieces_, found.rendered, found.workspace, found.workspace_node)


def outcome(mail: Specimen, only: Iterable[str] = ()) -> Outcome:
    """What the rules, or some of them, say of a mail."""
    known = every()
    names = set(only)
    chosen, wrong = settings(mail.mail, known)
    assert wrong == []
    rules = [rule for slug, rule in known.items() if not names or slug in names]
    return run(mail, rules, chosen, {slug: known[slug] for slug in (FAILED, UNREAD, UNUSED)})


def news(mail: Specimen, brand: str) -> list[Finding]:
    """What is said of a broken mail that is not said of the demo as it is."""
    before = {(one.rule, one.section, one.message) for one in outcome(sound(brand)).findings}
    return [one for one in outcome(mail).findings if (one.rule, one.section, one.message) not in before]
