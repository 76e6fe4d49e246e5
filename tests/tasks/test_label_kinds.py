# SPDX-License-Identifier: MIT
"""Labels of the demo site: markings in the code's words, cards with hazards, plates, numbers."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from tests.pump import L1, PUMP
from tests.record_of import label_subjects as subjects
from wiretrack.electrical.cautions import box_hazards
from wiretrack.errors import BadInputError, FieldError, LabelError, OutOfRangeError, SiteFileError
from wiretrack.files import shipped
from wiretrack.labels.forms import fit
from wiretrack.labels.forms.card import BoxCard
from wiretrack.labels.stocks import shipped_stocks
from wiretrack.model.entities import Circuit
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.label.ends import Ends, Wanted, asked, place_labels
from wiretrack.tasks.label.printing import PrintOrder, print_wanted, wanted_subjects

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from wiretrack.store.store import Registry

STOCKS = shipped_stocks()
DEMO = json.loads((shipped("demo_db") / "site.json").read_text("utf-8"))


def built(folder: Path, document: dict[str, Any]) -> Path:
    path, file = folder / "site.db", folder / "site.json"
    file.write_text(json.dumps(document), "utf-8")
    new_site(path, "Site")
    with open_registry(path) as registry:
        load_site(registry, file)
    return path


def made(registry: Registry, kind: str, what: str, **more: Any) -> list[Any]:
    """Return what the labels of a kind are about, uncut."""
    wanted = Wanted(what=what, kind=kind, **more)
    return list(wanted.plug.subjects(asked(registry, wanted)))


@pytest.fixture(scope="module")
def mill(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Registry]:
    with open_registry(built(tmp_path_factory.mktemp("mill"), DEMO)) as opened:
        yield opened


def test_markings_have_the_codes_wording_height_and_colours(mill: Registry) -> None:
    found = made(mill, "marking", "W1")
    assert found
    for marking in found:
        # NEC 2020 and 2023, 690.31(D)(2): "PHOTOVOLTAIC POWER SOURCE", capitals, at least 9.5 mm
        # (3/8 in), white on red (reprint; original not seen).
        assert marking.wording == "PHOTOVOLTAIC POWER SOURCE"
        assert marking.letter_mm >= 9.5
        assert (marking.letters, marking.background) == ("white", "red")
        drawn = fit(marking, STOCKS["flat-130x50-red"])
        assert drawn.letter_mm is not None
        assert drawn.letter_mm >= 9.5
        assert not fit(marking, STOCKS["flat-50x25-300"]).printable  # black on white


def test_where_the_edition_is_unknown_no_wording_is_guessed(tmp_path: Path) -> None:
    facts = {key: value for key, value in DEMO["site"].items() if key != "edition"}
    with (
        open_registry(built(tmp_path, {**DEMO, "site": facts})) as registry,
        pytest.raises(BadInputError, match="edition"),
    ):
        made(registry, "marking", "W1")


def test_a_card_shows_every_end_in_its_box_once_and_the_hazards_first(mill: Registry) -> None:
    (card,) = made(mill, "box-card", "CB1")
    expected = [
        row["tag"].replace("-", "")
        for row in DEMO["conductors"]
        for side in ("from", "to")
        if row[side]["enclosure"] == "CB1"
    ]
    assert Counter(row.tag for row in card.rows) == Counter(expected)
    assert card.hazards[0] == "DANGER: PV, live in daylight"
    assert card.payload == "WT:BOX/CB1"


def test_a_long_card_is_cut_into_parts_that_hold_all_rows(mill: Registry) -> None:
    low = replace(STOCKS["flat-180x115-letter"], zone=STOCKS["flat-180x50-a4"].zone)
    wanted = Wanted(what="MDP", kind="box-card")
    parts = wanted_subjects(mill, wanted, low)
    (whole,) = made(mill, "box-card", "MDP")
    assert len(parts) > 1
    rows = [row for part in parts if isinstance(part, BoxCard) for row in part.rows]
    assert rows == list(whole.rows)


def test_hazards_name_what_is_not_recorded() -> None:
    pv = Circuit(code="S1", system="dc-pv", max_voltage_v=600.0)
    line = Circuit(code="P", system="ac-3ph")
    assert box_hazards([pv, line]) == (
        "DANGER: PV, live in daylight",
        "Up to 600 V DC; not recorded for 1 more",
        "2 circuits: prove each dead",
    )
    assert "Voltage not recorded" in box_hazards([line])
    battery = Circuit(code="B", system="dc-battery", max_voltage_v=51.2)
    assert box_hazards([battery])[0] == "DANGER: battery, always live"


def test_a_device_has_a_plate_with_its_rating_and_circuits(mill: Registry) -> None:
    found = made(mill, "plate", "MDP/*")
    devices = [row for row in DEMO["devices"] if row["enclosure"] == "MDP"]
    assert [plate.code for plate in found] == [row["code"] for row in devices]
    (sluice,) = made(mill, "plate", "MDP/Q4")
    assert sluice.lines == ("SLUICE",)
    assert sluice.title == "breaker " + next(
        row["rating"] for row in devices if row["code"] == "Q4"
    )
    assert fit(sluice, STOCKS["flat-50x25-300"]).printable


def test_a_pulls_numbers_are_the_same_at_both_ends_and_for_no_two_conductors(
    mill: Registry,
) -> None:
    found = made(mill, "pull-numbers", "P-WHEEL")
    count = sum(row.get("pull") == "P-WHEEL" for row in DEMO["conductors"])
    assert Counter(label.number for label in found) == {str(n + 1): 2 for n in range(count)}
    by_number: dict[str, set[str | None]] = {}
    for label in found:
        by_number.setdefault(label.number, set()).add(label.this_place)
    assert all(len(places) == 2 for places in by_number.values())


def test_terminals_come_in_the_order_in_which_people_count(tmp_path: Path) -> None:
    terminals = [{"enclosure": "MDB", "code": f"TB1:{number}"} for number in (10, 9, 7, 200)]
    with open_registry(built(tmp_path, {**PUMP, "terminals": terminals})) as registry:
        strips = made(registry, "terminal-strip", "MDB", pitch_mm=8.0)
    rows = [strip.terminals for strip in strips]
    # A number that is left out keeps its place; many of them begin a strip of their own.
    assert rows[-2:] == [("TB1:7", "", "TB1:9", "TB1:10"), ("TB1:200",)]


@pytest.mark.parametrize("diameter", ["0 mm", "-3 mm", "nan mm"])
def test_a_diameter_that_can_not_be_is_refused_at_the_door(tmp_path: Path, diameter: str) -> None:
    rows = [{**PUMP["conductors"][0], "outer_diameter": diameter}]
    with pytest.raises(SiteFileError, match="outer_diameter"):
        built(tmp_path, {**PUMP, "conductors": rows})


@pytest.mark.parametrize("diameter_mm", [0.0, -1.0, float("nan"), float("inf")])
def test_a_diameter_that_can_not_be_is_refused_by_the_label(
    registry: Registry, diameter_mm: float
) -> None:
    (first, *_) = subjects(registry, L1)
    with pytest.raises(OutOfRangeError):
        fit(replace(first, outer_diameter_mm=diameter_mm), STOCKS["flag-70x16-300"])


def test_control_characters_never_reach_a_label(registry: Registry, tmp_path: Path) -> None:
    with pytest.raises(SiteFileError):
        built(tmp_path, {**PUMP, "site": {"code": "X", "name": "bell\a"}})
    (first, *_) = subjects(registry, L1)
    with pytest.raises(BadInputError, match=r"U\+001B"):
        fit(replace(first, this_place="MDB \x1b[2J"), STOCKS["flag-70x16-300"])


def test_nothing_is_noted_where_a_label_can_not_be_made(registry: Registry, tmp_path: Path) -> None:
    order = PrintOrder(stock="sleeve-40x8-300", out=tmp_path / "l.pdf", contents="long")
    with pytest.raises(LabelError):
        print_wanted(registry, Wanted(what=L1), order)
    assert registry.rows("SELECT * FROM label_prints") == []
    assert list(tmp_path.glob("l*")) == []
    assert site_of(registry).facts.code == "X"


def test_an_end_that_was_moved_since_it_was_seen_is_not_noted_as_labelled(
    registry: Registry,
) -> None:
    here = subjects(registry, L1)[0].this_place
    for seen in ("MDB Q9:9", ""):
        with pytest.raises(FieldError, match="was changed since"):
            place_labels(registry, Ends(L1, "from", seen), by_hand=True)
    assert registry.rows("SELECT * FROM placed_labels") == []
    assert place_labels(registry, Ends(L1, "from", here), by_hand=True).count == 1
