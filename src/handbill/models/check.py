"""Validation with places. Enters: a node and a model; leaves: the model's value or mistakes, worded plainly."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from handbill.base.errors import Mistake, nearest
from handbill.base.source import Node, find, key_place, place, plain

M = TypeVar("M", bound=BaseModel)
Way = tuple[str | int, ...]


def validate(
    model: type[M], node: Node, *, prefix: str = "", data: Any = None, skip: Sequence[str] = ()
) -> tuple[M | None, list[Mistake]]:
    """`node` read as `model`. `prefix` opens every message's path; `data` stands in for the node's plain form."""
    content = plain(node) if data is None else data
    if not isinstance(content, dict):
        return None, [Mistake(place(node), prefix, "a mapping is expected here", "name: value")]
    content = {name: value for name, value in content.items() if name not in skip}
    try:
        return model.model_validate(content), []
    except ValidationError as error:
        return None, mistakes(error, model, node, prefix)


def mistakes(error: ValidationError, model: type[BaseModel], node: Node, prefix: str = "") -> list[Mistake]:
    """Every complaint of pydantic in our words, at its place."""
    found: dict[tuple[Any, ...], Mistake] = {}
    for detail in error.errors(include_url=False):
        way = tuple(step for step in detail["loc"] if step != "__root__")
        way = _real(node, way)
        message, expected, near, at_key = _words(detail, model, way)
        where = key_place(node, way) if at_key else place(find(node, way)[0])
        mistake = Mistake(where, join(prefix, way), message, expected, near)
        found.setdefault((where, mistake.path), mistake)  # a union complains once per branch
    return list(found.values())


def _real(node: Node, way: Sequence[Any]) -> Way:
    """The steps that exist in the file: unions put their branch's tag into the location."""
    real: list[str | int] = []
    for number, step in enumerate(way):
        if find(node, (*real, step))[1] or number == len(way) - 1:
            real.append(step)
    return tuple(real)


def join(prefix: str, way: Sequence[str | int]) -> str:
    """`stack[2] product-stack, products[1]`."""
    text = ""
    for step in way:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            text += f".{step}" if text else step
    return ", ".join(filter(None, (prefix, text)))


def _fields(model: type[BaseModel], way: Sequence[str | int]) -> list[str]:
    """The names allowed where an unknown one was written."""
    current: Any = model
    for step in way[:-1]:
        if not (isinstance(current, type) and issubclass(current, BaseModel)):
            return []
        info = current.model_fields.get(str(step)) if isinstance(step, str) else None
        if info is None:
            continue
        current = _model_in(info.annotation)
    if isinstance(current, type) and issubclass(current, BaseModel):
        return [info.alias or name for name, info in current.model_fields.items()]
    return []


def _model_in(annotation: Any) -> Any:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for argument in get_args(annotation):
        inner = _model_in(argument)
        if inner is not None:
            return inner
    return None


def _words(detail: Any, model: type[BaseModel], way: Way) -> tuple[str, str, str, bool]:
    kind, context, value = detail["type"], detail.get("ctx") or {}, detail.get("input")
    name = str(way[-1]) if way else ""
    if kind == "missing":
        return f"{name} is missing", "", "", False
    if kind == "extra_forbidden":
        known = _fields(model, way)
        return (
            f"unknown field {name}",
            ("one of " + ", ".join(known)) if known else "",
            nearest(name, known),
            True,
        )
    if kind == "handbill":
        return context["message"], context.get("expected", ""), context.get("nearest", ""), False
    if kind in ("literal_error", "union_tag_invalid"):
        options = (
            str(context.get("expected") or context.get("expected_tags", ""))
            .replace("'", "")
            .replace(" or ", ", ")
        )
        given = context.get("tag", value)
        return (
            f"{given!r} is not a choice",
            f"one of {options}",
            nearest(str(given), options.split(", ")),
            False,
        )
    worded: dict[str, Callable[[], tuple[str, str]]] = {
        "union_tag_not_found": lambda: ("kind is missing", "a kind, such as kind: markdown"),
        "string_type": lambda: (f"{_kind(value)} where text is expected", "text"),
        "string_too_short": lambda: ("there is no text", "text"),
        "string_too_long": lambda: (
            f"{len(str(value))} characters, more than {context.get('max_length')}",
            "fewer",
        ),
        "string_pattern_mismatch": lambda: (
            f"{value!r} is not a name",
            _pattern(str(context.get("pattern"))),
        ),
        "tuple_type": lambda: (f"{_kind(value)} where a list is expected", "a list"),
        "list_type": lambda: (f"{_kind(value)} where a list is expected", "a list"),
        "dict_type": lambda: (f"{_kind(value)} where a mapping is expected", "name: value"),
        "model_type": lambda: (f"{_kind(value)} where a mapping is expected", "name: value"),
        "too_short": lambda: (
            f"{context.get('actual_length')} entries",
            f"at least {context.get('min_length')}",
        ),
        "too_long": lambda: (
            f"{context.get('actual_length')} entries",
            f"at most {context.get('max_length')}",
        ),
        "int_parsing": lambda: (f"{value!r} is not a whole number", "a whole number"),
        "int_type": lambda: (f"{_kind(value)} where a whole number is expected", "a whole number"),
        "float_parsing": lambda: (f"{value!r} is not a number", "a number"),
        "greater_than_equal": lambda: (f"{value} is too small", f"{context.get('ge')} or more"),
        "less_than_equal": lambda: (f"{value} is too large", f"{context.get('le')} or less"),
    }
    make = worded.get(kind)
    message, expected = make() if make else (str(detail["msg"]), "")
    return message, expected, "", False


def _kind(value: Any) -> str:
    if value is None:
        return "nothing"
    return {dict: "a mapping", list: "a list", str: "text"}.get(type(value), str(value))


def _pattern(pattern: str) -> str:
    if "A-Z]{3}" in pattern:
        return "an ISO 4217 code such as EUR"
    separator = "underscores" if "_" in pattern else "hyphens"
    return f"lower-case letters, digits and {separator}, a letter first"
