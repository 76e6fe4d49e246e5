# SPDX-License-Identifier: MIT
"""What to look at first when something doesn't work: the path, and what along it isn't sound."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.days import day
from wiretrack.tasks.find.conductors import show_conductor
from wiretrack.tasks.find.tracing import trace

if TYPE_CHECKING:
    from wiretrack.store.store import Registry


def path_doubts(registry: Registry, what: str) -> dict[str, Any]:
    """Return the traced path of `what`, its items with a list of ``doubts`` each.

    A conductor is doubtful by its last readings that fail or are in doubt, by an end that isn't
    landed, and by having no reading at all; a device by standing open or unknown.
    """
    traced = trace(registry, what)
    path = [{**item, "doubts": _doubts(registry, item)} for item in traced["path"]]
    return {**traced, "path": path, "sound": not any(item["doubts"] for item in path)}


def _doubts(registry: Registry, item: dict[str, Any]) -> list[str]:
    if "conductor" in item:
        return _of_conductor(show_conductor(registry, item["conductor"]))
    if "device" in item and item["closed"] is None:
        return ["the record doesn't say whether it is closed"]
    return []


def _of_conductor(record: dict[str, Any]) -> list[str]:
    doubts = [
        f"{end['enclosure']} end is {end['state'] or 'not known to be landed'}"
        for end in record["ends"]
        if end["state"] != "landed"
    ]
    last = {(r["kind"], r["against"]): r for r in record["readings"] if not r["superseded"]}
    for reading in last.values():
        verdict = reading["verdict"]
        if verdict["outcome"] != "pass":
            read = f"{reading['kind']} {day(reading['at'])}"
            doubts.append(f"{read}, {verdict['outcome']}: {verdict['reason']}")
    return doubts if last else [*doubts, "never tested"]
