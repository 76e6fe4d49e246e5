# SPDX-License-Identifier: MIT
"""What a verification report says follows from the record, and the record can be proved by it."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.cases.meter import RealBundle
from tests.drawing import full
from tests.electrical.test_part import sites
from tests.pump import L1, L2, PE, PUMP
from tests.record_of import add_document, report_page
from tests.reports.conftest import by_section, html_text
from wiretrack.electrical.cautions import LAST_WORD
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, NotFoundError
from wiretrack.model.parts import End
from wiretrack.model.tags import format_tag
from wiretrack.ringout.results import Result
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.cutting import CutEnds, Division
from wiretrack.tasks.change.extending import Extension, extend
from wiretrack.tasks.change.replacing import Replacement, replace_conductor
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.change.swapping import swap
from wiretrack.tasks.describe.landing import land
from wiretrack.tasks.describe.sites import dump_site, load_site, new_site
from wiretrack.tasks.identify.request import Wanted
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.tasks.report import report as task
from wiretrack.tasks.report.punchlist import open_points_about, punch_list
from wiretrack.tasks.report.report import Reporter, write_report
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.store import Registry

DAY = "2026-05-02T10:15:00+02:00"


def report(registry: Registry, what: str | None = None, by: str | None = None) -> Any:
    return document(task.report(registry, what, by=by))


def log(registry: Registry, subject: str, kind: str, value: str, **more: Any) -> str:
    text = ReadingText(subject=subject, kind=kind, value=value, at=more.pop("at", DAY), **more)
    return log_reading(registry, text).id


def sections(registry: Registry, what: str | None = None) -> dict[str, str]:
    return by_section(html_text(report_page(registry, what)))


def rung_out(registry: Registry) -> None:
    mate = {format_tag(L1): "3", format_tag(L2): "1", format_tag(PE): "2"}
    bundle = RealBundle(mate, ohm_each=4.61 * 0.067)
    wanted = Wanted(pull="P1", near="MDB", far="PH1", instrument="M1")
    ringing = Ringing.begin(registry, wanted, who="roof")
    while not isinstance(step := ringing.next_step(), Result):
        ringing.answer(step, bundle.answer(document(step)))
    ringing.finish("roof")


def test_the_digest_is_that_of_the_dump(registry: Registry, tmp_path: Path) -> None:
    log(registry, L1, "continuity", "0.31 ohm")
    dump = tmp_path / "dump.json"
    dump_site(registry, dump)
    digest = hashlib.sha256(dump.read_bytes()).hexdigest()
    assert report(registry)["registry"]["record_sha256"] == digest
    assert digest in sections(registry)["Origin of this report"]
    log(registry, L2, "continuity", "0.31 ohm")
    assert report(registry)["registry"]["record_sha256"] != digest


def test_a_report_can_be_made_again_from_the_site_file_kept_beside_it(
    registry: Registry, tmp_path: Path
) -> None:
    log(registry, L1, "insulation", "0.4 Mohm", against="PE", test_voltage="500 V")
    record = tmp_path / "record.json"
    done = write_report(registry, None, tmp_path / "r.html", record=record)
    copy = tmp_path / "copy.db"
    new_site(copy, "copy")
    with open_registry(copy) as other:
        load_site(other, record)
        again = report(other)
    assert again["registry"]["record_sha256"] == done.record_sha256
    assert again["outcome"] == document(done.outcome)


def test_it_tells_identity_and_state_of_the_registry(registry: Registry) -> None:
    found = report(registry, by="roof")
    changes = registry.rows("SELECT id FROM changes ORDER BY seq")
    site = registry.row("SELECT id FROM site")
    told = sections(registry)["Origin of this report"]
    assert (found["by"], found["registry"]["changes"]) == ("roof", len(changes))
    for text in (site and site["id"], changes[-1]["id"]):
        assert str(text) in told


def test_every_reading_is_shown_and_a_superseded_one_as_such(registry: Registry) -> None:
    wrong = log(registry, PE, "continuity", "OL")
    log(registry, PE, "continuity", "0.31 ohm", supersedes=wrong, temp="20 C")
    rows = report(registry)["circuits"][0]["readings"]
    assert [(r["as_read"], r["superseded"], r["superseded_by"], r["counts"]) for r in rows] == [
        ("OL", True, "2", False),
        ("0.31 ohm", False, None, True),
    ]
    told = sections(registry)["Circuits"]
    assert "superseded by 2 (was: fail)" in told
    assert "0.31 Ω" in told
    assert report(registry)["outcome"]["readings"] == {"pass": 1, "fail": 0, "doubt": 0}


def test_a_reading_superseded_from_another_conductor_names_that_one(registry: Registry) -> None:
    wrong = log(registry, L1, "continuity", "0.30 ohm")
    log(registry, L2, "continuity", "0.30 ohm", supersedes=wrong)
    first = report(registry)["circuits"][0]["readings"][0]
    assert first["superseded_by"] == "2"


def test_of_two_readings_the_later_counts_and_the_earlier_stays_in_sight(
    registry: Registry,
) -> None:
    log(registry, L1, "insulation", "0.4 Mohm", against="PE", test_voltage="500 V")
    later = "2026-06-02T10:15:00+02:00"
    log(registry, L1, "insulation", "900 Mohm", against="PE", test_voltage="500 V", at=later)
    told = sections(registry)
    assert "fail, earlier" in told["Circuits"]
    assert "Failed readings: none in the record." in told["Deviations"]


def test_what_fails_is_a_deviation_with_limit_reason_and_source(registry: Registry) -> None:
    log(registry, L1, "insulation", "0.4 Mohm", against="PE", test_voltage="500 V")
    told = sections(registry, "PUMP")
    # IEC 60364-6:2016, table 6.1: 1 MΩ at 500 V for circuits of up to 500 V.
    assert "0.4 MΩ" in told["Deviations"]
    assert "1 MΩ" in told["Deviations"]
    assert "IEC 60364-6:2016 table 6.1" in told["Circuits"]


def test_an_instrument_is_told_with_what_is_unknown_of_it(registry: Registry) -> None:
    log(registry, L1, "continuity", "0.31 ohm", instrument="M1")
    log(registry, L2, "continuity", "0.31 ohm")
    told = sections(registry)["Instruments"]
    assert "M1, ohmmeter unknown 0.5% + 2 digits 0.01 Ω unknown unknown" in told
    assert "no calibration is recorded" in told
    assert "1 reading taken with an instrument that isn't recorded" in told


def test_unknown_facts_are_called_unknown(tmp_path: Path) -> None:
    bare = {
        "format": "wiretrack-site/1",
        "enclosures": [{"code": "A"}, {"code": "B"}],
        "raceways": [{"code": "W", "from": "A", "to": "B"}],
        "circuits": [{"code": "K"}],
        "pulls": [{"code": "P", "path": ["W"]}],
        "conductors": [
            {
                "circuit": "K", "function": "L1", "size": "4 mm2", "pull": "P",
                "from": {"enclosure": "A"}, "to": {"enclosure": "B"},
            }
        ],
    }  # fmt: skip
    file, path = tmp_path / "bare.json", tmp_path / "bare.db"
    file.write_text(json.dumps(bare), "utf-8")
    new_site(path, "Bare")
    with open_registry(path) as registry:
        load_site(registry, file)
        told = sections(registry)
    assert (
        "System unknown Supply unknown Type of earthing unknown Highest voltage unknown "
        "Highest current unknown"
    ) in told["Circuits"]
    assert "length unknown" in told["Circuits"]
    assert "W A → B unknown unknown unknown unknown" in told["Raceways and enclosures"]
    assert "Phase sequence" in told["Circuits"]  # what its system doesn't need isn't known


def test_an_empty_site_has_a_report_too(tmp_path: Path) -> None:
    new_site(tmp_path / "empty.db", "Nothing yet")
    with open_registry(tmp_path / "empty.db") as registry:
        told = sections(registry)
        assert (write_report(registry, None, tmp_path / "empty.pdf").pages or 0) >= 3
    assert told["Circuits"] == "No circuit is recorded."
    assert "0 circuits" in told["Summary"]


def test_a_finished_ring_out_is_told_with_joins_and_conclusions(registry: Registry) -> None:
    rung_out(registry)
    told = sections(registry, "PUMP")["Ring-outs"]
    assert "Rung out by roof" in told
    assert "Instrument M1" in told
    assert "twist together" in told
    for tag, mark in ((L1, 3), (L2, 1), (PE, 2)):
        assert f"{format_tag(tag)} {mark} " in told
        assert f"So {format_tag(tag)} is end {mark}." in told


def test_a_ring_out_under_way_is_named_and_concludes_nothing(registry: Registry) -> None:
    Ringing.begin(registry, Wanted(pull="P1", near="MDB", far="PH1"))
    told = sections(registry)["Ring-outs"]
    assert "Pull P1, MDB to PH1: begun on " in told
    assert "not finished" in told
    assert "Conclusions" not in told


def test_a_retired_circuits_own_report_says_so_in_large_words(registry: Registry) -> None:
    log(registry, L1, "continuity", "0.31 ohm")
    retire(registry, "PUMP", abandoned=False, at="2026-06-01")
    page = report_page(registry, "PUMP")
    assert '<p class="large">RETIRED on 2026-06-01' in page
    found = report(registry, "PUMP")
    assert len(found["circuits"][0]["conductors"]) == 3
    assert [r["as_read"] for r in found["circuits"][0]["readings"]] == ["0.31 ohm"]
    assert found["circuits"][0]["open"] == []


def test_the_sites_report_leaves_a_retired_circuit_out_and_lists_it(registry: Registry) -> None:
    retire(registry, "PUMP", abandoned=False, at="2026-06-01")
    found, told = report(registry), sections(registry)
    assert found["circuits"] == []
    assert "PUMP, bore pump: retired on 2026-06-01" in told["Origin of this report"]


def test_a_retired_conductor_is_listed_apart_from_those_in_service(registry: Registry) -> None:
    retire(registry, L1, abandoned=True, at="2026-06-01")
    circuit = report(registry)["circuits"][0]
    assert format_tag(L1) not in {c["tag"] for c in circuit["conductors"]}
    assert [c["tag"] for c in circuit["retired_conductors"]] == [format_tag(L1)]
    assert "abandoned in its raceway" in sections(registry)["Circuits"]


def test_what_was_read_of_a_replaced_conductor_is_history_and_counts_no_more(
    registry: Registry,
) -> None:
    old = log(registry, L1, "insulation", "0.4 Mohm", against="PE", test_voltage="500 V")
    done = replace_conductor(registry, Replacement(tag=L1, same=True, at="2026-06-01"))
    circuit = report(registry)["circuits"][0]
    new = next(c["tag"] for c in circuit["conductors"] if c["function"] == "L1")
    assert new != format_tag(L1), done
    row = next(r for r in circuit["readings"] if r["id"] == old)
    assert (row["tag"], row["history_of"], row["counts"]) == (format_tag(L1), new, False)
    told = sections(registry)
    assert f"fail, history of {new}" in told["Circuits"]
    assert "Failed readings: none in the record." in told["Deviations"]


def test_what_was_read_of_a_cut_conductor_is_the_history_of_both_pieces(
    registry: Registry,
) -> None:
    old = log(registry, L1, "continuity", "0.4 ohm")
    division = Division(raceway="W1", into="W1A,W1B")
    cut = Extension(what=(L1,), through="PB", new_box="junction-box", division=division,
                    ends=CutEnds(terminals="T:1"), at="2026-06-01")  # fmt: skip
    done = extend(registry, cut).cut[0]
    row = next(r for r in report(registry)["circuits"][0]["readings"] if r["id"] == old)
    both = f"{done.near.tag}, {done.far.tag}"
    assert (row["tag"], row["history_of"], row["counts"]) == (format_tag(L1), both, False)
    assert f"history of {both}" in sections(registry)["Circuits"]


def test_a_reading_that_rests_on_crossed_ends_is_owed_again(registry: Registry) -> None:
    for tag, terminal in ((L1, "TB1:1"), (L2, "TB1:2")):
        land(registry, tag, End(enclosure="PH1", terminal=terminal, state="landed"))
        log(registry, tag, "continuity", "0.31 ohm", temp="20 C")
    swap(registry, (L1, L2), "PH1", at="2026-06-01")
    found = report(registry)
    assert found["outcome"]["readings"] == {"pass": 0, "fail": 0, "doubt": 0}
    assert sections(registry)["Circuits"].count("due again: ends were crossed (was: pass)") == 2


def test_an_overdue_calibration_is_a_deviation(tmp_path: Path, registry: Registry) -> None:
    file = tmp_path / "meter.json"
    meter = {"code": "M9", "kind": "ohmmeter", "serial": "X1", "calibrated_on": "2024-01-15"}
    file.write_text(json.dumps({"format": "wiretrack-site/1", "instruments": [meter]}), "utf-8")
    load_site(registry, file)
    log(registry, L1, "continuity", "0.31 ohm", instrument="M9")
    told = sections(registry)
    assert (
        "Calibrations overdue or unknown: M9 overdue (section 5 Instruments)."
        in (told["Deviations"])
    )
    assert "M9, ohmmeter X1 unknown unknown unknown 2024-01-15 OVERDUE" in told["Instruments"]


def test_the_cautions_and_the_last_word_are_in_every_report(registry: Registry) -> None:
    for what in (None, "PUMP"):
        told = sections(registry, what)["Inspection by eye"]
        assert "lock it off" in told
        assert LAST_WORD in told
        assert LAST_WORD in html_text(report_page(registry, what)).split("1 Summary")[0]


def test_what_is_open_is_what_the_punch_list_says(registry: Registry) -> None:
    rows = report(registry)["circuits"][0]["open"]
    assert sorted(map(str, rows)) == sorted(map(str, document(punch_list(registry))))
    assert report(registry, "PUMP")["circuits"][0]["open"] == document(
        open_points_about(registry, "circuit", "PUMP")
    )


def test_many_reports_of_one_state_agree_with_single_ones(registry: Registry) -> None:
    log(registry, L1, "continuity", "0.31 ohm")
    reporter = Reporter(registry, made_at=DAY)
    reporter.content()
    alone = Reporter(registry, made_at=DAY).content("PUMP")
    assert document(reporter.content("PUMP")) == document(alone)


@pytest.mark.parametrize("seed", [0, 1, 2, *map(full, range(3, 6))])
def test_a_circuit_s_own_report_says_what_one_of_many_says(tmp_path: Path, seed: int) -> None:
    new_site(tmp_path / "random.db", "random")
    with open_registry(tmp_path / "random.db") as registry:
        drawn = sites(seed, 6 + seed)
        add_document(registry, drawn)
        for conductor in (c for c in drawn.conductors[::3] if c.retired_at is None):
            log(registry, conductor.tag, "continuity", "0.3 ohm")
        whole, alone = (Reporter(registry, made_at=DAY, whole=w) for w in (True, False))
        said = whole.content()
        assert said.findings
        for circuit in drawn.circuits:
            one, other = (document(r.content(circuit.code)) for r in (whole, alone))
            assert one["registry"].pop("record_sha256") == said.registry.record_sha256
            assert other["registry"].pop("record_sha256") is None
            for found in (one, other):  # the whole list has what other circuits owe of shared wires
                found["circuits"] = [{**c, "open": None} for c in found["circuits"]]
                found["outcome"] = {**found["outcome"], "open": None}
            assert other == one, circuit.code


def test_a_circuit_s_report_has_a_digest_where_the_record_is_kept_beside_it(
    registry: Registry, tmp_path: Path
) -> None:
    log(registry, L1, "continuity", "0.31 ohm")
    bare = write_report(registry, "PUMP", tmp_path / "bare.html")
    assert bare.record_sha256 is None
    kept = write_report(registry, "PUMP", tmp_path / "kept.html", record=tmp_path / "kept.json")
    digest = hashlib.sha256((tmp_path / "kept.json").read_bytes()).hexdigest()
    assert kept.record_sha256 == digest
    for name, has in (("bare", False), ("kept", True)):
        assert (digest[:16] in (tmp_path / f"{name}.html").read_text("utf-8")) is has


def test_nothing_is_written_where_a_report_cant_be_made(
    registry: Registry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "kept.pdf"
    out.write_bytes(b"%PDF-1.3 /Creator (wiretrack)")
    with pytest.raises(NotFoundError):
        write_report(registry, "NONE", out)
    for name in ("r.txt", "r", "r.pdf.bak"):
        with pytest.raises(BadInputError, match=r"neither \.html nor \.pdf"):
            write_report(registry, None, tmp_path / name)
    with pytest.raises(BadInputError, match=r"End it in \.json"):
        write_report(registry, None, out, record=tmp_path / "pump.db")
    monkeypatch.setattr("wiretrack.render.report.pdf.pdf_bytes", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        write_report(registry, None, out)
    assert out.read_bytes() == b"%PDF-1.3 /Creator (wiretrack)"
    assert not list(tmp_path.glob(".kept*"))


def test_a_name_that_could_be_an_element_stays_a_name(registry: Registry) -> None:
    log(registry, L1, "continuity", "0.31 ohm", by="<b>roof</b>", note="<script>x</script>")
    page = report_page(registry)
    assert "<script" not in page
    assert "&lt;b&gt;roof&lt;/b&gt;" in page


@pytest.mark.parametrize(("volts", "unread"), [("24 V", True), ("400 V", False)])
def test_a_standard_of_which_no_clause_was_read_is_named_at_the_end(
    tmp_path: Path, volts: str, unread: bool
) -> None:
    # Up to 50 V a circuit is taken as SELV or PELV by IEC 60364-4-41, whose text was not at hand.
    site = json.loads(json.dumps(PUMP))
    site["circuits"][0]["max_voltage"] = volts
    db, file = tmp_path / "low.db", tmp_path / "low.json"
    file.write_text(json.dumps(site), encoding="utf-8")
    new_site(db, "Example")
    with open_registry(db) as registry:
        load_site(registry, file)
        log(registry, L1, "insulation", "100M", against="PE", test_voltage="250 V")
        told = sections(registry)["Origin of this report"]
    assert ("IEC 60364-4-41: every clause" in told) is unread
    assert "IEC 60364-6:2016: 6.4.2.3 a to 6.4.2.3 p, 6.4.3.1" in told
    assert "IEC 62446-1" not in told  # there is no array
