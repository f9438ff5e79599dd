"""A block in words. Enters: its spec, and what a brand sets instead; leaves: rows for lists and pages."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from handbill.library.spec import BlockSpec, Cycle, FieldSpec, Slot


def field_rows(
    specs: Mapping[str, FieldSpec], own: Mapping[str, Any], before: str = "", step: str = "  "
) -> Iterator[tuple[str, str, str]]:
    """(name, kind, about) of every field; those inside others follow them, moved in by `step`."""
    for name, spec in specs.items():
        inner = own.get(name)
        default = spec.default if inner is None or isinstance(inner, Mapping) else inner
        yield before + name, kind(spec, default), spec.about
        yield from field_rows(spec.of, inner if isinstance(inner, Mapping) else {}, before + step, step)


def kind(spec: FieldSpec, default: Any) -> str:
    """A field's type, limits and default in a line."""
    parts: list[str] = [spec.type]
    if spec.options:
        parts = [f"{spec.type} of " + " | ".join(spec.options)]
    if spec.required:
        parts.append("required")
    if spec.least:
        parts.append(f"at least {spec.least}")
    if spec.most:
        parts.append(f"at most {spec.most}" + (" characters" if spec.type in ("text", "copy") else ""))
    if isinstance(default, Cycle):
        among = "".join(f" among {name} {value}" for name, value in default.among.items())
        parts.append("default " + ", ".join(default.cycle) + f" in turn{among}")
    elif default is not None:
        parts.append(f"default {default}")
    if spec.inherits:
        parts.append(f"default the brand's {spec.inherits}")
    return ", ".join(parts)


def measure_rows(spec: BlockSpec, own: Mapping[str, Any]) -> list[tuple[str, str]]:
    """(name, size) of every measure."""
    return [(name, measure(own.get(name, value))) for name, value in spec.measures.items()]


def measure(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{screen} {size}" for screen, size in value.items())
    return str(value)


def slot_rows(spec: BlockSpec) -> list[tuple[str, str]]:
    """(name, columns) of every slot."""
    return [(name, slot(one)) for name, one in spec.slots.items()]


def slot(one: Slot) -> str:
    made = ", ".join(f"{name} {width}" for name, width in one.columns.items())
    return f"of {one.of}: {made}" + (f", gap {one.gap}" if one.gap != "0" else "")


def word_rows(spec: BlockSpec) -> list[tuple[str, str, str]]:
    """(language, word, text) of every house word."""
    return [
        (language, word, said_as(said))
        for language, table in spec.words.items()
        for word, said in table.items()
    ]


def said_as(said: str | Mapping[str, str]) -> str:
    """A house word, or its forms by plural category."""
    return said if isinstance(said, str) else ", ".join(f"{name}: {text}" for name, text in said.items())
