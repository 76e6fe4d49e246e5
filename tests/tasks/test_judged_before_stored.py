# SPDX-License-Identifier: MIT
"""A reading is judged before it is stored: its kind, its time, its unit; what came in is named."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, L2, PE, PUMP
from tests.record_of import record_of
from wiretrack import days
from wiretrack.electrical.quantities import parse_resistance
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, FieldError, SiteFileError, UnlikelyValueError
from wiretrack.model.entities import Reading
from wiretrack.readings.base import ReadingKind, in_time
from wiretrack.readings.judging import Judge
from wiretrack.store import reading_log
from wiretrack.store.source import site_of
from wiretrack.tasks.describe.sites import load_site
from wiretrack.tasks.report.checking import check
from wiretrack.tasks.report.punchlist import punch_list
from wiretrack.tasks.test.plan import owed_tests, trend
from wiretrack.tasks.test.testing import ReadingText, log_reading, post_reading

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.store import Registry

ID = "0b8a7d9e-5f0c-4f3e-9d7a-1c2b3a4d5e6f"


def moment(**ahead: float) -> str:
    return (datetime.now(UTC) + timedelta(**ahead)).isoformat(timespec="seconds")


def log(registry: Registry, value: str, **more: str) -> dict[str, Any]:
    text = {"subject": L1, "kind": "continuity", "temp": "20 C", "value": value, **more}
    found: dict[str, Any] = document(log_reading(registry, ReadingText(**text)))
    return found


def post(registry: Registry, **fields: str) -> Any:
    document = {"id": ID, "subject": L1, "kind": "continuity", "value": "0.31 ohm", **fields}
    return post_reading(registry, document)


def load(registry: Registry, tmp_path: Path, *rows: dict[str, Any]) -> None:
    file = tmp_path / "more.json"
    more = {"format": PUMP["format"], "readings": [{"subject": L1, **row} for row in rows]}
    file.write_text(json.dumps(more), encoding="utf-8")
    load_site(registry, file)


def stored(registry: Registry) -> int:
    return len(in_time(site_of(registry).every(Reading)))


FAR = [{"days": 1}, {"minutes": 20}, {"days": 400}]


@pytest.mark.parametrize("ahead", FAR)
def test_a_reading_of_the_future_is_stored_by_no_way_in(
    registry: Registry, tmp_path: Path, ahead: dict[str, float]
) -> None:
    at = moment(**ahead)
    with pytest.raises(BadInputError, match="lies in the future"):
        log(registry, "0.31", at=at)
    with pytest.raises(FieldError, match="lies in the future") as caught:
        post(registry, at=at)
    assert caught.value.field == "at"
    with pytest.raises(SiteFileError, match=r"readings\[1\]\.at: .* lies in the future"):
        load(
            registry, tmp_path,
            {"kind": "continuity", "value": "0.31 ohm"},
            {"kind": "continuity", "value": "0.31 ohm", "at": at},
        )  # fmt: skip
    assert stored(registry) == 0


@pytest.mark.parametrize("ahead", [{"minutes": 2}, {"seconds": 0}, {"days": -1}, {"days": -4000}])
def test_a_clock_that_is_minutes_ahead_and_every_past_are_taken(
    registry: Registry, tmp_path: Path, ahead: dict[str, float]
) -> None:
    at = moment(**ahead)
    assert log(registry, "0.31", at=at)["verdict"]["outcome"] == "pass"
    assert post(registry, at=at).new
    load(registry, tmp_path, {"kind": "continuity", "value": "0.32 ohm", "at": at})
    assert stored(registry) == 3


def test_the_day_of_today_is_not_the_future(registry: Registry) -> None:
    today = datetime.now().astimezone().date().isoformat()
    assert log(registry, "0.31", at=today)["id"]


@pytest.mark.parametrize(
    ("at", "is_ahead"),
    [
        ("2026-05-02T13:00:00-12:00", True), ("2026-05-02T23:59:00+00:00", False),
        ("2026-05-03T00:04:00+00:00", False), ("2026-05-03T00:06:00Z", True),
        ("2026-05-03T12:04:00", False), ("2026-05-03T13:00:00", True), ("2026-05-03", False),
        ("2026-05-04", True), (None, False),
    ],
)  # fmt: skip
def test_what_lies_ahead_of_a_clock_by_hand(
    monkeypatch: pytest.MonkeyPatch, at: str | None, is_ahead: bool
) -> None:
    class Clock(datetime):
        @classmethod
        def now(cls, tz: Any = None) -> Clock:
            return cls(2026, 5, 3, 0, 0, tzinfo=tz)

    monkeypatch.setattr("wiretrack.days.datetime", Clock)
    days.use("Pacific/Auckland")  # 12 h before UTC
    assert days.in_future(at) is is_ahead


def of_the_future(registry: Registry, value: str, record: str, **more: Any) -> None:
    """Store a wrongly dated reading as an older wiretrack did."""
    reading_log.add_reading(
        registry,
        Reading(
            kind="continuity", subject=L1, value=value, number=float(value), unit="ohm",
            over_range=False, at=moment(days=200), temp_c=20.0, id=record, **more,
        ),
    )  # fmt: skip


def failed(registry: Registry) -> list[str]:
    return [row.subject for row in punch_list(registry) if row.what == "reading failed"]


def owed(registry: Registry) -> set[str]:
    return {s.subject for s in owed_tests(registry, "PUMP") if s.kind == "continuity"}


def test_a_wrongly_dated_reading_never_wins_over_a_later_one(registry: Registry) -> None:
    tag = f"{L1[:3]}-{L1[3:]}"
    of_the_future(registry, "0.31", ID)
    assert tag in owed(registry)  # a reading that can't have been taken proves nothing
    log(registry, "9.0", at=moment(days=-1))
    assert failed(registry) == [tag]
    assert tag in owed(registry)
    log(registry, "0.31")
    assert failed(registry) == []
    assert tag not in owed(registry)


def test_a_wrongly_dated_failure_hides_nothing_either(registry: Registry) -> None:
    of_the_future(registry, "9.0", ID)
    log(registry, "0.31")
    assert failed(registry) == []


def test_show_and_check_name_a_reading_of_the_future_until_it_is_superseded(
    registry: Registry,
) -> None:
    assert "reading-time" not in {row.rule for row in check(registry)}
    of_the_future(registry, "0.31", ID)
    shown = record_of(registry, L1)["readings"]
    assert shown[0]["verdict"]["outcome"] == "doubt"
    assert "in the future" in shown[0]["verdict"]["reason"]
    for what in (None, "PUMP", L1):
        (row,) = (row for row in check(registry, what) if row.rule == "reading-time")
        assert (row.subject, row.outcome) == (f"{L1[:3]}-{L1[3:]}", "fail")
        assert ID in row.reason
    assert "reading-time" not in {row.rule for row in check(registry, L2)}
    log(registry, "0.31", supersedes=ID)
    assert "reading-time" not in {row.rule for row in check(registry)}


def test_a_trend_leaves_the_future_out(registry: Registry) -> None:
    log(registry, "0.31")
    of_the_future(registry, "9.0", ID)
    (series,) = trend(registry, L1).series
    assert [point.as_read for point in series.points] == ["0.31"]


def test_a_dump_with_its_history_brings_what_was_stored_once(
    registry: Registry, tmp_path: Path
) -> None:
    from wiretrack.store.store import open_registry
    from wiretrack.tasks.describe.sites import dump_site, new_site

    of_the_future(registry, "0.31", ID)
    dump_site(registry, tmp_path / "dump.json")
    new_site(tmp_path / "other.db", "Example")
    with open_registry(tmp_path / "other.db") as other:
        load_site(other, tmp_path / "dump.json")
        assert stored(other) == 1


@pytest.mark.parametrize("kind", ["impedance", "Continuity", ""])
def test_an_unknown_kind_stores_nothing(registry: Registry, tmp_path: Path, kind: str) -> None:
    with pytest.raises(BadInputError):
        log(registry, "0.31", kind=kind)
    with pytest.raises(BadInputError):
        post(registry, kind=kind)
    with pytest.raises(BadInputError):
        load(registry, tmp_path, {"kind": kind, "value": "0.31 ohm"})
    assert stored(registry) == 0


def test_a_kind_without_a_rule_is_refused_and_never_judged_as_continuity() -> None:
    answers = {"name": "impedance", "parse": parse_resistance, "owed": lambda *_: []}
    with pytest.raises(TypeError, match="judge"):
        type("Impedance", (ReadingKind,), answers)()


# A conductor has no 300 °C: no table goes so far (-100 to 250 °C), though it can be typed.
def test_what_no_rule_can_judge_is_stored_by_no_way_in(registry: Registry, tmp_path: Path) -> None:
    with pytest.raises(BadInputError):
        log(registry, "0.31", temp="300 C")
    with pytest.raises(FieldError) as caught:
        post(registry, temp="300 C")
    assert caught.value.field == "temp"
    with pytest.raises(SiteFileError, match=r"readings\[0\]"):
        load(registry, tmp_path, {"kind": "continuity", "value": "0.31 ohm", "temp": "300 C"})
    assert stored(registry) == 0


def test_one_that_an_older_wiretrack_stored_all_the_same_is_shown_as_a_doubt(
    registry: Registry,
) -> None:
    odd = Reading(
        kind="continuity", subject=L1, value="0.31", number=0.31, unit="ohm", over_range=False,
        at=moment(days=-1), temp_c=300.0,
    )  # fmt: skip
    reading_log.add_reading(registry, odd)
    (shown,) = record_of(registry, L1)["readings"]
    assert shown["verdict"]["outcome"] == "doubt"
    assert "can't be judged" in shown["verdict"]["reason"]


@pytest.mark.parametrize("value", ["200", "550 mohm"])
def test_insulation_in_ohms_is_asked_about_by_every_way_in(
    registry: Registry, tmp_path: Path, value: str
) -> None:
    more = {"kind": "insulation", "value": value, "against": "PE", "test_voltage": "500 V"}
    with pytest.raises(UnlikelyValueError, match="Write "):
        log(registry, **more)
    with pytest.raises(FieldError, match="dead short") as caught:
        post(registry, **more)
    assert caught.value.field == "value"
    with pytest.raises(SiteFileError, match=r"readings\[0\]\.value: .*dead short"):
        load(registry, tmp_path, more)
    assert stored(registry) == 0
    likely, literal = ("200M", "200ohm") if value == "200" else ("550M", "0.55ohm")
    assert log(registry, **{**more, "value": likely})["verdict"]["outcome"] == "pass"
    assert log(registry, **{**more, "value": literal})["verdict"]["outcome"] == "fail"


def loop(registry: Registry, value: str, **more: str) -> dict[str, Any]:
    return dict(
        log(registry, value, kind="loop", leads="0 ohm", instrument="M1", **more)["verdict"]
    )


def test_a_loop_is_judged_out_and_back(registry: Registry) -> None:
    # IEC 60228:2004 table 2: 4 mm2 class 2, 4.61 ohm/km at 20 °C: 134 m out and back, 0.618 ohm.
    for against in (L2, PE, "PE"):  # the one protective conductor beside it is known by itself
        found = loop(registry, "0.65", against=against)
        assert found["outcome"] == "pass"
        assert "expected 0.618 Ω" in found["reason"]
    assert loop(registry, "0.31", against=L2)["outcome"] == "doubt"
    nowhere = loop(registry, "0.65")
    assert (nowhere["outcome"], nowhere["missing"]) == ("doubt", ["return conductor"])


def series_site(registry: Registry, tmp_path: Path) -> tuple[str, str]:
    """Load a second section of L1 beyond PH1, joined with it by a splice."""
    from tests.pump import tag

    one, other = tag("PMP021"), tag("PMP022")
    base = {"circuit": "PUMP", "function": "L3", "size": "4 mm2", "metal": "Cu", "strands": 7}
    file = tmp_path / "series.json"
    more = {
        "format": PUMP["format"],
        "enclosures": [{"code": "END"}],
        "devices": [{"enclosure": "PH1", "code": "S1", "kind": "splice", "poles": [["1", "2"]]}],
        "conductors": [
            {**base, "tag": one, "length": "67 m", "from": {"enclosure": "MDB", "terminal": "Q4:5"},
             "to": {"enclosure": "PH1", "terminal": "S1:1", "state": "landed"}},
            {**base, "tag": other, "length": "33 m", "to": {"enclosure": "END"},
             "from": {"enclosure": "PH1", "terminal": "S1:2", "state": "landed"}},
        ],
    }  # fmt: skip
    file.write_text(json.dumps(more), encoding="utf-8")
    load_site(registry, file)
    return one, other


def test_a_joint_in_the_measured_path_is_in_the_expectation(
    registry: Registry, tmp_path: Path
) -> None:
    one, other = series_site(registry, tmp_path)
    # By hand: 100 m x 4.61 mohm/m = 0.461 ohm, and 0.1 for contacts and 0.02 for the joint.
    found = log(registry, "0.50", subject=one, against=other, leads="0", instrument="M1")["verdict"]
    assert "expected 0.461 Ω" in found["reason"]
    assert found["outcome"] == "pass"
    assert "0.02 Ω for the joint (common practice)" in found["source"]
    alone = log(registry, "0.50", subject=one, leads="0")["verdict"]
    assert (alone["outcome"], "joint" in alone["source"]) == ("fail", False)
    apart = log(registry, "0.32", subject=one, against=L2, leads="0")["verdict"]
    assert "expected 0.309 Ω" in apart["reason"]  # not joined: the one conductor, as ever


def test_the_range_of_an_instrument_makes_over_range_a_bound(
    registry: Registry, tmp_path: Path
) -> None:
    file = tmp_path / "gear.json"
    gear = [{"code": "M9", "kind": "insulation-tester", "range": "2000 Mohm"}]
    file.write_text(json.dumps({"format": PUMP["format"], "instruments": gear}), encoding="utf-8")
    load_site(registry, file)
    more = {"kind": "insulation", "against": "PE", "test_voltage": "500 V"}
    assert log(registry, "OL", instrument="M9", **more)["verdict"]["outcome"] == "pass"
    assert log(registry, "OL", **more)["verdict"]["missing"] == ["top of the range"]
    assert (
        Judge(site_of(registry)).verdict(in_time(site_of(registry).every(Reading))[0]).outcome
        == "pass"
    )
