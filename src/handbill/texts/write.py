"""`texts/LANG.yaml` written. Enters: translations in order and the file as it was; leaves: its new bytes.

The order is the campaign's, so that the same translations make the same file. Comments on lines of their own
stay above what they stood above.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import yaml

from handbill.base.frozen import dataclass, field
from handbill.base.source import place
from handbill.models.read import FORMAT
from handbill.texts.read import ERROR, Texts
from handbill.texts.source import Key

_WIDE = 1 << 30  # no folding: a line of the file is a line of the text
_STEP = "  "


@dataclass(frozen=True, slots=True)
class Kept:
    """One translation to write: its text and the hash of what it was made from."""

    key: Key
    text: str
    made_from: str | None = None


@dataclass(frozen=True, slots=True)
class Comments:
    """Whole-line comments of a file: those at its top, those above a text, those after the last one."""

    top: tuple[str, ...] = ()
    above: Mapping[Key, tuple[str, ...]] = field(default_factory=dict)
    end: tuple[str, ...] = ()


class _Dumper(yaml.SafeDumper):
    """Text over several lines stands as such, where YAML can hold it so."""


def _text(dumper: Any, text: str) -> Any:
    block = "\n" in text and not text.endswith("\n")  # else what follows would belong to it
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style="|" if block else None)


_Dumper.add_representer(str, _text)


def file_bytes(kept: Sequence[Kept], before: Texts | None = None, comments: Comments | None = None) -> bytes:
    """The whole file; `kept` in the order to write, `before` gives the policies."""
    comments = comments or Comments()
    lines = [*comments.top, f"handbill: {FORMAT}"]
    for name in ("untranslated", "out_of_date"):
        policy = getattr(before, name, ERROR)
        if policy != ERROR:
            lines.append(f"{name}: {policy}")
    lines += _parts(kept, "", comments.above)
    stamps = [Kept(one.key, one.made_from) for one in kept if one.made_from is not None]
    lines += comments.end
    if stamps:
        lines += [
            "",
            "# What each text was translated from, as a hash: handbill sees by it what has changed.",
        ]
        lines += ["made_from:", *_parts(stamps, _STEP, {})]
    return ("\n".join(lines) + "\n").encode()


def _parts(kept: Sequence[Kept], indent: str, above: Mapping[Key, tuple[str, ...]]) -> list[str]:
    """`mail`, `sections` and `variants`, each when it holds something."""
    lines = _for(kept, "", indent, above)
    conditions = dict.fromkeys(one.key.where for one in kept if one.key.where)
    if conditions:
        lines.append(f"{indent}variants:")
    for where in conditions:
        lines.append(f"{indent}{_STEP}{_one(where)}:")
        lines += _for(kept, where, indent + _STEP * 2, above)
    return lines


def _for(kept: Sequence[Kept], where: str, indent: str, above: Mapping[Key, tuple[str, ...]]) -> list[str]:
    mine = [one for one in kept if one.key.where == where]
    mail = [one for one in mine if not one.key.section]
    lines = [f"{indent}mail:", *_fields(mail, indent + _STEP, above)] if mail else []
    ids = dict.fromkeys(one.key.section for one in mine if one.key.section)
    if ids:
        lines.append(f"{indent}sections:")
    for name in ids:
        lines.append(f"{indent}{_STEP}{_one(name)}:")
        lines += _fields([one for one in mine if one.key.section == name], indent + _STEP * 2, above)
    return lines


def _fields(kept: Iterable[Kept], indent: str, above: Mapping[Key, tuple[str, ...]]) -> Iterator[str]:
    for one in kept:
        yield from (f"{indent}{line}" for line in above.get(one.key, ()))
        made = yaml.dump({one.key.field: one.text}, Dumper=_Dumper, allow_unicode=True, width=_WIDE)
        yield from (f"{indent}{line}" if line else "" for line in made[:-1].split("\n"))


def _one(name: str) -> str:
    """A key as YAML holds it, in quotes where it needs them."""
    made: str = yaml.dump({name: 0}, Dumper=_Dumper, allow_unicode=True, width=_WIDE)
    return made.rstrip("\n").removesuffix(": 0")


def comments_of(raw: str, texts: Texts) -> Comments:
    """The comments of the file that `texts` was read from; one at the end of a line is not seen."""
    places = sorted((entry.place.line, key) for key, entry in texts.entries.items())
    lines = raw.splitlines()
    inside = _inside(lines, texts)
    top: list[str] = []
    above: dict[Key, tuple[str, ...]] = {}
    end: list[str] = []
    begun = False
    for number, line in enumerate(lines, 1):
        bare = line.strip()
        if not bare.startswith("#") or number in inside:
            begun = begun or bool(bare)
            continue
        if not begun:
            top.append(line)
            continue
        key = next((key for at, key in places if at > number), None)
        if key is not None:
            above[key] = (*above.get(key, ()), bare)
        elif not bare.startswith("# What each text was translated from"):
            end.append(bare)
    return Comments(tuple(top), above, tuple(end))


def _inside(lines: Sequence[str], texts: Texts) -> frozenset[int]:
    """The lines of texts that stand over several lines: what looks like a comment there is none."""
    found: set[int] = set()
    for entry in texts.entries.values():
        style, start = getattr(entry.node, "style", None), place(entry.node).line
        ends = style in ("'", '"') and lines[start - 1].rstrip().endswith((style, "}", "]", ","))
        if not style or ends:
            continue
        deep = entry.place.column
        for number in range(start + 1, len(lines) + 1):
            line = lines[number - 1]
            if line.strip() and len(line) - len(line.lstrip()) < deep:
                break
            found.add(number)
    return frozenset(found)
