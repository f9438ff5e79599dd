"""Validation with places. Enters: a node and a model; leaves: the model's value, or mistakes in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from types import UnionType
from typing import TYPE_CHECKING, Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic_core import ValidationError

from handbill.base.cache import Cache
from handbill.base.errors import Mistake, nearest
from handbill.base.source import Node, find, key_place, place, plain
from handbill.models.kept import reader
from handbill.models.read import PATTERNS, kind, show

if TYPE_CHECKING:
    from pydantic import BaseModel

    M = TypeVar("M", bound=BaseModel)
else:
    M = TypeVar("M")
Way = tuple[str | int, ...]


def validate(
    model: type[M], node: Node, *, prefix: str = "", data: Any = None, skip: Sequence[str] = ()
) -> tuple[M | None, list[Mistake]]:
    """`node` read as `model`. `prefix` opens every message's path; `data` stands in for the node's values."""
    content = plain(node) if data is None else data
    if not isinstance(content, dict):
        return None, [Mistake(place(node), prefix, "a mapping is expected here", "name: value")]
    content = {name: value for name, value in content.items() if name not in skip}
    try:
        return model.model_validate(content), []
    except ValidationError as error:
        return None, mistakes(error, model, node, prefix)


def validate_kept(
    model: Callable[[], type[M]], name: str, node: Node, cache: Cache | None, *, data: Any = None
) -> tuple[M | None, list[Mistake]]:
    """As `validate`, from the model's kept schema; the model itself is asked for when something is wrong."""
    content = plain(node) if data is None else data
    try:
        return reader(model, name, cache).validate_python(content), []
    except ValidationError:
        return validate(model(), node, data=data)


def mistakes(error: ValidationError, model: type[BaseModel], node: Node, prefix: str = "") -> list[Mistake]:
    """Every complaint of pydantic in our words, at its place."""
    found: dict[tuple[Any, ...], Mistake] = {}
    details = error.errors(include_url=False)
    for detail in details:
        if detail["type"] == "too_short" and _below(detail["loc"], details):
            continue  # pydantic counts the right entries alone
        way, known, at_key = _walk(model, detail["loc"])
        message, expected, near = _words(detail, way, known)
        at_key = at_key or detail["type"] == "extra_forbidden"
        where = key_place(node, way) if at_key else place(find(node, way)[0])
        mistake = Mistake(where, join(prefix, way), message, expected, near)
        found.setdefault((where, mistake.path), mistake)  # a union complains once per branch
    return list(found.values())


def _below(loc: Sequence[Any], details: Sequence[Any]) -> bool:
    """Whether some complaint is about an entry of what stands at `loc`."""
    return any(len(one["loc"]) > len(loc) and one["loc"][: len(loc)] == loc for one in details)


def join(prefix: str, way: Sequence[str | int]) -> str:
    """`stack[2] product-stack, products[1]`."""
    text = ""
    for step in way:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            text += f".{step}" if text else step
    return ", ".join(filter(None, (prefix, text)))


def _walk(model: type[BaseModel], loc: Sequence[Any]) -> tuple[Way, list[str], bool]:
    """A location as the file has it, the names allowed at its end, and whether a key is at fault.

    Pydantic puts a union's branch into the location and marks a key with `[key]`; neither is in the file.
    """
    way: list[str | int] = []
    known: list[str] = []
    current: Any = model
    for step in loc:
        if step == "[key]":
            return tuple(way), [], True
        kind, arguments = get_origin(current), get_args(current)
        if _is_model(current):
            known = [info.alias or name for name, info in current.model_fields.items()]
            current = _field(current, str(step))
        elif kind in (Union, UnionType):
            current = next((one for one in arguments if step in _tags(one)), None)
            continue
        elif kind is dict:
            current = _bare(arguments[1])
        elif kind in (tuple, list):
            current = _bare(arguments[0])
        elif current is Any:
            pass
        else:
            continue
        way.append(step)
    return tuple(way), known, False


def _field(model: type[BaseModel], name: str) -> Any:
    for own, info in model.model_fields.items():
        if name in (own, info.alias):
            return _bare(info.annotation)
    return None


def _is_model(annotation: Any) -> bool:
    return isinstance(annotation, type) and hasattr(annotation, "model_fields")


def _bare(annotation: Any) -> Any:
    """An annotation without its metadata; `X | None` as X, for pydantic does not name that branch."""
    while get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    if get_origin(annotation) in (Union, UnionType):
        rest = [one for one in get_args(annotation) if one is not type(None)]
        if len(rest) == 1:
            return _bare(rest[0])
        return Union[tuple(rest)]  # noqa: UP007 - made from a list
    return annotation


def _tags(branch: Any) -> Iterator[str]:
    """How a branch of a union may stand in a location: its tag or its name."""
    if _is_model(branch):
        for info in branch.model_fields.values():
            yield from (one for one in get_args(info.annotation) if isinstance(one, str))
        yield branch.__name__
    elif get_origin(branch) is not dict:
        yield getattr(branch, "__name__", "")


def _words(detail: Any, way: Way, known: list[str]) -> tuple[str, str, str]:
    """Message, expectation and nearest spelling."""
    sort, context, value = detail["type"], detail.get("ctx") or {}, detail.get("input")
    name = str(way[-1]) if way else ""
    if sort == "extra_forbidden":
        expected = ("one of " + ", ".join(known)) if known else ""
        return f"unknown field {name}", expected, nearest(name, known)
    if sort == "handbill":
        return context["message"], context.get("expected", ""), context.get("nearest", "")
    if sort in ("literal_error", "union_tag_invalid"):
        options = str(context.get("expected") or context.get("expected_tags", ""))
        listed = options.replace("'", "").replace(" or ", ", ")
        given = context.get("tag", value)
        return (
            f"{show(given)} is not a choice",
            f"one of {listed}",
            nearest(str(given), listed.split(", ")) if isinstance(given, str) else "",
        )
    if sort == "string_pattern_mismatch":
        what, expected = PATTERNS.get(str(context.get("pattern")), ("a name", ""))
        return f"{show(value)} is not {what}", expected, ""
    make = _WORDED.get(sort)
    message, expected = make(value, context, name) if make else (str(detail["msg"]), "")
    return message, expected, ""


Worded = Callable[[Any, Mapping[str, Any], str], tuple[str, str]]


def _instead(expected: str) -> Worded:
    return lambda value, _context, _name: (f"{kind(value)} where {expected} is expected", "")


def _mapping(value: Any, _context: Mapping[str, Any], _name: str) -> tuple[str, str]:
    return f"{kind(value)} where a mapping is expected", "name: value"


def _whole(value: Any, _context: Mapping[str, Any], _name: str) -> tuple[str, str]:
    return f"{show(value)} is not a whole number", "a whole number"


def _entries(value: int) -> str:
    return f"{value} entry" if value == 1 else f"{value} entries"


_WORDED: Mapping[str, Worded] = {
    "missing": lambda _value, _context, name: (f"{name} is missing", ""),
    "union_tag_not_found": lambda _value, _context, _name: ("kind is missing", "such as kind: markdown"),
    "string_type": _instead("text"),
    "string_too_short": lambda value, context, name: (
        (f"{'this' if name.isdigit() else name or 'this'} is empty", "")
        if not value
        else (f"{len(value)} characters", f"{context.get('min_length')} or more")
    ),
    "string_too_long": lambda value, context, _name: (
        f"{len(str(value))} characters, more than {context.get('max_length')}",
        "fewer",
    ),
    "tuple_type": _instead("a list"),
    "list_type": _instead("a list"),
    "dict_type": _mapping,
    "model_type": _mapping,
    "model_attributes_type": _mapping,
    "too_short": lambda _value, context, _name: (
        _entries(context["actual_length"]),
        f"at least {context.get('min_length')}",
    ),
    "too_long": lambda _value, context, _name: (
        _entries(context["actual_length"]),
        f"at most {context.get('max_length')}",
    ),
    "int_parsing": _whole,
    "int_parsing_size": _whole,
    "int_from_float": _whole,
    "int_type": _instead("a whole number"),
    "float_parsing": lambda value, _context, _name: (f"{show(value)} is not a number", "a number"),
    "float_type": _instead("a number"),
    "finite_number": lambda value, _context, _name: (f"{show(value)} is not a number", "a number"),
    "decimal_type": _instead("a number"),
    "decimal_parsing": lambda value, _context, _name: (f"{show(value)} is not a number", "a number"),
    "bool_type": _instead("true or false"),
    "bool_parsing": _instead("true or false"),
    "greater_than_equal": lambda value, context, _name: (
        f"{value} is too small",
        f"{context.get('ge'):g} or more",
    ),
    "less_than_equal": lambda value, context, _name: (
        f"{value} is too large",
        f"{context.get('le'):g} or less",
    ),
}
