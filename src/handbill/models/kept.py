"""Models without pydantic. Enters: a model's core schema or value; leaves: either in a form to keep.

Importing pydantic and building its models takes longer than compiling a mail. So a model's schema is kept per
user with plain classes in place of the models; pydantic_core, which does the checking, needs no more.
"""

from __future__ import annotations

import pickle
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar, cast

import pydantic_core
from pydantic_core import SchemaValidator

from handbill.base.cache import Cache, code_stamp, seal, unseal

if TYPE_CHECKING:
    from pydantic import BaseModel

    M = TypeVar("M", bound=BaseModel)
else:
    M = TypeVar("M")

_UNREAD = (
    "metadata",
    "serialization",
    "json_schema_input_schema",
)  # parts of a schema that checking leaves alone
_BY_NAME = ("fields", "choices")  # parts whose keys are names of a file


class Value:
    """A checked value: the model's fields as attributes, which do not change."""

    # what pydantic_core sets on whatever a schema calls its model
    __slots__ = ("__dict__", "__pydantic_extra__", "__pydantic_fields_set__", "__pydantic_private__")

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError(f"{name} cannot be set")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Value) and self.__dict__ == other.__dict__

    def __hash__(self) -> int:
        return hash(tuple(self.__dict__.items()))

    def __repr__(self) -> str:
        return "Value(" + ", ".join(f"{name}={value!r}" for name, value in self.__dict__.items()) + ")"

    def __reduce__(self) -> tuple[Any, ...]:
        return _value, (self.__dict__,)


def _value(fields: dict[str, Any]) -> Value:
    made = Value()
    made.__dict__.update(fields)
    return made


def stand_in(**fields: Any) -> Any:
    """A model's value that no file said; every field that is asked for must be given."""
    return _value(fields)


def kept_as(versions: str = "") -> str:
    """What every kept form depends on beside its content: the programs that made it."""
    return f"{code_stamp()} {pydantic_core.__version__} {sys.version_info[:2]} {versions}"


def plain_value(value: M) -> M:
    """`value` with a `Value` in place of every model in it; typed as the model it was."""
    return cast("M", _plain(value))


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _plain(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return type(value)(_plain(one) for one in value)
    return _value(_plain(value.__dict__)) if hasattr(type(value), "__pydantic_fields__") else value


def _thin(node: Any) -> Any:
    """A core schema with `Value` in place of its models, and nothing that only pydantic reads."""
    if isinstance(node, list | tuple):
        return type(node)(_thin(one) for one in node)
    if not isinstance(node, dict):
        return _plain(node)
    made: dict[Any, Any] = {}
    for name, one in node.items():
        if name in _UNREAD:
            continue
        if name in _BY_NAME and isinstance(one, dict):
            made[name] = {key: _thin(inner) for key, inner in one.items()}
        elif name in ("cls", "generic_origin") and isinstance(one, type):
            if name == "cls":
                made[name] = Value
        else:
            made[name] = _thin(one)
    return made


def reader(model: Callable[[], type[BaseModel]], name: str, cache: Cache | None) -> SchemaValidator:
    """What checks values as `model()` does and makes `Value`s; `model` is asked for only on a miss."""
    key = f"schema {kept_as()} {name}"
    kept = unseal(cache.get(key)) if cache is not None else None
    if kept is not None:
        try:
            return SchemaValidator(pickle.loads(kept))  # the cache is private to the user; see library.build
        except Exception:  # a damaged entry is a miss, whatever it breaks on
            pass
    made = model()
    made.model_rebuild()
    schema = _thin(made.__pydantic_core_schema__)
    if cache is not None:
        cache.put(key, seal(pickle.dumps(schema, protocol=5)))
    return SchemaValidator(schema)
