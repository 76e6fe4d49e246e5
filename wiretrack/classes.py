# SPDX-License-Identifier: MIT
"""`dataclass` as the standard library has it, but for methods that are made when they are used.

The standard one compiles six methods a class at import. Of a program's hundreds of classes a
command uses a few, and makes a few of each: it was half of what ``wiretrack show`` took.
"""

from __future__ import annotations

import dataclasses
from dataclasses import MISSING
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from dataclasses import dataclass as dataclass
else:

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
            given, wanted = {*cls.__dict__}, _wanted(frozen=frozen, eq=eq, order=order)
            dataclasses.dataclass(cls, init=False, repr=False, eq=False, kw_only=kw_only)
            for name in wanted.keys() - given:
                setattr(cls, name, _first(cls, name, wanted[name]))
            if frozen:
                cls.__setattr__, cls.__delattr__ = _refuse, _refuse
            elif eq and "__hash__" not in given:
                cls.__hash__ = None
            return cls

        return wrap if cls is None else wrap(cls)


_FEW = 30  # objects of a class that are filled in sooner than what does it is compiled


def _wanted(*, frozen: bool, eq: bool, order: bool) -> dict[str, dict[str, bool]]:
    """Return how the standard library is asked for each method, by its name."""
    names = {"__init__": "init", "__repr__": "repr"}
    names |= {"__eq__": "eq"} if eq else {}
    names |= {"__hash__": "eq"} if eq and frozen else {}
    names |= dict.fromkeys(("__lt__", "__le__", "__gt__", "__ge__"), "order") if order else {}
    none = {"init": False, "repr": False, "eq": order, "frozen": frozen}
    return {name: none | {asked: True} for name, asked in names.items()}


def _first(cls: type, name: str, how: dict[str, bool]) -> Callable[..., Any]:
    """Return a method that makes the real one, which takes its place, when that is worth it."""
    fill = _filler(cls) if name == "__init__" else None
    calls = 0

    def method(self: object, *given: Any, **named: Any) -> Any:
        nonlocal calls
        calls += 1
        if fill and calls <= _FEW and fill(self, given, named):
            return None
        made = _made(cls, name, how)
        setattr(cls, name, made)
        return made(self, *given, **named)

    method.__name__, method.__qualname__ = name, f"{cls.__qualname__}.{name}"
    return method


def _filler(cls: type) -> Callable[[object, tuple[Any, ...], dict[str, Any]], bool]:
    """Return what fills an object's fields in; it returns whether what is given is right."""
    fields = dataclasses.fields(cls)  # type: ignore[arg-type]
    blank = {each.name: each.default for each in fields}
    in_order = [each.name for each in fields if not each.kw_only]
    factories = {each.name: each.default_factory for each in fields}
    count = len(blank) if all(each.init for each in fields) else -1

    def fill(self: object, given: tuple[Any, ...], named: dict[str, Any]) -> bool:
        first = dict(zip(in_order, given, strict=False))
        values = {**blank, **first, **named}
        if len(values) != count or len(first) < len(given) or first.keys() & named.keys():
            return False
        for name, value in values.items():
            if value is MISSING:
                if (make := factories[name]) is MISSING:
                    return False
                values[name] = make()
        self.__dict__.update(values)
        if hasattr(cls, "__post_init__"):
            self.__post_init__()  # type: ignore[attr-defined]
        return True

    return fill


def _made(cls: type, name: str, how: dict[str, bool]) -> Callable[..., Any]:
    """Return the method that the standard library makes of a class with the same fields."""
    fields = dataclasses.fields(cls)  # type: ignore[arg-type]
    body: dict[str, Any] = {each.name: each for each in fields}
    body["__annotations__"] = {each.name: each.type for each in fields}
    body |= {"__module__": cls.__module__, "__qualname__": cls.__qualname__, "__doc__": cls.__doc__}
    if hasattr(cls, "__post_init__"):
        body["__post_init__"] = None
    twin = dataclasses.dataclass(**how)(type(cls.__name__, (), body))  # type: ignore[call-overload]
    method: Callable[..., Any] = twin.__dict__[name]
    return method


def _refuse(self: object, name: str, *value: object) -> None:
    doing = "assign to" if value else "delete"
    raise dataclasses.FrozenInstanceError(f"cannot {doing} field {name!r}")
