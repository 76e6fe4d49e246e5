# SPDX-License-Identifier: MIT
"""The views that people read with other programs say what the commands say."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, L2, PUMP
from wiretrack.encoding import document
from wiretrack.model.entities import Conductor, Reading
from wiretrack.model.tags import format_tag
from wiretrack.store import changing, label_log, reading_log
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.report.punchlist import IDENTIFY, LABEL, LAND, punch_list

if TYPE_CHECKING:
    from collections.abc import Iterable

DEMO = Path(__file__).parents[2] / "demo_db" / "site.json"


def rows(path: Path, sql: str) -> list[dict[str, Any]]:
    """Read with plain sqlite3, as any other program does."""
    with closing(sqlite3.connect(path)) as other:
        other.row_factory = sqlite3.Row
        return [dict(row) for row in other.execute(sql)]


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    path = tmp_path / "demo.db"
    new_site(path, "Demo")
    with open_registry(path) as registry:
        load_site(registry, DEMO)
    return path


def open_ends(found: Iterable[dict[str, Any]]) -> list[tuple[str, str]]:
    return sorted(
        (row["what"], row["subject"]) for row in found if row["what"] in (IDENTIFY, LAND, LABEL)
    )


def test_conductors_are_told_in_words(db: Path) -> None:
    (found,) = rows(db, f"SELECT * FROM conductor_list WHERE tag = '{format_tag(L1)}'")
    assert (found["circuit"], found["function"], found["colour"]) == ("PUMP", "L1", "BN")
    assert (found["from_place"], found["to_place"]) == ("MDB Q4:1", "PH1")
    assert (found["pull"], found["length_m"], found["state"]) == ("P1", 67.0, "in use")
    assert len(rows(db, "SELECT * FROM conductor_list")) == len(PUMP["conductors"])


def test_readings_stand_beside_what_their_verdict_follows_from(db: Path) -> None:
    with open_registry(db) as registry:
        reading = Reading(
            kind="insulation", subject=L1, value="210M", number=2.1e8, unit="ohm",
            over_range=False, against=L2, test_voltage_v=500,
        )  # fmt: skip
        first = reading_log.add_reading(registry, reading)
        later = Reading(
            kind="insulation", subject=L1, value="220M", number=2.2e8, unit="ohm",
            over_range=False, against="PE", supersedes=first,
        )  # fmt: skip
        second = reading_log.add_reading(registry, later)
    one, two = rows(db, "SELECT * FROM reading_list ORDER BY value")
    assert (one["tag"], one["against"]) == (format_tag(L1), format_tag(L2))
    assert (one["id"], one["superseded_by"]) == (first, second)
    assert (two["against"], two["superseded_by"]) == ("PE", None)
    assert (one["system"], one["max_voltage_v"], one["length_m"]) == ("ac-3ph", 400.0, 67.0)


def test_labels_are_listed_as_printed_on_and_taken_back(db: Path) -> None:
    end = {"tag": L1, "end": "from"}
    with open_registry(db) as registry:
        label_log.add_prints(registry, [end | {"form": "wrap", "stock": "S", "legend": {"a": "b"}}])
        with registry.write():
            printed = label_log.labels(registry, [L1])[L1, "from"].printed
            assert printed
            label_log.add_placed(registry, [end | {"print_id": printed.id}], who="roof")
        (labelled,) = rows(db, 'SELECT tag, "end" FROM end_list WHERE labelled')
        with registry.write():
            (placed,) = label_log.labels(registry, [L1])[L1, "from"].placed
            label_log.add_placed(registry, [end | {"takes_back": placed.id}], who="roof")
    assert labelled == {"tag": format_tag(L1), "end": "from"}
    assert rows(db, "SELECT * FROM end_list WHERE labelled") == []
    found = rows(db, "SELECT * FROM label_list ORDER BY at, what = 'taken back'")
    assert [row["what"] for row in found] == ["printed", "on the wire", "taken back"]
    assert {(row["tag"], row["end"], row["legend"]) for row in found} == {
        (format_tag(L1), "from", '{"a":"b"}')
    }


def test_what_is_open_at_ends_is_what_the_punch_list_says(demo: Path) -> None:
    with open_registry(demo) as registry:
        landed = next(c for c in site_of(registry).every(Conductor) if c.from_end.state == "landed")
        changing.land_end(registry, landed.tag, "from", "loose")
        told = open_ends(document(punch_list(registry)))
    assert {what for what, _ in told} == {IDENTIFY, LAND, LABEL}
    assert open_ends(rows(demo, "SELECT * FROM open_list")) == told


def test_an_end_that_is_capped_is_open_no_more(db: Path) -> None:
    wanted = f"subject = '{format_tag(L1)}' AND place = 'PH1' AND what <> 'end not labelled'"
    before = rows(db, f"SELECT what FROM open_list WHERE {wanted}")
    with open_registry(db) as registry:
        changing.land_end(registry, L1, "to", "capped")
    assert [row["what"] for row in before] == [IDENTIFY]
    assert rows(db, f"SELECT what FROM open_list WHERE {wanted}") == []
