# SPDX-License-Identifier: MIT
"""Different records of two copies that can't both be: the same code, tag, or place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError
from wiretrack.model.tags import format_tag, make_tag
from wiretrack.store.merging_conflicts import MINE, Conflict, Side
from wiretrack.store.merging_names import NOUNS, key_of, name_of, told
from wiretrack.store.merging_state import UNIQUE

if TYPE_CHECKING:
    from wiretrack.store.merging_conflicts import Decision
    from wiretrack.store.merging_state import State

Row = dict[str, Any]
_MAX_CODE = 40

RENAMED = ("code", "mark", "tag")


def settle_names(state: State) -> None:
    """Find records of the same name, and give one of each pair another name where decided."""
    for table, columns in UNIQUE.items():
        seen: set[tuple[str, str]] = set()
        while pairs := [pair for pair in _pairs(state, table, columns) if pair not in seen]:
            for one, other in pairs:
                seen.add((one, other))
                _settle(state, table, columns, one, other)


def _pairs(state: State, table: str, columns: tuple[str, ...]) -> list[tuple[str, str]]:
    """Return the pairs of records that would have the same name; mine first."""
    alike = " AND ".join(f'm."{c}" = f."{c}"' for c in columns)
    found = state.db.execute(
        f"SELECT m.id, f.id FROM temp.final_{table} AS f JOIN main.{table} AS m"
        f" ON {alike} AND m.id <> f.id"
        f" WHERE NOT EXISTS (SELECT 1 FROM temp.final_{table} AS x WHERE x.id = m.id)"
        f" UNION SELECT m.id, f.id FROM temp.final_{table} AS f JOIN temp.final_{table} AS m"
        f" ON {alike} AND m.id < f.id"
    ).fetchall()
    return [_mine_first(state, table, columns, pair) for pair in found]


def _mine_first(
    state: State, table: str, columns: tuple[str, ...], pair: tuple[str, str]
) -> tuple[str, str]:
    """Put the record first that has the name in this registry; else the other isn't theirs."""
    for record, other in (pair, pair[::-1]):
        after = state.row(f"temp.after_{table}", record)
        here = state.row(f"main.{table}", record)
        if after and here and all(after[c] == here[c] for c in columns):
            return record, other
    return pair


def _settle(state: State, table: str, columns: tuple[str, ...], mine: str, theirs: str) -> None:
    rows = [state.row(f"temp.after_{table}", record) for record in (mine, theirs)]
    if rows[0] is None or rows[1] is None:
        return
    if any(rows[0][c] != rows[1][c] for c in columns):  # one of them was renamed meanwhile
        return
    name, noun = name_of(state, table, rows[0]), NOUNS[table]
    if columns[-1] not in RENAMED:
        raise BadInputError(
            f"Both copies have made a {noun} {name} apart, and not the same one."
            " Change it in one of them, then merge."
        )
    key = key_of(state, table, rows[0], f"same-{columns[-1]}")
    decision = state.decisions.of(key)
    loser = None if decision is None else rows[1 if decision.side == MINE else 0]
    new = None if decision is None or loser is None else _new_name(state, table, loser, decision)
    here, there = (_side(state, table, row) for row in (rows[0], rows[1]))
    takes = decision.side if decision else None
    shown = format_tag(new) if new and columns[-1] == "tag" else new
    state.conflicts.append(Conflict(key, here, there, takes, renames=True, renamed=shown))
    if loser is not None:
        column = columns[-1]
        state.decide(table, loser, {column: new}, {column: loser[column]})


def _new_name(state: State, table: str, row: Row, decision: Decision) -> str:
    """Return the name asked for, or the first free one made of the old one and a number."""
    column = UNIQUE[table][-1]
    if decision.name is not None:
        if _taken(state, table, row, decision.name):
            raise BadInputError(
                f"Another {NOUNS[table]} is called '{decision.name}' already. Name another."
            )
        return decision.name
    if column == "tag":
        while _taken(state, table, row, tag := make_tag()):
            pass
        return tag
    number = 2
    while True:
        ending = f"-{number}"
        name = f"{str(row[column])[: _MAX_CODE - len(ending)]}{ending}"
        if not _taken(state, table, row, name):
            return name
        number += 1


def _taken(state: State, table: str, row: Row, name: str) -> bool:
    *scope, column = UNIQUE[table]
    where = " AND ".join([f'"{c}" = ?' for c in scope] + [f'"{column}" = ?'])
    sql = f"SELECT 1 FROM temp.after_{table} WHERE {where} LIMIT 1"
    values = [*(row[c] for c in scope), name]
    return state.db.execute(sql, values).fetchone() is not None


def _side(state: State, table: str, row: Row) -> Side:
    """Return a record in words, with who made it or gave it its name last."""
    found = next(
        (
            change
            for source, new in (("main", "new_mine"), ("theirs", "new_theirs"))
            for change in state.rows(
                f"SELECT c.at, c.by FROM {source}.changes AS c JOIN temp.{new} AS n"
                " ON n.seq = c.seq WHERE n.record = ? ORDER BY c.seq",
                [row["id"]],
            )
        ),
        {"at": None, "by": None},
    )
    return Side(told(state, table, row), found["at"], found["by"])
