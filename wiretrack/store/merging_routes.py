# SPDX-License-Identifier: MIT
"""The way of a pull, leg by leg: taken as one, for a way of legs from both copies leads nowhere.

Where each copy put boxes into other raceways of the same pull, the way that leads through both is
found from the raceways as they are now. Only where there are several, or none, a person decides.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.model.tags import format_tag
from wiretrack.store.merging_conflicts import THEIRS, Conflict, Side
from wiretrack.store.merging_names import code_of, key_of
from wiretrack.store.writing import part_id

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.store.merging_state import State

Row = dict[str, Any]
_ENOUGH = 2  # so many ways are too many to choose one unasked


def settle_routes(state: State) -> None:
    """Let each pull that the other copy leads another way be led one way, whole."""
    pulls = state.rows(
        "SELECT m.* FROM main.pulls AS m WHERE m.id IN (SELECT pull_id FROM"
        " temp.final_pull_raceways UNION SELECT x.pull_id FROM main.pull_raceways AS x"
        " JOIN temp.new_theirs AS n ON n.record = x.id) ORDER BY m.id"
    )
    for pull in list(pulls):
        mine, theirs = (legs(state, copy, pull["id"]) for copy in ("main.", "theirs."))
        touched = [
            any(_is_in(state, new, leg["id"]) for leg in (*mine, *theirs))
            for new in ("new_mine", "new_theirs")
        ]
        if _way(mine) == _way(theirs) or touched == [True, False]:
            _lead(state, pull["id"], _way(mine), mine, theirs)
        elif touched == [False, True]:
            _lead(state, pull["id"], _way(theirs), mine, theirs)
        else:
            way, decided = _together(state, pull, mine, theirs)
            _lead(state, pull["id"], way, mine, theirs, decided=decided)


def settle_off_the_way(state: State) -> None:
    """Let routes be unknown whose ends the pull no longer joins, as it was led otherwise."""
    touched = state.rows(
        "SELECT x.pull_id FROM temp.after_pull_raceways AS x WHERE x.raceway_id IN"
        " (SELECT id FROM temp.final_raceways) UNION SELECT pull_id FROM temp.final_pull_raceways"
    )
    pulls = {row["pull_id"] for row in touched}
    pulls |= {row["pull_id"] for table, row, _ in state.removed if table == "pull_raceways"}
    for pull in sorted(pulls):
        after, *before = (
            _boxes(legs(state, copy, pull)) for copy in ("temp.after_", "main.", "theirs.")
        )
        for box in sorted(before[0].union(*before) - after):
            _leave_way(state, pull, box)


def _leave_way(state: State, pull: str, box: str) -> None:
    """Let the conductors of a pull with an end in a box have no known route."""
    rows = state.rows(
        "SELECT DISTINCT c.* FROM temp.after_conductors AS c JOIN temp.after_ends AS e"
        " ON e.conductor_id = c.id WHERE c.pull_id = ? AND e.enclosure_id = ? ORDER BY c.tag",
        [pull, box],
    )
    found = list(rows)
    for row in found:
        state.decide("conductors", row, {"pull_id": None}, {"pull_id": pull})
    if found:
        tags = [format_tag(row["tag"]) for row in found]
        names = (code_of(state, "pull_id", pull), code_of(state, "enclosure_id", box))
        state.off_the_way.append({"pull": names[0], "enclosure": names[1], "tags": tags})


def broken_routes(state: State) -> list[Row]:
    """Return the pulls whose way would no longer lead from raceway to raceway, as it does now."""
    pulls = state.rows(
        "SELECT p.id, p.code FROM temp.after_pulls AS p WHERE p.id IN ("
        " SELECT x.pull_id FROM temp.after_pull_raceways AS x WHERE x.raceway_id IN"
        " (SELECT id FROM temp.final_raceways) UNION SELECT pull_id FROM temp.final_pull_raceways)"
        " ORDER BY p.code"
    )
    found = []
    for pull in list(pulls):
        after, *before = (legs(state, c, pull["id"]) for c in ("temp.after_", "main.", "theirs."))
        if not _is_chain(after) and all(map(_is_chain, before)):
            found.append({"pull": pull["code"], "route": [leg["code"] for leg in after]})
    return found


def legs(state: State, copy: str, pull: str) -> list[Row]:
    """Return the legs of a pull in a copy, with the boxes that each joins there."""
    sql = (
        "SELECT p.*, r.code, r.from_enclosure_id AS one, r.to_enclosure_id AS other"
        f" FROM {copy}pull_raceways AS p JOIN {copy}raceways AS r ON r.id = p.raceway_id"
        " WHERE p.pull_id = ? ORDER BY p.position"
    )
    return list(state.rows(sql, [pull]))


def _together(
    state: State, pull: Row, mine: list[Row], theirs: list[Row]
) -> tuple[list[str], bool]:
    """Return the way through what both copies did, and whether it is decided."""
    ways = list(_ways(state, mine, theirs))
    if len(ways) == 1:
        return ways[0], True
    key = key_of(state, "pulls", pull, "route")
    decision = state.decisions.of(key)
    here, there = (Side(" → ".join(leg["code"] for leg in found)) for found in (mine, theirs))
    state.conflicts.append(Conflict(key, here, there, decision.side if decision else None))
    takes_theirs = decision is not None and decision.side == THEIRS
    return _way(theirs if takes_theirs else mine), decision is not None


def _ways(state: State, mine: list[Row], theirs: list[Row]) -> Iterator[list[str]]:
    """Return the ways, two at most, that lead from end to end by the raceways of both copies."""
    ends = _ends(mine)
    if not ends or ends[0] == ends[1] or ends != _ends(theirs):
        return
    raceways = {}
    for record in dict.fromkeys((*_way(mine), *_way(theirs))):
        row = state.row("temp.after_raceways", record)
        if row:
            raceways[record] = (row["from_enclosure_id"], row["to_enclosure_id"])
    waiting: list[tuple[str, list[str], set[str]]] = [(ends[0], [], {ends[0]})]
    found = 0
    while waiting and found < _ENOUGH:
        here, way, reached = waiting.pop()
        if here == ends[1]:
            found += 1
            yield way
            continue
        for record, boxes in raceways.items():
            if here in boxes:
                there = boxes[1] if boxes[0] == here else boxes[0]
                if there not in reached:
                    waiting.append((there, [*way, record], reached | {there}))


def _lead(
    state: State,
    pull: str,
    way: list[str],
    mine: list[Row],
    theirs: list[Row],
    *,
    decided: bool = False,
) -> None:
    """Let the pull's way be `way`; what was `decided` is noted against what either copy says."""
    for position, raceway in enumerate(way, 1):
        said = [_at(found, position) for found in (mine, theirs)]
        known = next((leg["id"] for leg in said if leg), None)
        row: Row = {
            "id": known or part_id(pull, f"raceway:{position}"),
            "pull_id": pull,
            "position": position,
            "raceway_id": raceway,
        }
        state.put("pull_raceways", [row])
        others = [leg and leg["raceway_id"] for leg in said]
        if decided and others != [raceway, raceway]:
            lost = others[1] if others[0] == raceway else others[0]
            state.lost["pull_raceways", row["id"]] = {"raceway_id": lost}
    for position in range(len(way) + 1, max(len(mine), len(theirs)) + 1):
        leg = _at(mine, position) or _at(theirs, position)
        if leg:
            state.remove("pull_raceways", leg, decided=decided)


def _at(found: list[Row], position: int) -> Row | None:
    return next((leg for leg in found if leg["position"] == position), None)


def _way(found: list[Row]) -> list[str]:
    return [leg["raceway_id"] for leg in found]


def _is_in(state: State, new: str, record: str) -> bool:
    sql = f"SELECT 1 FROM temp.{new} WHERE record = ?"
    return state.db.execute(sql, [record]).fetchone() is not None


def _ends(found: list[Row]) -> tuple[str, str] | None:
    """Return the boxes in which a way begins and ends."""
    if not found:
        return None
    if len(found) == 1:
        return found[0]["one"], found[0]["other"]
    return _loose(found[0], found[1]), _loose(found[-1], found[-2])


def _loose(leg: Row, neighbour: Row) -> str:
    joined = (neighbour["one"], neighbour["other"])
    return str(leg["other"] if leg["one"] in joined else leg["one"])


def _boxes(found: list[Row]) -> set[str]:
    return {box for leg in found for box in (leg["one"], leg["other"])}


def _is_chain(found: list[Row]) -> bool:
    reached = {box for leg in found[:1] for box in (leg["one"], leg["other"])}
    for leg in found[1:]:
        boxes = {leg["one"], leg["other"]}
        if not reached & boxes:
            return False
        reached = boxes - reached or boxes
    return True
