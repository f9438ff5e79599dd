"""The demo's campaign, loaded. Enters: the workspace `demo/`; leaves: a resolved mail and fresh copies."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from handbill.base.cache import Cache
from handbill.loader import Loader
from handbill.pipeline import resolve_campaign
from handbill.resolve.copy import Copy
from handbill.resolve.mail import Mail, Spoken
from handbill.resolve.text import Text
from handbill.resolve.values import Fields

ROOT = Path(__file__).resolve().parents[2]
CAMPAIGN = ROOT / "demo" / "campaigns" / "winter-last-call.yaml"


def load_mail() -> Mail:
    """The demo's mail, resolved; blocks come from the cache when they are there."""
    return resolve_campaign(Loader(ROOT / "demo", Cache()), CAMPAIGN)


def mapped(value: Any, leaf: Callable[[Any], Any]) -> Any:
    """`value` with every text and copy in it replaced by what `leaf` makes of it."""
    if isinstance(value, (Text, Copy)):
        return leaf(value)
    if isinstance(value, Fields):
        return Fields(**{name: mapped(one, leaf) for name, one in vars(value).items()})
    if isinstance(value, Mapping):
        return {name: mapped(one, leaf) for name, one in value.items()}
    if isinstance(value, (tuple, list)):
        return tuple(mapped(one, leaf) for one in value)
    return value


def unwritten(value: Text | Copy) -> Text | Copy:
    """The same value before any of its forms was written, as a variant's own values arrive."""
    if isinstance(value, Copy):
        return Copy(value.tree, value._voice)
    return type(value)(value.filled, value._voice)


def changed(section: Spoken) -> Spoken:
    """A section that no renderer has seen: equal fields, but other objects that hold no written form yet."""
    tagged = mapped(section.tagged, unwritten)
    same = section.sampled is section.tagged
    return replace(section, tagged=tagged, sampled=tagged if same else mapped(section.sampled, unwritten))


def next_variant(mail: Mail, *numbers: int) -> Mail:
    """`mail` with the sections of these numbers changed, all of them when none is given."""
    which = numbers or range(len(mail.sections))
    return replace(
        mail,
        sections=tuple(
            changed(section) if number in which else section for number, section in enumerate(mail.sections)
        ),
    )
