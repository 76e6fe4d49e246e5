# SPDX-License-Identifier: MIT
"""A conductor serves one circuit, several that share it, or none: in files, stored and shown."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.record_of import add_document, record_of
from tests.record_of import label_subjects as subjects
from wiretrack.electrical.checks import check_document
from wiretrack.errors import SiteFileError
from wiretrack.exchange.read import read_site
from wiretrack.exchange.write import write_csv, write_site
from wiretrack.model.circuits import together
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.parts import SiteFacts
from wiretrack.store.dumping import document
from wiretrack.store.loading import create_registry
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.report.punchlist import punch_list

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.store.store import Registry

KINDS = {"size": "12 AWG", "metal": "Cu", "insulation": "THWN-2", "pull": "P1"}
ENDS = {"from": {"enclosure": "MDB"}, "to": {"enclosure": "JB"}}
SITE: dict[str, Any] = {
    "format": "wiretrack-site/1",
    "site": {"code": "X", "name": "x", "rules": "NEC", "edition": 2023, "ambient_max": "30 C"},
    "enclosures": [{"code": "MDB"}, {"code": "JB"}],
    "raceways": [{"code": "W1", "from": "MDB", "to": "JB", "type": "RMC", "trade_size": "1"}],
    "circuits": [
        {"code": code, "title": title, "system": "ac-1ph", "supply": "120/240",
         "max_voltage": "240 V", "max_current": "5 A", "overcurrent": rating}
        for code, title, rating in (("A", "fans", "20 A"), ("B, 2", "lamps", "60 A"))
    ],
    "pulls": [{"code": "P1", "path": ["W1"]}],
    "conductors": [
        {"circuit": "A", "function": "L1", "colour": "BK", **KINDS, **ENDS},
        {"circuit": ["A", "B, 2"], "function": "N", "colour": "WH", **KINDS, **ENDS},
        {"circuit": ["A", "B, 2"], "function": "PE", "colour": "GN", **KINDS, **ENDS},
        {"circuit": ["B, 2"], "function": "L2", "colour": "RD", **KINDS, **ENDS, "size": "6 AWG"},
        {"function": "L1", "colour": "BU", **KINDS, **ENDS},
    ],
}  # fmt: skip


def written(folder: Path, site: dict[str, Any]) -> Path:
    file = folder / "site.json"
    file.write_text(json.dumps(site), "utf-8")
    return file


@pytest.fixture
def registry(tmp_path: Path) -> Iterator[Registry]:
    create_registry(tmp_path / "r.db", SiteFacts(name="x"))
    with open_registry(tmp_path / "r.db") as opened:
        add_document(opened, read_site(written(tmp_path, SITE)))
        yield opened


def test_a_file_gives_a_code_a_list_or_nothing_and_a_dump_the_same(
    registry: Registry, tmp_path: Path
) -> None:
    write_site(document(registry), tmp_path / "dump.json")
    rows = json.loads((tmp_path / "dump.json").read_text("utf-8"))["conductors"]
    assert [row.get("circuit") for row in rows] == [
        "A", ["A", "B, 2"], ["A", "B, 2"], "B, 2", None,
    ]  # fmt: skip


def test_csv_holds_several_codes_in_one_cell_also_where_a_code_has_a_comma(
    registry: Registry, tmp_path: Path
) -> None:
    stored = document(registry)
    write_csv(stored, tmp_path / "csv")
    assert read_site(tmp_path / "csv").conductors == stored.conductors
    table = tmp_path / "csv" / "conductors.csv"
    plain = table.read_text("utf-8").replace('"[""A"", ""B, 2""]"', '"A,A"')
    table.write_text(plain, "utf-8")
    with pytest.raises(SiteFileError) as caught:
        read_site(tmp_path / "csv")
    assert [fault.message for fault in caught.value.faults] == [
        "It names one twice. Name each once."
    ] * 2


@pytest.mark.parametrize(
    ("circuit", "place", "message"),
    [
        ("C", "conductors[0].circuit", "No circuit is called 'C' in the file"),
        (["A", "C"], "conductors[0].circuit[1]", "No circuit is called 'C' in the file"),
        ([], "conductors[0].circuit", "an empty list is not a code."),
        (7, "conductors[0].circuit", "the number 7 is not a code."),
    ],
)
def test_a_circuit_that_is_none_is_named_at_its_place(
    circuit: object, place: str, message: str, tmp_path: Path
) -> None:
    rows = [{**SITE["conductors"][0], "circuit": circuit}]
    with pytest.raises(SiteFileError) as caught:
        read_site(written(tmp_path, {**SITE, "conductors": rows}))
    (fault,) = caught.value.faults
    assert fault.place == place
    assert fault.message.startswith(message)


def test_it_is_shown_under_each_of_its_circuits_and_a_spare_under_none(registry: Registry) -> None:
    for code, functions in (("A", ["L1", "N", "PE"]), ("B, 2", ["N", "PE", "L2"])):
        assert [row["function"] for row in record_of(registry, code)["conductors"]] == functions
    found = site_of(registry).every(Conductor)
    shown = [record_of(registry, c.tag)["circuit"] for c in found]
    assert shown == ["A", ["A", "B, 2"], ["A", "B, 2"], "B, 2", None]


def test_a_label_names_every_circuit_and_a_spare_says_so(registry: Registry) -> None:
    legends = {(s.circuit, s.title) for s in subjects(registry, "P1")}
    assert legends == {
        ("A", "fans"), ("A/B, 2", "fans / lamps"), ("B, 2", "lamps"), ("SPARE", None),
    }  # fmt: skip


def test_the_open_points_of_a_shared_conductor_are_listed_once(registry: Registry) -> None:
    rows = punch_list(registry)
    assert len(rows) == len({(row.what, row.subject, row.detail) for row in rows})


def test_a_retired_circuit_leaves_what_it_shares_in_service(registry: Registry) -> None:
    done = retire(registry, "A", abandoned=False)
    assert [row.function for row in done.stays] == ["N", "PE"]
    assert [row.needed_by for row in done.stays] == [["B, 2"], ["B, 2"]]
    assert [row.function for row in done.conductors] == ["L1"]


def test_a_shared_earthing_conductor_is_sized_for_the_largest_device(registry: Registry) -> None:
    # NEC 250.122(C): one equipment grounding conductor run with several circuits is sized for the
    # largest overcurrent device; table 250.122 (reprint): 60 A asks for 10 AWG Cu.
    found = [row for row in check_document(document(registry)) if row.rule == "earthing-size"]
    assert [row.outcome for row in found] == ["fail"]
    assert "10 AWG Cu needed for 60 A" in found[0].reason


def test_what_two_circuits_put_on_one_conductor_is_unknown_and_a_spare_carries_none(
    registry: Registry,
) -> None:
    tags = {c.function + c.circuit: c.tag for c in site_of(registry).every(Conductor)}
    rows = {r.subject.replace("-", ""): r for r in check_document(document(registry))
            if r.rule == "ampacity" and r.unit != ""}  # fmt: skip
    assert rows[tags["NA/B, 2"]].outcome == "doubt"
    assert "what A and B, 2 put on it together" in rows[tags["NA/B, 2"]].reason
    assert tags["L1SPARE"] not in rows


def test_of_several_circuits_only_what_they_agree_on_is_known() -> None:
    one = Circuit(code="A", system="ac-1ph", max_voltage_v=120, overcurrent_a=20, max_current_a=5)
    other = Circuit(code="B", system="ac-1ph", max_voltage_v=240, overcurrent_a=30, max_current_a=6)
    both = together([one, other])
    assert (both.system, both.max_voltage_v, both.overcurrent_a) == ("ac-1ph", 240, 30)
    assert both.max_current_a is None
    assert together([one]) is one
    assert together([]) == Circuit(code="SPARE")
