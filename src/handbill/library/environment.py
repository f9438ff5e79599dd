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


def _h(value: Any) -> str:
    """Element content."""
    return value.html if hasattr(value, "html") else str(escape(value))


def _a(value: Any) -> str:
    """A double-quoted attribute."""
    return value.attr if hasattr(value, "attr") else str(escape(value))


def _u(value: Any) -> str:
    """An address in a double-quoted attribute."""
    return value.url if hasattr(value, "url") else str(escape(value))


def _t(value: Any) -> str:
    """The plain-text part."""
    return value.plain if hasattr(value, "plain") else str(value)


def _prose(value: Any, attributes: Mapping[str, str]) -> str:
    """Copy as paragraphs and lists."""
    return str(value.html(attributes))


def _inline(value: Any, attributes: Mapping[str, str]) -> str:
    """Copy as the content of one element."""
    return str(value.inline_html(attributes))


FILTERS: Mapping[str, Callable[..., str]] = {
    "_h": _h, "_a": _a, "_u": _u, "_t": _t, "_prose": _prose, "_inline": _inline,
    "prose": _prose, "inline": _inline,
}  # fmt: skip


class _Codes(BaseLoader):
    def __init__(self, codes: Mapping[str, CodeType]) -> None:
        self.codes = codes

    def load(self, environment: Environment, name: str, globals: Any = None) -> Template:
        code = self.codes.get(name)
        if code is None:
            raise TemplateNotFound(name)
        return Template.from_code(environment, code, environment.make_globals(globals))


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
