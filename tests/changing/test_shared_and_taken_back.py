# SPDX-License-Identifier: MIT
"""What other circuits need stays when a circuit is retired; a mistake is taken back."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from tests.record_of import add_document
from wiretrack.errors import BadInputError
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.parts import End, SiteFacts
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import Tag, check_character
from wiretrack.store.dumping import document
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.change.retiring import retire, take_back
from wiretrack.tasks.describe.sites import new_site

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path


def _tag(body: str) -> str:
    return body + check_character(body)


def _wire(
    body: str, circuit: str, function: str, one: tuple[str, str | None],
    other: tuple[str, str | None], pull: str | None = None,
) -> Conductor:  # fmt: skip
    return Conductor(
        tag=Tag(_tag(body)), circuits=(circuit,), function=function, size="2.5 mm2", pull=pull,
        from_end=End(enclosure=one[0], terminal=one[1], state="landed" if one[1] else None),
        to_end=End(enclosure=other[0], terminal=other[1], state="landed" if other[1] else None),
    )  # fmt: skip


# A feeds B, B feeds C. LAMP has line, neutral and protective conductor to B; SOCKET goes on from
# LAMP's own protective conductor and neutral in B to C; FAN lies in LAMP's pull and has a line
# only; PUMP lies there too, and has all of its own.
WIRES = (
    _wire("SHAR01", "LAMP", "L1", ("A", "Q1:2"), ("B", "X:1"), "P"),
    _wire("SHAR02", "LAMP", "N", ("A", "N"), ("B", "X:2"), "P"),
    _wire("SHAR03", "LAMP", "PE", ("A", "PE"), ("B", "X:3"), "P"),
    _wire("SHAR04", "PUMP", "L1", ("A", "Q3:2"), ("B", "Y:1"), "P"),
    _wire("SHAR05", "PUMP", "N", ("A", "N"), ("B", "Y:2"), "P"),
    _wire("SHAR06", "PUMP", "PE", ("A", "PE"), ("B", "Y:3"), "P"),
)
ON_FROM_B = (
    _wire("SHAR07", "SOCKET", "N", ("B", "X:2"), ("C", None)),
    _wire("SHAR08", "SOCKET", "PE", ("B", "X:3"), ("C", None)),
    _wire("SHAR09", "SOCKET", "L1", ("B", "Z:1"), ("C", None)),
)
INLINE = (_wire("SHAR10", "FAN", "L1", ("A", "Q2:2"), ("B", None), "P"),)


@pytest.fixture
def registry(tmp_path: Path) -> Iterator[Registry]:
    new_site(tmp_path / "x.db", "Example")
    with open_registry(tmp_path / "x.db") as opened:
        yield opened


def _fill(registry: Registry, *conductors: Conductor) -> None:
    codes = dict.fromkeys(conductor.circuit for conductor in conductors)
    add_document(
        registry,
        SiteDocument(
            site=SiteFacts(code="X", rules="IEC"),
            enclosures=tuple(Enclosure(code=code) for code in "ABC"),
            raceways=(Raceway(code="W", from_enclosure="A", to_enclosure="B"),),
            circuits=tuple(Circuit(code=code, system="ac-1ph") for code in codes),
            pulls=(Pull(code="P", path=("W",)),),
            conductors=conductors,
        ),
    )


def _stays(registry: Registry, circuit: str) -> dict[str, Sequence[str]]:
    done = retire(registry, circuit, abandoned=False)
    return {row.function: row.needed_by for row in done.stays}


def test_a_circuit_that_nobody_else_needs_is_retired_whole(registry: Registry) -> None:
    _fill(registry, *WIRES)
    assert _stays(registry, "LAMP") == {}
    circuits = {circuit.code: circuit.retired_at for circuit in document(registry).circuits}
    assert circuits["LAMP"] is not None
    assert circuits["PUMP"] is None


def test_what_leads_on_to_another_circuit_stays_and_is_named(registry: Registry) -> None:
    _fill(registry, *WIRES, *ON_FROM_B)
    assert _stays(registry, "LAMP") == {"N": ["SOCKET"], "PE": ["SOCKET"]}
    left = [c for c in document(registry).conductors if c.circuit == "LAMP" and not c.retired_at]
    assert [conductor.function for conductor in left] == ["N", "PE"]


def test_what_a_circuit_beside_it_lacks_stays_and_is_named(registry: Registry) -> None:
    _fill(registry, *WIRES, *INLINE)
    assert _stays(registry, "LAMP") == {"N": ["FAN"], "PE": ["FAN"]}


def test_a_second_way_makes_a_protective_conductor_needless(registry: Registry) -> None:
    own = replace(WIRES[5], to_end=End(enclosure="B", terminal="X:3", state="landed"))
    _fill(registry, *WIRES[:5], own, *ON_FROM_B)
    assert _stays(registry, "LAMP") == {"N": ["SOCKET"]}


def test_one_conductor_is_retired_when_asked_for_and_who_needs_it_is_said(
    registry: Registry,
) -> None:
    _fill(registry, *WIRES, *ON_FROM_B)
    done = retire(registry, _tag("SHAR03"), abandoned=False)
    assert any("is retired, but SOCKET needs it." in note for note in done.notes)
    assert len(done.conductors) == 1


def _without_history(registry: Registry) -> object:
    return replace(document(registry), rest={})


@pytest.mark.parametrize("what", ["LAMP", _tag("SHAR01")])
@pytest.mark.parametrize("abandoned", [True, False])
def test_a_retirement_is_taken_back(registry: Registry, what: str, abandoned: bool) -> None:
    _fill(registry, *WIRES)
    before = _without_history(registry)
    retire(registry, what, abandoned=abandoned)
    assert _without_history(registry) != before
    take_back(registry, what)
    assert _without_history(registry) == before


def test_what_was_retired_before_its_circuit_stays_retired(registry: Registry) -> None:
    _fill(registry, *WIRES)
    retire(registry, _tag("SHAR01"), abandoned=False, at="2026-01-05")
    before = _without_history(registry)
    retire(registry, "LAMP", abandoned=False, at="2026-02-05")
    take_back(registry, "LAMP")
    assert _without_history(registry) == before


def test_only_what_is_retired_is_taken_back(registry: Registry) -> None:
    _fill(registry, *WIRES)
    with pytest.raises(BadInputError, match="Circuit LAMP is in use"):
        take_back(registry, "LAMP")
    with pytest.raises(BadInputError, match="is in use"):
        take_back(registry, _tag("SHAR01"))
