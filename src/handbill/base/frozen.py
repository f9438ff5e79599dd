"""Frozen records. Enters: an annotated class; leaves: what `dataclass(frozen=True, slots=True)` makes of it.

dataclasses compiles six methods for every class at import, which for some fifty classes is a tenth of a cold
start. Here the classes share them, save `__init__`, which is compiled when the first record is made. Fields
follow PEP 557; `fields`, `replace`, `asdict`, pickling and matching work as ever. What is rarer is passed on.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import MISSING, field
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from dataclasses import dataclass

__all__ = ["dataclass", "field"]


class _Fields:
    """`__dataclass_fields__`, worked out when someone asks and then kept in the class."""

    def __init__(self, annotations: dict[str, Any], defaults: dict[str, Any]) -> None:
        self.annotations = annotations
        self.defaults = defaults

    def __get__(self, instance: object, owner: type) -> Any:
        body = {**self.defaults, "__annotations__": self.annotations, "__module__": owner.__module__}
        made: Any = dataclasses.dataclass(type(owner.__name__, (), body))
        holder: Any = next(one for one in owner.__mro__ if "_record" in one.__dict__)
        holder.__dataclass_fields__ = made.__dataclass_fields__
        return made.__dataclass_fields__


def _record(cls: type) -> type:
    body = dict(cls.__dict__)
    annotations = body.get("__annotations__", {})
    defaults = {name: body.pop(name) for name in annotations if name in body}
    if any(isinstance(default, dataclasses.Field) and _rare(default) for default in defaults.values()):
        return dataclasses.dataclass(frozen=True, slots=True)(cls)
    for name in ("__dict__", "__weakref__"):
        body.pop(name, None)
    base: _Fields | None = getattr(cls, "_record", (None,))[0]
    slots = tuple(name for name in annotations if base is None or name not in base.annotations)
    if base is not None:
        annotations, defaults = {**base.annotations, **annotations}, {**base.defaults, **defaults}
    names = tuple(annotations)
    record = _Fields(annotations, defaults)
    body |= {
        "__slots__": slots, "__match_args__": names, "__dataclass_fields__": record, "_record": (record,),
        "__setattr__": _refuse, "__delattr__": _refuse, "__getstate__": _state, "__setstate__": _restore,
        "__dataclass_params__": _PARAMETERS,
    }  # fmt: skip
    for name, shared in (("__eq__", _equal), ("__hash__", _hash), ("__repr__", _show)):
        body.setdefault(name, shared)
    made: Any = type(cls)(cls.__name__, cls.__bases__, body)

    def __init__(self: Any, *args: Any, **given: Any) -> None:  # noqa: N807 - stands in for it until first used
        made.__init__ = _init(made, defaults)
        made.__init__(self, *args, **given)

    made.__init__ = __init__
    return made  # type: ignore[no-any-return]


def _rare(given: Any) -> bool:
    """Whether `field()` was told anything but a default."""
    plain = given.init and given.repr and given.compare and given.hash is None and given.kw_only is MISSING
    return not plain


def _init(cls: Any, defaults: dict[str, Any]) -> Callable[..., None]:
    scope: dict[str, Any] = {"_set": object.__setattr__, "_absent": MISSING}
    parameters, body = ["self"], []
    for name in cls.__match_args__:
        default, value = defaults.get(name, MISSING), name
        if isinstance(default, dataclasses.Field):
            if default.default_factory is not MISSING:
                scope[f"_make_{name}"] = default.default_factory
                value = f"_make_{name}() if {name} is _absent else {name}"
                parameters.append(f"{name}=_absent")
            else:
                default = default.default
        if value == name:
            scope[f"_default_{name}"] = default
            parameters.append(name if default is MISSING else f"{name}=_default_{name}")
        body.append(f" _set(self, {name!r}, {value})")
    if hasattr(cls, "__post_init__"):
        body.append(" self.__post_init__()")
    exec(f"def __init__({', '.join(parameters)}):\n" + "\n".join(body or [" pass"]), scope)
    made: Callable[..., None] = scope["__init__"]
    made.__qualname__, made.__module__ = f"{cls.__qualname__}.__init__", cls.__module__
    return made


def _values(record: Any) -> tuple[Any, ...]:
    return tuple([getattr(record, name) for name in record.__match_args__])


def _refuse(self: object, name: str, value: object = None) -> NoReturn:
    raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")


def _equal(self: Any, other: object) -> Any:
    return _values(self) == _values(other) if other.__class__ is self.__class__ else NotImplemented


def _hash(self: Any) -> int:
    return hash(_values(self))


def _show(self: Any) -> str:
    shown = ", ".join(f"{name}={getattr(self, name)!r}" for name in self.__match_args__)
    return f"{type(self).__qualname__}({shown})"


def _state(self: Any) -> list[Any]:
    return list(_values(self))


def _restore(self: Any, state: list[Any]) -> None:
    for name, value in zip(self.__match_args__, state, strict=True):
        object.__setattr__(self, name, value)


_PARAMETERS = dataclasses.dataclass(frozen=True)(type("_", (), {})).__dataclass_params__  # type: ignore[attr-defined]


def _dataclass(*, frozen: bool = False, slots: bool = False, **more: Any) -> Any:
    if frozen and slots and not more:
        return _record
    return dataclasses.dataclass(frozen=frozen, slots=slots, **more)


if not TYPE_CHECKING:
    dataclass = _dataclass
