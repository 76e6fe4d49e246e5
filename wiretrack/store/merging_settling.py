# SPDX-License-Identifier: MIT
"""Records that both copies hold and changed: field by field, and by what was decided."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.procedure import is_before, way_that_counts
from wiretrack.store.merging_conflicts import THEIRS, Conflict, Side
from wiretrack.store.merging_fields import merged, touched
from wiretrack.store.merging_names import key_of, value_of
from wiretrack.store.merging_state import TABLES, changes_of

if TYPE_CHECKING:
    from wiretrack.store.merging_fields import Differing
    from wiretrack.store.merging_state import State

Row = dict[str, Any]


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
