# SPDX-License-Identifier: MIT
"""A reading may be of a conductor, a device or a circuit, as its kind says."""

from __future__ import annotations

import html
import json
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode, urlsplit

import pytest

from tests.record_of import record_of, report_page
from tests.web.conftest import BEARER, settings_of
from wiretrack import encoding
from wiretrack.errors import BadInputError, SiteFileError
from wiretrack.model.entities import Circuit, Conductor, Reading
from wiretrack.model.entity import PlannedTest, Point, Subject, Verdict
from wiretrack.model.parts import SiteFacts
from wiretrack.model.source import DocumentSource
from wiretrack.readings import KINDS
from wiretrack.readings.voltage import VOLTAGE
from wiretrack.store.dumping import document
from wiretrack.store.health import backup, problems
from wiretrack.store.loading import create_registry
from wiretrack.store.searching import find
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.merging import merge
from wiretrack.tasks.describe.sites import dump_site, load_site
from wiretrack.tasks.report.checking import check
from wiretrack.tasks.report.punchlist import open_points_about, punch_list
from wiretrack.tasks.report.report import report
from wiretrack.tasks.test.plan import owed_tests, working_plan
from wiretrack.tasks.test.testing import ReadingText, log_reading, post_reading
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.readings.base import Record
    from wiretrack.store.store import Registry

TAG = "PVM-P01P"
AT = "2026-05-02T10:15:00+02:00"
UUID = "0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab"
SITE = {
    "format": "wiretrack-site/1",
    "enclosures": [{"code": "A"}, {"code": "B/2"}],
    "circuits": [{"code": "K", "system": "ac-1ph"}],
    "devices": [
        {"enclosure": "A", "code": "Q1", "kind": "breaker", "poles": [["1", "2"]]},
        {"enclosure": "B/2", "code": "Q1", "kind": "breaker"},
    ],
    "conductors": [
        {"tag": TAG, "circuit": "K", "function": "L1", "size": "4 mm2",
         "from": {"enclosure": "A", "terminal": "Q1:2"}, "to": {"enclosure": "B/2"}},
    ],
}  # fmt: skip


@pytest.fixture
def of_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a voltage be read of anything, and pass above 100 V."""

    def judge(measured: Any, reading: Reading, subject: Any, record: Record) -> Verdict:
        passes = measured.number is not None and measured.number > 100
        reason = f"of a {type(subject).__name__.lower()}"
        return Verdict("pass" if passes else "fail", 100.0, "V", "", reason)

    monkeypatch.setattr(VOLTAGE, "subjects", ("conductor", "device", "circuit"), raising=False)
    monkeypatch.setattr(VOLTAGE, "judge", judge, raising=False)


@pytest.fixture
def owed_of_all(of_all: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let each circuit owe a voltage of each of its devices and of itself, too."""

    def owed(circuit: Circuit) -> list[PlannedTest]:
        things = [thing for thing in circuit.measurable if not isinstance(thing, Conductor)]
        return [PlannedTest("voltage", t.subject, "PE", None, "IEC 60364-6", "x") for t in things]

    monkeypatch.setattr(VOLTAGE, "owed", owed, raising=False)
    monkeypatch.setattr(VOLTAGE, "expected", lambda *_: None, raising=False)


@pytest.fixture
def registry(tmp_path: Path) -> Iterator[Registry]:
    with loaded(tmp_path, "a", SITE) as opened:
        yield opened


def loaded(folder: Path, name: str, site: dict[str, Any]) -> Registry:
    create_registry(folder / f"{name}.db", SiteFacts(name="x"))
    (folder / f"{name}.json").write_text(json.dumps(site), "utf-8")
    opened = open_registry(folder / f"{name}.db")
    load_site(opened, folder / f"{name}.json")
    return opened


def log(registry: Registry, subject: str, value: str = "230 V", **more: Any) -> dict[str, Any]:
    text = ReadingText(subject=subject, kind="voltage", value=value, at=AT, **more)
    found: dict[str, Any] = encoding.document(log_reading(registry, text))
    return found


@pytest.mark.parametrize("kind", [k for k in KINDS if k.subjects == ("conductor",)])
@pytest.mark.parametrize("subject", ["A/Q1", "A/Q9", "K"])
def test_a_kind_that_is_read_of_conductors_is_read_of_nothing_else(
    registry: Registry, subject: str, kind: Any
) -> None:
    text = ReadingText(subject=subject, kind=kind.name, value="230", at=AT)
    with pytest.raises(BadInputError) as caught:
        log_reading(registry, text)
    assert str(caught.value) == (
        f"'{subject}' is no conductor: {kind.name} is read of one. Write a conductor by its tag."
    )
    assert document(registry).readings == ()


@pytest.mark.usefixtures("of_all")
@pytest.mark.parametrize(
    ("text", "written", "what"),
    [
        ("A/Q1", "A/Q1", "device"),
        ("B/2/Q1", "B/2/Q1", "device"),
        ("K", "K", "circuit"),
        ("pvmp01p", "PVMP01P", "conductor"),
    ],
)
def test_a_reading_is_judged_and_kept_by_what_it_is_of(
    registry: Registry, tmp_path: Path, text: str, written: str, what: str
) -> None:
    done = log(registry, text)
    assert done["verdict"]["reason"] == f"of a {what}"
    assert done["cautions"]
    (reading,) = document(registry).readings
    assert reading.subject == written
    assert isinstance(reading.subject, Subject) == (what != "conductor")
    assert problems(registry) == []
    for target in (tmp_path / "dump.json", tmp_path / "dump"):
        dump_site(registry, target)
        create_registry(tmp_path / f"{target.name}.db", SiteFacts())
        with open_registry(tmp_path / f"{target.name}.db") as copy:
            load_site(copy, target)
            assert document(copy).readings == (reading,)


@pytest.mark.usefixtures("of_all")
def test_both_sources_find_readings_by_what_they_are_of(registry: Registry) -> None:
    for subject in ("A/Q1", "B/2/Q1", "K", TAG):
        log(registry, subject)
    stored, written = site_of(registry), DocumentSource(document(registry))
    for by, key, subject in (
        ("device", Point("A", "Q1"), "A/Q1"),
        ("device", Point("B/2", "Q1"), "B/2/Q1"),
        ("circuit", "K", "K"),
        ("subject", "PVMP01P", "PVMP01P"),
    ):
        assert [r.subject for r in stored.at(Reading, by, key)] == [subject]
        assert [r.subject for _, r in written.find(Reading, by, [key])] == [subject]


@pytest.mark.usefixtures("of_all")
def test_they_are_shown_with_the_device_and_the_circuit_and_found(registry: Registry) -> None:
    wrong = log(registry, "A/Q1", "90 V", note="trips late")["id"]
    log(registry, "A/Q1", "231 V", supersedes=wrong)
    log(registry, "K", "232 V", note="whole circuit")
    box = record_of(registry, "A")
    (device,) = box["devices"]
    assert [(r["as_read"], r["superseded"]) for r in device["readings"]] == [
        ("90 V", True), ("231 V", False)
    ]  # fmt: skip
    circuit = record_of(registry, "K")
    assert [(r["as_read"], r["verdict"]["outcome"]) for r in circuit["readings"]] == [
        ("232 V", "pass")
    ]
    conductor = record_of(registry, TAG)
    assert conductor["readings"] == []
    assert [hit.code for hit in find(registry, "late")] == ["A/Q1"]
    assert [hit.code for hit in find(registry, "whole circuit")] == ["K"]


@pytest.mark.usefixtures("of_all")
def test_what_fails_is_on_the_punch_list_and_a_future_one_is_named(registry: Registry) -> None:
    log(registry, "A/Q1", "90 V")
    log(registry, "K", "230 V")
    failed = [row for row in punch_list(registry) if row.what == "reading failed"]
    assert [(row.subject, row.detail) for row in failed] == [("A/Q1", "voltage: of a device")]
    registry.db.execute("DROP TRIGGER readings_stay")
    registry.db.execute("UPDATE readings SET at = '2999-01-01T00:00:00Z'")
    late = [row.subject for row in check(registry) if row.rule == "reading-time"]
    assert sorted(set(late) - {"site"}) == ["A/Q1", "K"]


@pytest.mark.usefixtures("of_all")
def test_a_phone_sends_one_as_well_and_again(registry: Registry) -> None:
    sent = {"id": UUID, "kind": "voltage", "subject": "A/Q1", "value": "231 V", "at": AT}
    assert post_reading(registry, sent).new
    assert not post_reading(registry, sent).new
    assert [str(r.subject) for r in document(registry).readings] == ["A/Q1"]


@pytest.mark.usefixtures("of_all")
def test_a_device_of_another_box_whose_code_looks_like_it_takes_no_reading(tmp_path: Path) -> None:
    other = {"enclosure": "B/2", "code": "A/Q1", "kind": "breaker"}
    reading = {"kind": "voltage", "subject": "A/Q1", "value": "230 V", "at": AT}
    site = SITE | {"devices": [*SITE["devices"], other], "readings": [reading]}
    with loaded(tmp_path, "b", site) as registry:
        rows = registry.db.query("SELECT d.code FROM readings r JOIN devices d ON d.id = device_id")
        assert [row["code"] for row in rows] == ["Q1"]


@pytest.mark.usefixtures("of_all")
def test_a_file_names_each_subject_that_is_not_there(registry: Registry, tmp_path: Path) -> None:
    readings = [
        {"kind": "voltage", "subject": subject, "value": "231 V"}
        for subject in ("A/Q1", "K", TAG, "A/Q9")
    ]
    file = tmp_path / "more.json"
    file.write_text(json.dumps({"format": "wiretrack-site/1", "readings": readings}), "utf-8")
    with pytest.raises(SiteFileError) as caught:
        load_site(registry, file)
    assert [fault.place for fault in caught.value.faults] == ["readings[3].subject"]


def test_a_kind_of_devices_alone_says_so(
    registry: Registry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(VOLTAGE, "subjects", ("device",), raising=False)
    with pytest.raises(BadInputError, match="is no device: voltage is read of one"):
        log(registry, TAG)
    file = tmp_path / "more.json"
    reading = {"kind": "voltage", "subject": TAG, "value": "231 V"}
    file.write_text(json.dumps({"format": "wiretrack-site/1", "readings": [reading]}), "utf-8")
    with pytest.raises(SiteFileError) as caught:
        load_site(registry, file)
    assert [str(fault) for fault in caught.value.faults] == [
        f"readings[0].subject: '{TAG}' is no device. Correct it, or add that."
    ]


@pytest.mark.usefixtures("of_all")
def test_a_merge_brings_them(registry: Registry, tmp_path: Path) -> None:
    backup(registry, tmp_path / "b.db")
    with open_registry(tmp_path / "b.db") as other:
        log(other, "A/Q1", "231 V")
        log(other, "K", "232 V")
    merge(registry, tmp_path / "b.db")
    assert [r.subject for r in document(registry).readings] == ["A/Q1", "K"]


@pytest.mark.usefixtures("of_all")
@pytest.mark.parametrize(("subject", "page"), [("A/Q1", "/enclosures/A"), ("K", "/circuits/K")])
def test_pages_show_them(registry: Registry, tmp_path: Path, subject: str, page: str) -> None:
    client = create_app(settings_of(tmp_path / "a.db")).test_client()
    before = client.get(page, headers=BEARER).text
    log(registry, subject, "231 V")
    after = client.get(page, headers=BEARER).text
    assert "231 V" not in before
    assert "voltage 231 V, pass: of a" in after


def voltages(registry: Registry) -> list[str]:
    return [step.subject for step in owed_tests(registry, "K") if step.kind == "voltage"]


@pytest.mark.usefixtures("owed_of_all")
def test_what_is_owed_of_them_is_planned_and_open_until_it_passes(registry: Registry) -> None:
    assert voltages(registry) == ["A/Q1", "K"]
    assert list(working_plan(registry, "K").subjects)[-2:] == ["A/Q1", "K"]
    points = {point.subject for point in punch_list(registry) if point.what == "test due"}
    assert points >= {"A/Q1", "K"}
    assert {p.subject for p in open_points_about(registry, "circuit", "K")} >= {"A/Q1", "K"}
    log(registry, "A/Q1", "90 V", against="PE")
    assert voltages(registry) == ["A/Q1", "K"]
    log(registry, "A/Q1", "231 V", against="PE")
    log(registry, "K", "231 V", against="raceway")  # which is earth too
    assert voltages(registry) == []
    points = {p.subject for p in punch_list(registry) if p.detail.startswith("voltage")}
    assert points == set()


@pytest.mark.usefixtures("owed_of_all")
@pytest.mark.parametrize(("subject", "page"), [("A/Q1", "/enclosures/A"), ("K", "/circuits/K")])
def test_a_phone_is_led_to_them_and_back(
    registry: Registry, tmp_path: Path, subject: str, page: str
) -> None:
    client = create_app(settings_of(tmp_path / "a.db")).test_client()
    asked = {"subject": subject, "kind": "voltage", "against": "PE", "circuit": "K"}
    assert f"/readings/new?{urlencode(asked, safe='/')}" in html.unescape(
        client.get("/tests/K", headers=BEARER).text
    )
    form = client.get("/readings/new", query_string=asked, headers=BEARER).text
    assert f'name="subject" value="{subject}"' in form
    assert "kind=insulation" not in form  # no kind that isn't read of such is offered
    token = form.split('name="form_token" value="')[1].split('"')[0]
    sent = {**asked, "circuit": "", "value": "90", "cautions": "1", "form_token": token}
    answer = client.post("/readings/new", data=sent, headers=BEARER)
    assert answer.status_code == 303
    to = urlsplit(answer.headers["Location"]).path
    assert client.get(to, headers=BEARER).headers["Location"] == page
    for found in ("/find?q=voltage", "/punchlist?what=reading+failed"):
        assert f'href="{to}"' in client.get(found, headers=BEARER).text
    assert log(registry, subject, "231 V", against="PE")["verdict"]["outcome"] == "pass"


@pytest.mark.usefixtures("of_all")
def test_what_is_known_of_them_by_now_is_told_to_who_relied_on_something_else(
    registry: Registry, tmp_path: Path
) -> None:
    client = create_app(settings_of(tmp_path / "a.db")).test_client()
    sent = {"id": UUID, "kind": "voltage", "subject": "A/Q1", "value": "231 V", "at": AT}
    other = client.post("/api/readings", json=sent, headers=BEARER | {"If-Match": '"0"'})
    now: dict[str, Any] = other.get_json()["now"]
    assert (other.status_code, now["facts"]["kind"]) == (412, "breaker")
    seen = now["seen"]
    answer = client.post("/api/readings", json=sent, headers=BEARER | {"If-Match": f'"{seen}"'})
    assert answer.status_code == 201
    assert document(registry).readings[0].subject == "A/Q1"


@pytest.mark.usefixtures("of_all")
def test_a_report_has_them_with_the_conductors(registry: Registry) -> None:
    log(registry, TAG, "229 V")
    log(registry, "A/Q1", "90 V", against="PE")
    log(registry, "K", "231 V")
    log(registry, "B/2/Q1", "232 V")  # no conductor of K is landed on that device
    (circuit,) = report(registry, "K").circuits
    told = [(r.number, r.tag, r.reading.value, r.counts) for r in circuit.readings]
    assert told == [(1, TAG, "229 V", True), (2, "A/Q1", "90 V", True), (3, "K", "231 V", True)]
    assert [p.subject for p in circuit.open if p.what == "reading failed"] == ["A/Q1"]
    whole = report(registry).circuits[0].readings
    assert encoding.document(whole) == encoding.document(circuit.readings)
    assert report(registry).outcome.readings == {"pass": 2, "fail": 1, "doubt": 0}
    assert '<td data-head="reading">voltage to PE: 90 V</td>' in report_page(registry, "K")
