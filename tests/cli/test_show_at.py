# SPDX-License-Identifier: MIT
"""`show WHAT --at DAY`: the record as it stood, by what had been entered by the end of that day."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, PUMP
from wiretrack import days
from wiretrack.cli.group import run
from wiretrack.library import OpenSite
from wiretrack.library import new as new_site
from wiretrack.store.store import open_registry

if TYPE_CHECKING:
    from pathlib import Path

TAG = f"{L1[:3]}-{L1[3:]}"
# In Auckland it is 12 hours later than in UTC then: the first of two days of work ends at noon.
BEGAN, NOON, EVENING = "2026-05-01T08:00", "2026-05-02T11:59", "2026-05-02T12:00"


@pytest.fixture
def db(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    def at(moment: str) -> None:
        monkeypatch.setattr(days, "utc_now", lambda: f"{moment}:00.000Z")

    path, file = tmp_path / "barn.db", tmp_path / "pump.json"
    file.write_text(json.dumps(PUMP), "utf-8")
    at(BEGAN)
    new_site(path, "Barn", time_zone="Pacific/Auckland").close()
    with OpenSite(open_registry(path), who="Mira") as site:
        site.load_file(file)
        at(NOON)
        site.land(L1, "PH1", state="capped")
        with site.registry.write() as written:
            written.execute("UPDATE circuits SET code = 'BORE' WHERE code = 'PUMP'")
        at(EVENING)
        site.land(L1, "PH1", "X1:1", sure=True)
        site.log(L1, "continuity", "0.31", temp="20 C", at="2026-05-01")
    return path


def shown(db: Path, *arguments: str, capsys: pytest.CaptureFixture[str]) -> Any:
    capsys.readouterr()
    assert run(["--db", str(db), "show", *arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_the_days_end_is_that_of_the_site(db: Path, capsys: pytest.CaptureFixture[str]) -> None:
    states = {}
    for day in ("2026-05-01", "2026-05-02", "3.5.2026"):
        record = shown(db, L1, "--at", day, capsys=capsys)
        states[record["as_of"]] = (record["circuit"], record["ends"][1]["state"])
    assert states == {
        "2026-05-01": ("PUMP", None),
        "2026-05-02": ("BORE", "capped"),
        "2026-05-03": ("BORE", "landed"),
    }


def test_a_reading_counts_from_when_it_was_entered(
    db: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # It was taken on the first, and entered on the third.
    for day, count in (("2026-05-02", 0), ("2026-05-03", 1)):
        assert len(shown(db, L1, "--at", day, capsys=capsys)["readings"]) == count


def test_today_is_as_it_is_now(db: Path, capsys: pytest.CaptureFixture[str]) -> None:
    then = shown(db, L1, "--at", "today", capsys=capsys)
    assert then.pop("as_of") == days.today().isoformat()
    assert then == shown(db, L1, capsys=capsys)


def test_people_read_first_that_it_is_of_then(db: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--db", str(db), "show", TAG, "--at", "2026-05-02"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("As recorded by the end of 2026-05-02\n")
    assert "capped" in out
    led_on = f"Next, see what changed since: wiretrack --db {db} history {TAG} "
    assert out.splitlines()[-1].startswith(led_on)


@pytest.mark.parametrize(
    ("what", "day", "words"),
    [
        (TAG, "2026-04-30", "By the end of 2026-04-30 this registry had not begun."),
        (TAG, "2999-01-01", "2999-01-01 lies in the future: its record isn't written yet."),
        (TAG, "soon", "'soon' is not a date. Write it like 2026-05-02."),
        ("BORE", "2026-05-01", "Nothing was called 'BORE' by the end of 2026-05-01. See: "
         "wiretrack --db {db} history BORE"),
        ("LIFT", "2026-05-01", "Nothing here is called 'LIFT'."),
    ],
)  # fmt: skip
def test_what_was_not_then_is_one_line(
    db: Path, capsys: pytest.CaptureFixture[str], what: str, day: str, words: str
) -> None:
    assert run(["--db", str(db), "show", what, "--at", day]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(f"error: {words.format(db=db)}")


def test_the_library_gives_the_whole_site_as_it_was(db: Path) -> None:
    with OpenSite(open_registry(db)) as site:
        past = site.as_of("2026-05-01")
        assert [circuit.code for circuit in past.circuits] == ["PUMP"]
        assert past.conductor(L1).to_end.state is None
        assert [circuit.code for circuit in site.circuits] == ["BORE"]
