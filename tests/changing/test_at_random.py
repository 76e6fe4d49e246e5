# SPDX-License-Identifier: MIT
"""Random changes of the work, possible and impossible ones: what holds holds after each.

The rules are asked of the database itself in SQL, and the history is replayed row by row; neither
goes through the code that made the changes.
"""

from __future__ import annotations

import json
import random
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from tests.drawing import drawn
from tests.record_of import add_document, record_of
from wiretrack.errors import BadInputError
from wiretrack.exchange.read import read_site
from wiretrack.exchange.write import write_csv, write_site
from wiretrack.model.parts import SiteFacts
from wiretrack.store import label_log
from wiretrack.store.dumping import document
from wiretrack.store.health import problems
from wiretrack.store.loading import create_registry
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.change.cutting import CutEnds, Division
from wiretrack.tasks.change.extending import Extension, extend
from wiretrack.tasks.change.replacing import Replacement, replace_conductor
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.change.swapping import swap
from wiretrack.tasks.label.ends import Ends, label_due, place_labels, take_back_labels
from wiretrack.tasks.report.punchlist import punch_list
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from collections.abc import Callable

BOXES = ("A", "B", "C", "D", "X", "NEW1", "NEW2", "NOWHERE")
TERMINALS = ("TB1:1", "TB9:1", "TB9:2", "S1:1", "BAR:1", "PE:1")
NOTED = ("conductors", "ends", "circuits", "raceways", "pull_raceways", "enclosures", "terminals")
CHANGES = 8


class Chance(random.Random):
    """Draws what is changed next, and how."""

    def of(self, choices: Any) -> Any:
        """Return one of the choices."""
        return self.choice(choices)


def tags(registry: Registry) -> list[str]:
    return [row["tag"] for row in registry.rows("SELECT tag FROM conductors ORDER BY rowid")]


def some_tag(registry: Registry, by: Chance) -> str:
    """Return mostly a tag in use, sometimes any."""
    live = registry.rows("SELECT tag FROM conductors WHERE retired_at IS NULL ORDER BY rowid")
    found: str = by.of(by.of(([row["tag"] for row in live] or tags(registry), tags(registry))))
    return found


def _extend(registry: Registry, by: Chance) -> None:
    what = by.of(("LIGHT", some_tag(registry, by), "SOCKET"))
    ends = by.of((
        CutEnds(others="capped"), CutEnds(terminals=by.of(TERMINALS)), CutEnds(terminals="T9:1-3"),
        CutEnds(others="loose", lengths=("9 m,9 m",)), CutEnds(),
    ))  # fmt: skip
    box = by.of(("C", "B", by.of(BOXES)))
    extend(registry, Extension(what=(what,), through=box, ends=ends, at="2026-05-02"))


def _divide(registry: Registry, by: Chance) -> None:
    raceways = [row["code"] for row in registry.rows("SELECT code FROM raceways ORDER BY code")]
    cut = by.of(raceways)
    box = by.of(("NEW1", "NEW2", "X", by.of(BOXES)))
    extend(registry, Extension(
        what=(by.of(("LIGHT", "SOCKET")),), through=box,
        new_box="junction-box" if box.startswith("NEW") else None,
        division=Division(raceway=cut, into=f"{cut},{cut}b", lengths=by.of(("3 m,?", None))),
        ends=CutEnds(others=by.of(("loose", "capped", None))), at="2026-05-02",
    ))  # fmt: skip


def _replace(registry: Registry, by: Chance) -> None:
    same, size = by.of(((True, None), (False, "4 mm2"), (False, None), (True, "six")))
    replace_conductor(registry, Replacement(
        tag=some_tag(registry, by), same=same, size=size, abandoned=by.of((True, False)),
    ))  # fmt: skip


def _retire(registry: Registry, by: Chance) -> None:
    what = by.of((some_tag(registry, by), some_tag(registry, by), "LIGHT", "SOCKET"))
    retire(registry, what, abandoned=by.of((True, False)))


def _swap(registry: Registry, by: Chance) -> None:
    pair = some_tag(registry, by), some_tag(registry, by)
    swap(registry, pair, by.of(("D", "A", "A", by.of(BOXES))), marks=by.of((True, False)))


def _read(registry: Registry, by: Chance) -> None:
    kind, value = by.of((("continuity", "0.3 ohm"), ("voltage", "230 V")))
    log_reading(registry, ReadingText(subject=by.of(tags(registry)), kind=kind, value=value))


def _print(registry: Registry, by: Chance) -> None:
    row = {"tag": by.of(tags(registry)), "end": by.of(("from", "to")), "form": "wrap", "stock": "s",
           "legend": {"circuit": "LIGHT"}}  # fmt: skip
    label_log.add_prints(registry, [row])


def _place(registry: Registry, by: Chance) -> None:
    tag, end = by.of(tags(registry)), by.of(("from", "to"))
    if by.of((True, False)):
        place_labels(registry, Ends(tag, end), by_hand=by.of((True, False)))
    else:
        take_back_labels(registry, Ends(tag, end))


STEPS: tuple[Callable[[Registry, Chance], None], ...] = (
    _extend, _divide, _replace, _retire, _swap, _read, _print, _place,
)  # fmt: skip


def check_rules(registry: Registry) -> None:
    assert problems(registry) == []
    none_of = {
        "an end that is nowhere": "SELECT 1 FROM ends WHERE enclosure_id IS NULL"
        " OR (state = 'landed' AND terminal_id IS NULL)",
        "a conductor without its two ends": "SELECT conductor_id FROM ends GROUP BY conductor_id"
        " HAVING count(*) <> 2",
        "a conductor twice on one terminal": "SELECT e.terminal_id FROM ends AS e JOIN conductors"
        " AS c ON c.id = e.conductor_id WHERE c.retired_at IS NULL AND e.terminal_id IS NOT NULL"
        " GROUP BY e.conductor_id, e.terminal_id HAVING count(*) > 1",
        "both pieces of a cut on one terminal of one pole": "SELECT 1 FROM conductors AS a"
        " JOIN conductors AS b ON b.follows_id = a.follows_id AND b.id > a.id"
        " JOIN ends AS e ON e.conductor_id = a.id JOIN ends AS f ON f.conductor_id = b.id"
        " AND f.terminal_id = e.terminal_id JOIN poles AS p ON e.terminal_id IN"
        " (p.one_terminal_id, p.other_terminal_id) JOIN devices AS d ON d.id = p.device_id"
        " WHERE d.kind NOT IN ('bus', 'splice') AND a.retired_at IS NULL AND b.retired_at IS NULL",
        "a retired conductor without a reason": "SELECT 1 FROM conductors"
        " WHERE (retired_at IS NULL) <> (retired_because IS NULL)",
        "a cut that left no two pieces": "SELECT o.id FROM conductors AS o WHERE"
        " o.retired_because = 'cut' AND (SELECT count(*) FROM conductors AS n"
        " WHERE n.follows_id = o.id) <> 2",
        "a follower of one in use": "SELECT 1 FROM conductors AS n JOIN conductors AS o"
        " ON o.id = n.follows_id WHERE o.retired_at IS NULL",
    }
    for what, sql in none_of.items():
        assert registry.rows(sql) == [], what


def check_routes(registry: Registry) -> None:
    """Every pull is a chain of raceways, from A to D as at the start."""
    rows = registry.rows(
        "SELECT a.code AS one, b.code AS other FROM pull_raceways AS x JOIN raceways AS r"
        " ON r.id = x.raceway_id JOIN enclosures AS a ON a.id = r.from_enclosure_id"
        " JOIN enclosures AS b ON b.id = r.to_enclosure_id ORDER BY x.position"
    )
    here = "A"
    for row in rows:
        assert here in (row["one"], row["other"])
        here = row["other"] if here == row["one"] else row["one"]
    assert here == "D"


Rows = dict[str, dict[str, Any]]


def rows_of(registry: Registry) -> Rows:
    """Return every row by table and id, without what numbers it in this file."""
    return {
        table: {
            row["id"]: {name: value for name, value in row.items() if name not in ("nr", "came")}
            for row in registry.rows(f"SELECT * FROM {table}")
        }
        for table in NOTED
    }


def check_history(registry: Registry, loaded: Rows) -> None:
    """Replaying the history on what was loaded gives every row as it is."""
    for change in registry.rows("SELECT what, record, action, new FROM changes ORDER BY seq"):
        if change["what"] in loaded:
            loaded[change["what"]][change["record"]] = json.loads(change["new"])
    assert loaded == rows_of(registry)


def check_readings(registry: Registry, before: dict[str, Any]) -> dict[str, Any]:
    """No reading is lost or changed, and each is found from what is in place of its conductor."""
    rows = {row["id"]: row for row in registry.rows("SELECT * FROM readings")}
    assert before.items() <= rows.items()
    for tag in tags(registry):
        record = record_of(registry, tag)
        own = {r["id"] for r in record["readings"]}
        for follower in (record["retired"] or {}).get("in_its_place", ()):
            earlier = record_of(registry, follower)["earlier"]
            assert own <= {r["id"] for old in earlier for r in old["readings"]}
    return rows


def check_lists(registry: Registry) -> None:
    gone = {tag for tag in tags(registry) if record_of(registry, tag)["retired"]}
    named = {row.subject for row in punch_list(registry)}
    named |= {row.tag for row in label_due(registry)}
    assert not {tag.replace("-", "") for tag in named} & gone


def check_dump(registry: Registry, folder: Path) -> None:
    found = document(registry)
    write_site(found, folder / "dump.json")
    write_csv(found, folder / "dump")
    for number, dump in enumerate((folder / "dump.json", folder / "dump")):
        copy_file = folder / f"copy{number}.db"
        create_registry(copy_file, SiteFacts(name="new"))
        with open_registry(copy_file) as copy:
            add_document(copy, read_site(dump))
            assert document(copy) == found
            assert problems(copy) == []


def is_done(registry: Registry, step: Callable[[Registry, Chance], None], by: Chance) -> bool:
    """Return whether a change was made; an impossible one is refused in words."""
    try:
        step(registry, by)
    except BadInputError:
        return False
    return True


@drawn(3, 30, st.integers(0, 2**32 - 1))
def test_whatever_is_changed_nothing_is_lost_and_every_end_is_somewhere(
    barn_file: Path, seed: int
) -> None:
    by = Chance(seed)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(shutil.copy(barn_file, Path(folder) / "barn.db"))
        with open_registry(path) as registry:
            taken, loaded = check_readings(registry, {}), rows_of(registry)
            for step in by.choices(STEPS, k=CHANGES):
                before = document(registry)
                if not is_done(registry, step, by):
                    assert document(registry) == before
                check_rules(registry)
                check_routes(registry)
                taken = check_readings(registry, taken)
            check_history(registry, loaded)
            check_lists(registry)
            check_dump(registry, Path(folder))
