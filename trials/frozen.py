"""Frozen dataclasses with slots that are quick to define.

The standard library writes and compiles six functions for each; for the hundred that one command
uses that took two fifths of the time of loading pandas. Here it compiles one, `__init__`, and all
classes share the others.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import FrozenInstanceError, dataclass, field, fields
from functools import cache
from reprlib import recursive_repr
from typing import Any, TypeVar, dataclass_transform, overload

Class = TypeVar("Class", bound=type)


@overload
def frozen(cls: Class, /) -> Class: ...
@overload
def frozen(*, kw_only: bool = False, eq: bool = True) -> Callable[[Class], Class]: ...
@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def frozen(cls: Any = None, /, *, kw_only: bool = False, eq: bool = True) -> Any:
    """Make a class a dataclass with slots whose fields are not changed.

    kw_only : fields are given by name. eq : two of a class are equal where their fields are, else
    each to itself alone. What the class defines itself stays.
    """
    shared = (*SHARED, *COMPARED) if eq else SHARED

    def made(cls: type) -> type:
        cls = dataclass(repr=False, eq=False, slots=True, kw_only=kw_only)(cls)
        for name, function in shared:
            if name not in vars(cls):
                setattr(cls, name, function)
        return cls

    return made if cls is None else made(cls)


def _set_once(self: Any, name: str, value: object) -> None:
    if hasattr(self, name):
        raise FrozenInstanceError(f"cannot assign to field {name!r}")
    object.__setattr__(self, name, value)


def _keep(self: Any, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


@recursive_repr()
def _said(self: Any) -> str:
    said = ", ".join(f"{f.name}={getattr(self, f.name)!r}" for f in fields(self) if f.repr)
    return f"{type(self).__qualname__}({said})"


@cache
def _compared(cls: Any) -> tuple[str, ...]:
    return tuple(f.name for f in fields(cls) if f.compare)


def _values(self: Any) -> tuple[object, ...]:
    cls: Any = type(self)
    return tuple([getattr(self, name) for name in _compared(cls)])


def _equal(self: Any, other: object) -> Any:
    return _values(self) == _values(other) if type(other) is type(self) else NotImplemented


def _hash(self: Any) -> int:
    return hash(_values(self))


SHARED = (("__setattr__", _set_once), ("__delattr__", _keep), ("__repr__", _said))
COMPARED = (("__eq__", _equal), ("__hash__", _hash))
