# SPDX-License-Identifier: MIT
"""What is made no sooner than it is used: dataclasses, and regular expressions.

The standard library compiles six methods of a dataclass at import, and each expression. Of hundreds
a command uses a few, and makes a few objects: that was half of what ``wiretrack show`` took.
"""

from __future__ import annotations

import dataclasses
import re
from dataclasses import MISSING
from threading import RLock
from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from collections.abc import Callable
    from dataclasses import dataclass as dataclass
    from functools import cached_property as cached_property

    Does = Callable[[Any, tuple[Any, ...], dict[str, Any]], Any]
else:

    class cached_property:  # noqa: N801 - as the standard library's
        """An attribute that is worked out when it is first asked for, as the standard library's.

        In Python 3.11 that one holds a lock while it works, one for all objects: two threads, each
        of which asks for what the other works out, would wait for each other for good.
        """

        def __init__(self, work):
            self._work, self.__doc__ = work, work.__doc__

        def __set_name__(self, owner, name):
            self._name = name

        def __get__(self, instance, owner=None):
            if instance is None:
                return self
            found = instance.__dict__[self._name] = self._work(instance)
            return found

    def dataclass(cls=None, /, *, frozen=False, eq=True, order=False, kw_only=False):
        """Make a class of its annotations, as `dataclasses.dataclass` does.

        >>> @dataclass(frozen=True)
        ... class Reach:
        ...     box: str
        ...     length_m: float = 0.0
        >>> Reach("JT1"), Reach("JT1") == Reach("JT1", 0.0), len({Reach("A"), Reach("A")})
        (Reach(box='JT1', length_m=0.0), True, 1)
        """

        def wrap(cls: type) -> type:
            given = {name for name, found in vars(cls).items() if found is not None}
            wanted = {"__init__": "init", "__repr__": "repr"}
            if eq:
                wanted |= {"__eq__": "eq"} | ({"__hash__": "eq"} if frozen else {})
            if order:
                wanted |= dict.fromkeys(("__lt__", "__le__", "__gt__", "__ge__"), "order")
            cls.__dataclass_fields__ = _Fields(cls, kw_only, frozen)
            for name in wanted.keys() - given:
                how = dict.fromkeys(("init", "repr"), False) | {"eq": order, wanted[name]: True}
                setattr(cls, name, _first(cls, name, how | {"frozen": frozen}))
            if "__init__" not in given:
                cls.__signature__ = _Signature(cls)
            if frozen:
                cls.__setattr__ = cls.__delattr__ = _refuse
            elif eq and "__hash__" not in given:
                cls.__hash__ = None
            return cls

        return wrap if cls is None else wrap(cls)


_FEW = 200  # uses of a method that take less, one by one, than to compile it
_CANT = object()
_lock = RLock()


class _Fields:
    """The fields of a class, which the standard library makes when they are asked for."""

    def __init__(self, cls: type, kw_only: bool, frozen: bool) -> None:
        self._of, self._kw_only, self._frozen = cls, kw_only, frozen

    def __get__(self, instance: object, owner: type) -> Any:
        cls = self._of
        with _lock:
            if cls.__dict__["__dataclass_fields__"] is self:
                how = {"init": False, "repr": False, "eq": False, "kw_only": self._kw_only}
                for name in ("__setattr__", "__delattr__") if self._frozen else ():
                    delattr(cls, name)  # it makes its own, and says that the class is frozen
                dataclasses.dataclass(**how, frozen=self._frozen)(cls)
        return cls.__dict__["__dataclass_fields__"]


class _Signature:
    """What a class is made of, for who asks (`inspect.signature`, `help`)."""

    def __init__(self, cls: type) -> None:
        self._of = cls

    def __get__(self, instance: object, owner: type) -> Any:
        from inspect import Parameter, signature

        if owner is not self._of:
            raise AttributeError("__signature__")  # one that inherits has its own way to be made
        how = {"init": True, "repr": False, "eq": False}
        whole = signature(_made(owner, "__init__", how))
        kept = [each for each in whole.parameters.values() if each.name != "self"]
        return whole.replace(parameters=kept, return_annotation=Parameter.empty)


def _first(cls: type, name: str, how: dict[str, bool]) -> Callable[..., Any]:
    """Return a method that does it by itself a few times, then makes what takes its place."""
    make = {"__init__": _fills, "__eq__": _equals, "__hash__": _hashes}.get(name)
    calls, does = 0, None

    def method(self: object, *given: Any, **named: Any) -> Any:
        nonlocal calls, does
        calls += 1
        if make and calls <= _FEW:
            does = does or make(cls)
            if (done := does(self, given, named)) is not _CANT:
                return done
        made = _made(cls, name, how)
        setattr(cls, name, made)
        return made(self, *given, **named)

    method.__name__, method.__qualname__ = name, f"{cls.__qualname__}.{name}"
    return method


def _fills(cls: type) -> Does:
    """Return what fills an object's fields in, where what is given is right."""
    fields = dataclasses.fields(cls)
    blank = {each.name: each.default for each in fields}
    in_order = [each.name for each in fields if not each.kw_only]
    made = [(each.name, each.default_factory) for each in fields]
    factories = {name: make for name, make in made if make is not MISSING}
    count = len(blank) if all(each.init for each in fields) else -1

    def fill(self: Any, given: tuple[Any, ...], named: dict[str, Any]) -> Any:
        first = dict(zip(in_order, given, strict=False))
        values = {**blank, **first, **named}
        if len(values) != count or len(first) < len(given) or first.keys() & named.keys():
            return _CANT
        for name, value in values.items():
            if value is MISSING:
                if name not in factories:
                    return _CANT
                values[name] = factories[name]()
        self.__dict__.update(values)
        return self.__post_init__() if hasattr(cls, "__post_init__") else None

    return fill


def _equals(cls: type) -> Does:
    names = [each.name for each in dataclasses.fields(cls) if each.compare]

    def equal(self: Any, given: tuple[Any, ...], named: dict[str, Any]) -> Any:
        (other,) = given
        if other.__class__ is not self.__class__:
            return NotImplemented
        return all(getattr(self, name) == getattr(other, name) for name in names)

    return equal


def _hashes(cls: type) -> Does:
    fields = dataclasses.fields(cls)
    names = [each.name for each in fields if (each.compare if each.hash is None else each.hash)]
    return lambda self, given, named: hash(tuple(getattr(self, name) for name in names))


def _made(cls: type, name: str, how: dict[str, bool]) -> Callable[..., Any]:
    """Return the method that the standard library makes of a class with the same fields."""
    fields = dataclasses.fields(cls)
    body: dict[str, Any] = {each.name: each for each in fields}
    body["__annotations__"] = {each.name: each.type for each in fields}
    body |= {"__module__": cls.__module__, "__qualname__": cls.__qualname__, "__doc__": cls.__doc__}
    if hasattr(cls, "__post_init__"):
        body["__post_init__"] = None
    twin: type = dataclasses.dataclass(**how)(type(cls.__name__, (), body))
    method: Callable[..., Any] = twin.__dict__[name]
    return method


def _refuse(self: object, name: str, *value: object) -> None:
    doing = "assign to" if value else "delete"
    raise dataclasses.FrozenInstanceError(f"cannot {doing} field {name!r}")


def pattern(text: str, flags: int = 0) -> re.Pattern[str]:
    """Return a regular expression that is compiled when it is used.

    >>> pattern("[0-9]+").sub("#", "JT1")
    'JT#'
    """
    return cast("re.Pattern[str]", _Pattern(text, flags))


class _Pattern:
    def __init__(self, text: str, flags: int) -> None:
        self._said = text, flags

    def __getattr__(self, name: str) -> Any:
        found = getattr(re.compile(*self._said), name)
        setattr(self, name, found)  # found at once from now on
        return found
