# SPDX-License-Identifier: MIT
"""Conductors left in a raceway: they take room and count as spares, and are nothing else."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from wiretrack.electrical.assemble import runs_of
from wiretrack.electrical.checks import check_document
from wiretrack.electrical.rules.conditions import adjustment_factor
from wiretrack.electrical.rules.fill import raceway_fill
from wiretrack.electrical.rules.load import carrying
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.parts import SiteFacts
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import Tag

if TYPE_CHECKING:
    from tests.electrical.conftest import Make


def test_room_is_taken_by_whatever_lies_there(make: type[Make]) -> None:
    """NEC chapter 9: 10 AWG THWN-2 0.0211 in² (table 5), 1 in RMC 0.887 in² (table 4); reprint."""
    used = [make.wire("10 AWG", circuit=Circuit(code="C1")) for _ in range(3)]
    left = tuple(make.wire("10 AWG") for _ in range(7))
    (fill,) = raceway_fill(replace(make.run(*used), abandoned=left), make.nec)
    assert fill.figure == pytest.approx(100 * 10 * 0.0211 / 0.887, abs=0.005)
    assert "10 conductors take 0.2110 of 0.887 in² (7 of them abandoned)" in fill.reason


def test_a_raceway_with_abandoned_conductors_alone_has_a_fill(make: type[Make]) -> None:
    (fill,) = raceway_fill(replace(make.run(), abandoned=(make.wire("10 AWG"),)), make.nec)
    assert fill.figure == pytest.approx(100 * 0.0211 / 0.887, abs=0.005)


def test_they_count_as_the_spares_of_table_310_15_c_1(make: type[Make]) -> None:
    """The note under the table counts spare conductors too; 7 to 9 go to 70 % (reprint)."""
    run = replace(
        make.run(*(make.wire() for _ in range(3))), abandoned=tuple(make.wire() for _ in range(6))
    )
    assert carrying(run).most == 9
    assert adjustment_factor(carrying(run).most) == 0.70


@pytest.mark.parametrize(
    ("because", "is_there"),
    [("abandoned", True), ("removed", False), ("replaced", False), ("cut", False)],
)
def test_only_abandoned_ones_are_left_in_the_raceway(
    make: type[Make], because: str, is_there: bool
) -> None:
    gone = retired(make, because)
    (run,) = runs_of(site_of(gone, make.wire().conductor))
    assert [wire.conductor for wire in run.abandoned] == ([gone] if is_there else [])
    assert len(run.wires) == 1


def test_no_rule_judges_a_retired_conductor_or_circuit(make: type[Make]) -> None:
    wrong = replace(retired(make, "abandoned"), colour="GN")  # an L1 in green breaks NEC 250.119
    subjects = {finding.subject for finding in check_document(site_of(wrong))}
    assert subjects == {"W1"}


def retired(make: type[Make], because: str) -> Conductor:
    found = make.wire().conductor
    return replace(
        found, pull="P", tag=Tag("PVMP01P"), retired_at="2026-05-02", retired_because=because
    )


def site_of(*conductors: Conductor) -> SiteDocument:
    return SiteDocument(
        site=SiteFacts(rules="NEC", edition=2023),
        enclosures=(Enclosure(code="A"), Enclosure(code="B")),
        raceways=(
            Raceway(code="W1", from_enclosure="A", to_enclosure="B", type="RMC", trade_size="1"),
        ),
        circuits=(Circuit(code="C1", system="ac-1ph", retired_at="2026-05-02"),),
        pulls=(Pull(code="P", path=("W1",)),),
        conductors=tuple(replace(conductor, pull="P") for conductor in conductors),
    )
