# SPDX-License-Identifier: MIT
"""Records that both copies changed, field by field, and different ones of the same name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError
from wiretrack.model.tags import format_tag, make_tag
from wiretrack.procedure import is_before, way_that_counts
from wiretrack.store.merging_conflicts import MINE, THEIRS, Conflict, Side, merged, touched
from wiretrack.store.merging_names import NOUNS, key_of, name_of, told, value_of
from wiretrack.store.merging_state import TABLES, UNIQUE, changes_of

if TYPE_CHECKING:
    from wiretrack.store.merging_conflicts import Decision, Differing
    from wiretrack.store.merging_state import State

Row = dict[str, Any]
_MAX_CODE = 40
RENAMED = ("code", "mark", "tag")


def settle_fields(state: State) -> None:
    """Merge every record that both copies changed; what can't be merged becomes a conflict."""
    for table in TABLES:
        if table == "pull_raceways":  # see merging_routes
            continue
        state.db.execute("DROP TABLE IF EXISTS temp.both")
        state.db.execute(
            f"CREATE TEMP TABLE both AS SELECT f.id FROM temp.final_{table} AS f"
            f" JOIN main.{table} AS m ON m.id = f.id"
            " WHERE EXISTS (SELECT 1 FROM temp.new_mine WHERE record = f.id)"
            " OR NOT EXISTS (SELECT 1 FROM temp.new_theirs WHERE record = f.id)"
        )
        _settle_table(state, table)
    state.db.execute("DROP TABLE temp.both")


def settle_results(state: State) -> None:
    """Give each ring-out and search the result of the copy whose answers count.

    Where both copies have the same answers, a result counts before none.
    """
    for row in list(
        state.rows(
            "SELECT a.*, m.result AS mine, t.result AS theirs FROM temp.after_procedures AS a"
            " JOIN main.procedures AS m ON m.id = a.id JOIN theirs.procedures AS t ON t.id = a.id"
            " WHERE m.result IS NOT t.result"
        )
    ):
        ways = {
            copy: [a["id"] for a in way_that_counts(_answers(state, copy, row["id"]))]
            for copy in ("main", "theirs")
        }
        result = _result(ways["main"], ways["theirs"], row["mine"], row["theirs"])
        if result != row["result"]:
            state.put("procedures", [{**row, "result": result}])


def _settle_table(state: State, table: str) -> None:
    ours, others = changes_of(state, "mine", table), changes_of(state, "theirs", table)
    in_both = "WHERE id IN (SELECT id FROM temp.both)"
    mine = {row["id"]: row for row in state.rows(f"SELECT * FROM main.{table} {in_both}")}
    unit_list, rows = state.units[table], []
    for theirs in list(state.rows(f"SELECT * FROM theirs.{table} {in_both}")):
        record = theirs["id"]
        row, differing = merged(
            unit_list,
            mine[record],
            theirs,
            touched(unit_list, ours.get(record, ())),
            touched(unit_list, others.get(record, ())),
        )
        rows.append(row)
        for difference in differing:
            _decide(state, table, row, mine[record], theirs, difference)
    state.put(table, rows)


def _decide(
    state: State, table: str, row: Row, mine: Row, theirs: Row, differing: Differing
) -> None:
    """Note a conflict; if it is decided, put the winner into `row` and remember the loser."""
    unit = differing.unit
    key = key_of(state, table, mine, unit.name)
    decision = state.decisions.of(key)
    here, there = differing.mine, differing.theirs
    state.conflicts.append(
        Conflict(
            key,
            Side(value_of(state, table, unit, mine), here.at, here.by),
            Side(value_of(state, table, unit, theirs), there.at, there.by),
            decision.side if decision else None,
        )
    )
    if decision is None:
        return
    winner, loser = (theirs, mine) if decision.side == THEIRS else (mine, theirs)
    row.update({column: winner[column] for column in unit.columns})
    given_up = state.lost.setdefault((table, row["id"]), {})
    given_up.update({column: loser[column] for column in unit.columns})


def _answers(state: State, copy: str, record: str) -> list[Row]:
    sql = (
        f"SELECT id, seq, follows FROM {copy}.procedure_answers WHERE procedure_id = ? ORDER BY seq"
    )
    return list(state.rows(sql, [record]))


def _result(
    my_way: list[str], their_way: list[str], mine: str | None, theirs: str | None
) -> str | None:
    if is_before(my_way, their_way):
        return mine
    if is_before(their_way, my_way):
        return theirs
    return max(filter(None, (mine, theirs)), default=None)


def settle_names(state: State) -> None:
    """Find records of the same name, and give one of each pair another name where decided."""
    for table, columns in UNIQUE.items():
        seen: set[tuple[str, str]] = set()
        while pairs := [pair for pair in _pairs(state, table, columns) if pair not in seen]:
            for one, other in pairs:
                seen.add((one, other))
                _settle_pair(state, table, columns, one, other)


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


def _settle_pair(
    state: State, table: str, columns: tuple[str, ...], mine: str, theirs: str
) -> None:
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
