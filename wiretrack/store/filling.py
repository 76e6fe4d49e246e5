# SPDX-License-Identifier: MIT
"""The entries that a rescued copy lacks amid its log, taken from another copy that has them.

What follows a hole in the log, or knows it, names the hash of what was in it, so what is put there
is proved. It is put where it was learned: ahead of the first entry that knows it. Then all records
are made anew.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.chain import BEGINNING, is_whole, said_in
from wiretrack.store.log import entries
from wiretrack.store.operations import held_in
from wiretrack.store.replay import refill, replayed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.chain import Entry
    from wiretrack.store.store import Registry
    from wiretrack.store.tails import Tail

Key = tuple[bytes, int]  # a writer, and a number of its entries
_MOST = 2**62


def fill(registry: Registry, tail: Tail) -> int:
    """Take from a tail what is missing amid this registry's log; return how many entries."""
    holes = _holes(registry)
    if not holes:
        return 0
    there = [entry for entry, _ in entries(registry.connection, "nr")]
    found = _proved(there, _offered(tail, holes))
    if not found:
        return 0
    replay = replayed(lambda: _in_order(there, found))
    with registry.write(noted=False):
        refill(registry.connection, replay)
    return len(found)


def _holes(registry: Registry) -> dict[bytes, set[int]]:
    """Return the numbers that are missing of each writer's entries, up to the last one known of."""
    last: dict[bytes, int] = {}
    for row in registry.rows("SELECT writer, number, body FROM log WHERE number = have"):
        for writer, number, _ in held_in(said_in(row["body"])):
            last[writer] = max(number, last.get(writer, 0))
    found = {}
    sql = "SELECT writer, max(number) AS last, count(*) AS n FROM log GROUP BY writer"
    for row in registry.rows(sql):
        most = max(row["last"], last.pop(row["writer"], 0))
        if row["n"] < most:
            numbers = "SELECT number FROM log WHERE writer = ?"
            there = {number for (number,) in registry.connection.execute(numbers, [row["writer"]])}
            found[row["writer"]] = {*range(1, most + 1)} - there
    return found | {writer: {*range(1, most + 1)} for writer, most in last.items()}


def _offered(tail: Tail, holes: dict[bytes, set[int]]) -> dict[Key, Entry]:
    """Return what a tail has of the holes, in the order in which it was learned there."""
    numbers = dict.fromkeys(tail.held(), _MOST)
    numbers |= {writer: min(missing) - 1 for writer, missing in holes.items()}
    return {
        (entry.writer, entry.number): entry
        for entry in tail.after(numbers)
        if entry.number in holes.get(entry.writer, ())
    }


def _proved(there: list[Entry], offered: dict[Key, Entry]) -> dict[Key, Entry]:
    """Return what is offered and proved by the entry that follows it, back to the one before it."""
    known = {(entry.writer, entry.number): entry for entry in there}
    followed = [((e.writer, e.number - 1), e.previous, e.site) for e in there]
    for entry in there:
        held = held_in(entry.said)
        followed += [((writer, number), first, entry.site) for writer, number, first in held]
    found: dict[Key, Entry] = {}
    for at, wanted, site in followed:
        run: dict[Key, Entry] = {}
        while at in offered and at not in known:
            each = replace(offered[at], site=site)
            if not wanted or each.hash[: len(wanted)] != wanted or not is_whole(each):
                break
            run[at], wanted, at = each, each.previous, (at[0], at[1] - 1)
        if run and wanted == (known[at].hash if at in known else BEGINNING):
            found |= run
    return {key: found[key] for key in offered if key in found}


def _in_order(there: list[Entry], found: dict[Key, Entry]) -> Iterator[Entry]:
    """Yield all entries, each of those found ahead of the first one that knows it."""
    left = dict(found)

    def ahead_of(entry: Entry) -> Iterator[Entry]:
        held = [(writer, number) for writer, number, _ in held_in(entry.said)]
        held.append((entry.writer, entry.number - 1))
        for key in [key for key in left if any(_is_up_to(key, each) for each in held)]:
            each = left.pop(key, None)
            if each:
                yield from ahead_of(each)
                yield each

    for entry in there:
        yield from ahead_of(entry)
        yield entry


def _is_up_to(key: Key, last: Key) -> bool:
    return key[0] == last[0] and key[1] <= last[1]
