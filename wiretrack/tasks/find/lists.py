# SPDX-License-Identifier: MIT
"""Long lists, a part at a time, so that each part costs what it shows."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any, TypeVar

from wiretrack.procedure import RINGOUT
from wiretrack.store.lists import circuits_after, pulls_after
from wiretrack.store.procedures import begun

if TYPE_CHECKING:
    from wiretrack.store.lists import ListedCircuit, ListedPull
    from wiretrack.store.store import Registry

AT_ONCE = 100
T = TypeVar("T", "ListedCircuit", "ListedPull")


def circuit_list(registry: Registry, after: int = 0) -> tuple[list[ListedCircuit], int | None]:
    """Return the circuits in service that come next, and what `after` the next part begins with."""
    return _part(circuits_after(registry, after, AT_ONCE + 1))


def pull_list(registry: Registry, after: int = 0) -> tuple[list[dict[str, Any]], int | None]:
    """Return the pulls that come next, with their boxes and how far each ring-out has come."""
    found, following = _part(pulls_after(registry, after, AT_ONCE + 1))
    return [_pull(registry, pull) for pull in found], following


def _pull(registry: Registry, pull: ListedPull) -> dict[str, Any]:
    stored = begun(registry, RINGOUT, pull=pull.code)
    finished = stored is not None and stored[1]
    return {**asdict(pull), "begun": stored is not None, "finished": finished}


def _part(found: list[T]) -> tuple[list[T], int | None]:
    shown = found[:AT_ONCE]
    return shown, shown[-1].number if len(found) > AT_ONCE else None
