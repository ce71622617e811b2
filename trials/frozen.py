"""Frozen dataclasses that are quick to define.

The standard library writes and compiles six functions for each; for the hundred that one command
uses that took two fifths of the time of loading pandas. Here all classes share them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, FrozenInstanceError, dataclass, field, fields
from functools import cache, partial
from inspect import Parameter, Signature
from reprlib import recursive_repr
from typing import Any, TypeVar, dataclass_transform, overload

Class = TypeVar("Class", bound=type)


@overload
def frozen(cls: Class, /) -> Class: ...
@overload
def frozen(
    *, kw_only: bool = False, eq: bool = True, slots: bool = True
) -> Callable[[Class], Class]: ...
@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def frozen(
    cls: Any = None, /, *, kw_only: bool = False, eq: bool = True, slots: bool = True
) -> Any:
    """Make a class a dataclass whose fields are not changed.

    kw_only : fields are given by name. eq : two of a class are equal where their fields are, else
    each to itself alone. slots : there is room for the fields alone, none for what is worked out of
    them once (`functools.cached_property`). What the class defines itself stays.
    """
    shared = (*SHARED, *COMPARED) if eq else SHARED

    def made(cls: type) -> type:
        cls = dataclass(init=False, repr=False, eq=False, slots=slots, kw_only=kw_only)(cls)
        for name, function in shared:
            if name not in vars(cls):
                setattr(cls, name, function)
        return cls

    return made if cls is None else made(cls)


class _Signed:
    """What a class takes, for who asks with `inspect.signature`."""

    def __get__(self, instance: object, cls: type) -> Signature:
        return _signature(cls)


@cache
def _signature(cls: Any) -> Signature:
    parameters = [
        Parameter(
            f.name,
            Parameter.KEYWORD_ONLY if f.kw_only else Parameter.POSITIONAL_OR_KEYWORD,
            default=Parameter.empty if _must_be_given(f) else _default(f),
            annotation=f.type,
        )
        for f in sorted(fields(cls), key=lambda f: bool(f.kw_only))
    ]
    return Signature(parameters, return_annotation=None)


@cache
def _defaults(cls: Any) -> tuple[tuple[str, Callable[[], Any] | None], ...]:
    """Each field that is taken, and what makes its default."""
    return tuple((f.name, None if _must_be_given(f) else partial(_default, f)) for f in fields(cls))


def _must_be_given(f: Any) -> bool:
    return f.default is MISSING and f.default_factory is MISSING


def _default(f: Any) -> Any:
    return f.default if f.default_factory is MISSING else f.default_factory()


@cache
def _by_place(cls: Any) -> tuple[str, ...]:
    return tuple(f.name for f in fields(cls) if not f.kw_only)


def _fill(self: Any, /, *placed: object, **named: object) -> None:
    cls: Any = type(self)
    places = _by_place(cls)
    given = dict(zip(places, placed, strict=False))
    wrong = len(placed) > len(places) or not given.keys().isdisjoint(named)
    given |= named
    for name, default in _defaults(cls):
        if name in given:
            object.__setattr__(self, name, given.pop(name))
        elif default:
            object.__setattr__(self, name, default())
        else:
            wrong = True
    if wrong or given:
        _signature(cls).bind(*placed, **named)  # says what


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


SHARED = (
    ("__init__", _fill),
    ("__signature__", _Signed()),
    ("__setattr__", _set_once),
    ("__delattr__", _keep),
    ("__repr__", _said),
)
COMPARED = (("__eq__", _equal), ("__hash__", _hash))
