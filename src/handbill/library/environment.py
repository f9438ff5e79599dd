"""The template environment. Enters: compiled code and tables; leaves: an environment that renders blocks.

One environment per brand and direction, nothing global. The filters are the only way a value reaches the
output, each for one context; the lexer chose them (see `splice`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import CodeType
from typing import Any

from jinja2 import BaseLoader, Environment, StrictUndefined, Template, TemplateNotFound
from markupsafe import escape


def _plain(value: Any) -> str:
    """A choice, a number or nothing as text. Anything else was not meant to be shown as it is."""
    if value is None:
        return ""
    if type(value) is str or type(value) is int:
        return str(value)
    raise TypeError(f"a {type(value).__name__} cannot be shown; one of its fields can, or copy|prose('name')")


def _h(value: Any) -> str:
    """Element content."""
    made = getattr(value, "html", None)
    return made if type(made) is str else str(escape(_plain(value)))


def _a(value: Any) -> str:
    """A double-quoted attribute."""
    made = getattr(value, "attr", None)
    return made if type(made) is str else str(escape(_plain(value)))


def _u(value: Any) -> str:
    """An address in a double-quoted attribute."""
    made = getattr(value, "url", None)
    return made if type(made) is str else str(escape(_plain(value)))


def _t(value: Any) -> str:
    """The plain-text part."""
    made = getattr(value, "plain", None)
    return made if type(made) is str else _plain(value)


def _prose(value: Any, attributes: Mapping[str, str]) -> str:
    """Copy as paragraphs and lists."""
    return str(value.html(attributes))


def _inline(value: Any, attributes: Mapping[str, str]) -> str:
    """Copy as the content of one element."""
    return str(value.inline_html(attributes))


CELL = ".cell.html"  # ends the name of a block as it stands in a cell, without space of its own around it

FILTERS: Mapping[str, Callable[..., str]] = {
    "_h": _h, "_a": _a, "_u": _u, "_t": _t, "_prose": _prose, "_inline": _inline,
}  # fmt: skip


class _Codes(BaseLoader):
    def __init__(self, codes: Mapping[str, CodeType]) -> None:
        self.codes = codes

    def load(self, environment: Environment, name: str, globals: Any = None) -> Template:
        code = self.codes.get(name)
        if code is None:
            raise TemplateNotFound(name)
        # a plain dict: every render copies the globals, and a ChainMap is forty times as slow to copy
        return Template.from_code(environment, code, environment.globals)


def make_environment(
    filters: Mapping[str, Callable[..., str]], codes: Mapping[str, CodeType] | None = None,
    tables: Mapping[str, Any] | None = None,
) -> Environment:  # fmt: skip
    """Strict about missing names; no globals but the style tables."""
    environment = Environment(
        loader=_Codes(codes or {}),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        autoescape=False,
        cache_size=-1,
        auto_reload=False,
        optimized=True,
    )
    environment.filters.clear()
    environment.filters.update(filters)
    environment.globals.clear()
    environment.globals.update(tables or {})
    return environment
