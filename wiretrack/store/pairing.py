# SPDX-License-Identifier: MIT
"""Which records of two loads of one file are the same, and how that is said."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.errors import BadInputError
from wiretrack.store.changelog import changes
from wiretrack.store.fold import PARTS, text_of
from wiretrack.store.naming import NAMED
from wiretrack.store.same import STANDING, TABLE, TABLES, ContradictionError, Same
from wiretrack.store.writing import IN_ORDER, insert, new_id

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.store.changelog import Change
    from wiretrack.store.same import Statement
    from wiretrack.store.store import Registry

Row = dict[str, Any]
WHATS = {table: what for what, table in TABLES.items()}
_NOT_SAID = ("id", "tag", "entered_at", "entered_by")  # by the file that was loaded


def files_loaded_apart(registries: Iterable[Registry]) -> list[tuple[str, Change, Change]]:
    """Return the files that were loaded twice, by the first load of each and the other ones."""
    found: dict[frozenset[str], dict[str | None, Change]] = defaultdict(dict)
    for registry in registries:
        for change in changes(registry):
            if change.kind == "load" and change.files:
                found[change.files].setdefault(change.id, change)
    return [
        (change.file.name if change.file else "", first, change)
        for first, *others in (
            sorted(each.values(), key=lambda c: (c.at, str(c.id))) for each in found.values()
        )
        for change in others
    ]


def pairs_of(one: Change, other: Change) -> Iterator[Statement]:
    """Yield the records that both loads added of one file: by their names, else by what they say.

    Of several that say the same the first one is the first.
    """
    stands: dict[str, str] = {}
    first, second = (_by_table(change) for change in (one, other))
    given = {r["added"]["tag"] for r in first["conductors"]}
    given &= {r["added"]["tag"] for r in second["conductors"]}
    for table in IN_ORDER:  # what is told in rows of other tables comes along
        left: dict[str, list[Row]] = defaultdict(list)
        for row in first[table]:
            left[_key(first, row, {}, given)].append(row)
        for row in second[table]:
            same = left[_key(second, row, stands, given)]
            if same:
                mate = same.pop(0)
                stands[row["id"]] = mate["id"]
                if row["id"] != mate["id"]:
                    tags = (each["added"].get("tag") for each in (mate, row))
                    yield (WHATS[table], mate["id"], row["id"], *tags)


def _by_table(change: Change) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = defaultdict(list)
    for row in change.rows:
        if "added" in row:
            found[row["table"]].append(row)
            if row["table"] in PARTS:
                found[row["added"][PARTS[row["table"]][1]]].append(row)
    return found


def _key(rows: dict[str, list[Row]], row: Row, stands: dict[str, str], given: set[str]) -> str:
    """Return what a record is known by, as the other load has it."""
    table, said = row["table"], row["added"]
    if table == "conductors" and said["tag"] in given:
        return str(said["tag"])
    if table in NAMED and table != "conductors":
        name, scope = NAMED[table]
        return text_of([said[name], *(stands.get(said[key], said[key]) for key in scope)])
    told = [row, *rows.get(row["id"], ())]
    return text_of([
        {key: stands.get(value, value) for key, value in each["added"].items()
         if key not in _NOT_SAID and value != row["id"]}
        for each in told
    ])  # fmt: skip


def insides(registry: Registry, box: str, other: str) -> Iterator[Statement]:
    """Yield what is in both of two boxes under one code."""
    for what in ("device", "terminal"):
        sql = (
            f"SELECT t.id, u.id AS other FROM {TABLES[what]} AS t JOIN {TABLES[what]} AS u"
            " ON u.code = t.code WHERE t.enclosure_id = ? AND u.enclosure_id = ?"
        )
        for row in registry.rows(sql, [box, other]):
            yield what, row["id"], row["other"], None, None


def sites_of(registry: Registry, ids: Iterable[str]) -> Iterator[Statement]:
    """Yield that the site was known under other ids."""
    (row,) = registry.rows("SELECT id FROM site")
    for each in sorted({*ids} - {row["id"]}):
        yield "site", row["id"], each, None, None


def say_same(registry: Registry, pairs: Iterable[Statement], who: str | None) -> list[Statement]:
    """Say that records are the same, of those that are there, as one change; return what is new."""
    known = Same.of(registry.connection)
    stated = {*registry.connection.execute(STANDING)}
    new = [
        pair for pair in pairs
        if pair not in stated and len({known.ids.get(each, each) for each in pair[1:3]}) > 1
        and all(
            pair[0] == "site"
            or registry.row(f"SELECT 1 FROM {TABLES[pair[0]]} WHERE id = ?", [known.ids.get(e, e)])
            for e in pair[1:3]
        )
    ]  # fmt: skip
    keys, now = ("what", "record", "other", "tag", "other_tag"), days.utc_now()
    rows = (
        {"id": new_id(), **dict(zip(keys, pair, strict=True)), "at": now, "by": who} for pair in new
    )
    try:
        if new:
            with registry.write(who) as db:
                insert(db, TABLE, rows)
    except ContradictionError as error:
        raise BadInputError(f"They can't be said to be the same: {error}.") from error
    return new
