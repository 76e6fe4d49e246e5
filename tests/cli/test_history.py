# SPDX-License-Identifier: MIT
"""Who changed what, when, and from what to what: `wiretrack history`."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, PE
from wiretrack import days
from wiretrack.errors import BadInputError, NotFoundError
from wiretrack.library import OpenSite
from wiretrack.library import new as new_site
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

TAG = f"{L1[:3]}-{L1[3:]}"


@pytest.fixture
def site(db: Path) -> Iterator[OpenSite]:
    with OpenSite(open_registry(db), who="Mira") as opened:
        yield opened


def told(site: OpenSite, what: str | None = None, **asked: Any) -> list[tuple[Any, ...]]:
    rows = site.history(what, **asked)
    return [(row.what, row.code, row.action, row.fields) for row in rows]


def write(site: OpenSite, sql: str, *values: Any, **more: Any) -> str:
    with site.registry.write("Mira", **more) as db:
        db.execute(sql, values)
    return site.registry.commit.change


def test_a_landing_is_told_of_its_conductor_and_the_terminal_that_it_made(site: OpenSite) -> None:
    site.land(L1, "PH1", "X1:1", sure=True)
    change = site.registry.commit.change
    first, second = site.history(limit=2)
    assert (first.what, first.code, first.action) == ("conductor", TAG, "changed")
    assert first.fields == {"to.terminal": (None, "X1:1"), "to.state": (None, "landed")}
    assert (second.what, second.code, second.action) == ("terminal", "PH1/X1:1", "added")
    assert first.change == second.change == change
    assert first.by == "Mira"
    assert days.day(first.at) == days.today().isoformat()


def test_values_are_as_a_site_file_writes_them(site: OpenSite) -> None:
    write(site, "UPDATE conductors SET length_m = 70.5, strands = NULL WHERE tag = ?", L1)
    assert told(site, limit=1) == [
        ("conductor", TAG, "changed", {"strands": (7, None), "length": ("67 m", "70.5 m")})
    ]
    (changed,) = site.history(limit=1)
    assert changed.words == f"{TAG}: strands 7 → unknown, length 67 m → 70.5 m"
    write(site, "UPDATE raceways SET metal = 0, walls_m = '[3]' WHERE code = 'W1'")
    fields = {"metal": (True, False), "walls": (None, ["3 m"])}
    assert told(site, limit=1) == [("raceway", "W1", "changed", fields)]


def test_a_load_is_one_item_with_its_file_and_each_record_knows_it(site: OpenSite) -> None:
    *_, loaded, named, made = site.history()
    assert (loaded.what, loaded.code, loaded.action) == ("file", "pump.json", "loaded")
    assert loaded.fields["conductors"] == (None, 3)
    assert (named.what, named.action, made.action) == ("site", "changed", "added")
    (added,) = site.history(L1)
    assert (added.action, added.file, added.change) == ("added", "pump.json", loaded.change)
    assert added.fields["from.terminal"] == (None, "Q4:1")


def test_parts_in_rows_of_their_own_are_told_as_the_whole_list(site: OpenSite) -> None:
    sql = (
        "INSERT INTO conductor_circuits (id, conductor_id, circuit_id, position)"
        " SELECT 'c0ffee00-0000-4000-8000-000000000001', c.id, k.id, 2"
        " FROM conductors AS c, circuits AS k WHERE c.tag = ? AND k.code = 'FAN'"
    )
    with site.registry.write() as db:
        db.execute(
            "INSERT INTO circuits (id, code) VALUES ('c0ffee00-0000-4000-8000-000000000002', 'FAN')"
        )
    write(site, sql, PE)
    ((what, _, action, fields),) = told(site, limit=1)
    assert (what, action, fields) == (
        "conductor",
        "changed",
        {"circuit": ("PUMP", ["PUMP", "FAN"])},
    )
    assert (
        told(site, "FAN")
        == [  # of the circuit and of what serves it
            (what, f"{PE[:3]}-{PE[3:]}", action, fields),
            ("circuit", "FAN", "added", {"code": (None, "FAN")}),
        ]
    )


def test_what_is_asked_of_a_box_leaves_out_what_is_elsewhere(site: OpenSite) -> None:
    site.land(L1, "PH1", "X1:1", sure=True)
    write(site, "UPDATE enclosures SET wet = 1 WHERE code = 'MDB'")
    write(site, "UPDATE enclosures SET name = 'lid' WHERE code = 'PH1'")
    actions = [(row.what, row.code, row.action) for row in site.history("ph1")]
    assert actions == [
        ("enclosure", "PH1", "changed"),
        ("terminal", "PH1/X1:1", "added"),
        ("enclosure", "PH1", "added"),
    ]
    assert [row.code for row in site.history("PH1/X1:1")] == ["PH1/X1:1"]
    assert next(row.fields for row in site.history("MDB")) == {"wet": (None, True)}


def test_readings_and_labels_are_told_with_what_they_are_of(site: OpenSite, tmp_path: Path) -> None:
    reading = site.log(L1, "continuity", "0.31", temp="20 C")
    change = site.registry.commit.change
    site.print_labels(L1, "flag-90x25-300", tmp_path / "labels.pdf")
    printed, read, _ = site.history(L1)
    assert (read.what, read.code, read.action, read.change) == ("reading", TAG, "added", change)
    assert read.fields["value"] == (None, reading.value)
    assert (printed.what, printed.action, printed.by) == ("label", "printed", "Mira")
    assert set(printed.fields) == {"from", "to"}
    assert site.history("PUMP")[0] == printed
    assert site.history("W1") == site.history("W1", limit=1)


def test_a_name_that_is_gone_still_leads_to_its_history(site: OpenSite) -> None:
    write(site, "UPDATE circuits SET code = 'BORE' WHERE code = 'PUMP'")
    assert told(site, "PUMP") == told(site, "BORE")
    assert told(site, "PUMP")[0] == ("circuit", "BORE", "changed", {"code": ("PUMP", "BORE")})
    with pytest.raises(NotFoundError, match="Nothing here is called 'PUMPS'"):
        site.history("PUMPS")


def test_days_are_counted_where_the_site_is(
    site: OpenSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(site, "UPDATE site SET time_zone = 'Pacific/Auckland'")  # 12 or 13 hours ahead of UTC
    monkeypatch.setattr(days, "utc_now", lambda: "2099-05-01T20:00:00.000Z")  # the 2nd there
    write(site, "UPDATE site SET name = 'Barn'")
    days.use("Pacific/Auckland")
    assert told(site, since="2099-05-02") == [
        ("site", "site", "changed", {"name": ("Example", "Barn")})
    ]
    assert told(site, since="2099-05-03") == []
    for wrong in ("2099-13-01", "soon", ""):
        with pytest.raises(BadInputError, match="is not a date"):
            site.history(since=wrong)


def test_a_dump_brings_the_history_along(site: OpenSite, tmp_path: Path) -> None:
    site.land(L1, "PH1", "X1:1", sure=True)
    write(site, "UPDATE site SET name = 'Barn'", more={"why": "it burnt", "on": "2026-05-02"})
    before = [row for row in site.history() if row.action in ("changed", "loaded")]
    assert (before[0].why, before[0].on) == ("it burnt", "2026-05-02")
    site.dump(tmp_path / "all.json")
    with new_site(tmp_path / "copy.db", "Copy") as copy:
        copy.load_file(tmp_path / "all.json")
        loaded, *after = copy.history()
        assert (loaded.code, loaded.action) == ("all.json", "loaded")
        rows = [row for row in after if row.action in ("changed", "loaded")]
    assert [row for row in rows if row.what != "site"] == [r for r in before if r.what != "site"]
    assert before[0] in rows


def test_what_another_program_wrote_is_told_as_by_nobody(db: Path, wiretrack: Wiretrack) -> None:
    with closing(sqlite3.connect(db)) as other:
        other.execute("UPDATE enclosures SET name = 'shed' WHERE code = 'MDB'")
        other.commit()
    newest = wiretrack("history", "--json").json[0]
    assert (newest["change"], newest["by"], newest["code"]) == (None, None, "MDB")
    assert newest["fields"] == {"name": ["main board", "shed"]}
    assert "nobody known" in wiretrack("history").out


def test_people_read_a_line_for_each_record(wiretrack: Wiretrack) -> None:
    wiretrack("land", L1, "PH1", "--terminal", "X1:1", "--new-terminal")
    ran = wiretrack("history", L1)
    lines = [line.strip() for line in ran.out.splitlines()]
    assert f"{TAG}: to terminal unknown → X1:1, to state unknown → landed" in lines
    assert any(
        line.startswith(f"conductor {TAG} added with pump.json: circuit PUMP") for line in lines
    )
    assert wiretrack("history", "--limit", "1", "--json").json[0]["code"] == TAG
    assert wiretrack("history", "--limit", "0").status == 2
    assert wiretrack("history", "--since", "2999-01-01").out.startswith(
        "No change is noted.\nNext, "
    )
    wrong = wiretrack("history", "NOBODY")
    assert (wrong.status, wrong.out) == (2, "")
    assert "NOBODY" in wrong.err


def test_the_last_line_takes_the_newest_change_back_where_that_can_be(
    wiretrack: Wiretrack, tmp_path: Path
) -> None:
    def following(*asked: str) -> str:
        return wiretrack("history", *asked).out.splitlines()[-1]

    label = ("label", "print", L1, "--stock", "flag-90x25-300", "--out", tmp_path / "labels.pdf")
    assert wiretrack(*label).status == 0
    assert "undo" not in following(L1)
    assert wiretrack("label", "placed", L1, "--end", "from").status == 0
    placed = wiretrack("history", "--json").json[0]["change"]
    assert following() == f"Next, take the last one back: wiretrack undo {placed}"
    read = wiretrack("test", "log", L1, "--kind", "continuity", "0.31", "--json").json["id"][:8]
    correct = f"wiretrack test log {TAG} --kind continuity VALUE --supersedes {read}"
    assert following() == f"Next, correct the last reading: {correct}"
