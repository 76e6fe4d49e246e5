# SPDX-License-Identifier: MIT
"""Which conductors carry current, and how much: neutrals, parallel sets, wireways."""

from __future__ import annotations

from cmath import exp, pi
from dataclasses import replace
from itertools import product
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.electrical.checks import check_document
from wiretrack.electrical.rules.ampacity import ampacity
from wiretrack.electrical.rules.load import carrying, share_of
from wiretrack.electrical.tables import Code
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.parts import Device, End, SiteFacts
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import Tag

if TYPE_CHECKING:
    from tests.electrical.conftest import Make
    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.runs import Run

DRY: dict[str, Any] = {"wet": False, "ambient_c": 30.0, "length_m": 20.0}


def multiwire(code: str = "C", supply: str | None = None, **facts: Any) -> Circuit:
    known = {"system": "ac-1ph", "continuous": False, **facts}
    return Circuit(code=code, supply=supply, **known)


def sets_of(make: type[Make], lines: str, circuits: list[Circuit], **facts: Any) -> Run:
    functions = [f"L{number}" for number in lines] + ["N", "PE"]
    wires = [make.wire("12 AWG", f, circuit) for circuit in circuits for f in functions]
    return make.run(*wires, **{**DRY, **facts})


# NEC 310.15(E)(1) and (2): the neutral of two lines and a neutral counts in a star and doesn't
# between the halves of one phase; that of a star's three lines doesn't.
@pytest.mark.parametrize(
    ("lines", "supply", "count"),
    [
        ("12", "208Y/120", 12), ("12", "480Y/277", 12), ("12", "400Y/230", 12),
        ("12", "120/240", 8), ("13", "240/120 high leg", 8), ("123", "208Y/120", 12),
        ("1", "120", 8), ("1", "208Y/120", 8), ("2", "230", 8),
    ],
)  # fmt: skip
def test_neutrals_of_four_sets_count_by_the_supply(
    lines: str, supply: str, count: int, make: type[Make]
) -> None:
    circuits = [multiwire(f"C{number}", supply) for number in range(4)]
    found = carrying(sets_of(make, lines, circuits))
    assert (found.most, found.least, found.state) == (count, count, ())


def test_the_highest_voltage_tells_the_supply_where_it_is_not_stated(make: type[Make]) -> None:
    star = [multiwire(max_voltage_v=208)]
    assert carrying(sets_of(make, "12", star)).most == 3
    halves = [multiwire(max_voltage_v=240)]
    assert carrying(sets_of(make, "12", halves)).most == 2


def test_neutrals_of_pairs_in_one_circuit_have_a_line_of_their_own(make: type[Make]) -> None:
    circuit = multiwire(supply="120/240")
    wires = [make.wire("12 AWG", f, circuit) for f in ("L1", "N", "L2", "N")]
    assert carrying(make.run(*wires)).most == 4


def judged(run: Run, edition: int = 2023) -> Finding:
    return ampacity(run.wires[0], run, Code("NEC", edition))[0]


# By hand: 12 AWG has 30 A at 90 °C (310.16); 12 conductors 50 % (310.15(C)(1)): 15 A, 8 of them
# 70 %: 21 A, but 20 A at the terminals.
@pytest.mark.parametrize(
    ("supply", "amperes", "outcome"),
    [
        ("208Y/120", 15, "pass"), ("208Y/120", 16, "fail"), ("120/240", 20, "pass"),
        ("120/240", 22, "fail"), (None, 15, "pass"), (None, 16, "doubt"), (None, 22, "fail"),
    ],
)  # fmt: skip
def test_four_sets_are_adjusted_for_their_count(
    supply: str | None, amperes: float, outcome: str, make: type[Make]
) -> None:
    circuits = [multiwire(f"C{n}", supply, max_current_a=amperes) for n in range(4)]
    finding = judged(sets_of(make, "12", circuits))
    assert finding.outcome == outcome, finding.reason
    if outcome == "doubt":
        assert "state supply of C0" in finding.reason


def test_most_nonlinear_load_is_named_where_it_would_count_the_neutral(make: type[Make]) -> None:
    circuit = multiwire(supply="208Y/120", system="ac-3ph", max_current_a=12)
    finding = judged(sets_of(make, "123", [circuit]))
    assert finding.outcome == "pass"
    assert "3 current-carrying, 4 where most of the load is nonlinear" in finding.reason


STAR = {"L1": 0, "L2": 2 * pi / 3, "L3": 4 * pi / 3}
HALVES = {"L1": 0, "L2": pi}


@pytest.mark.parametrize(
    ("angles", "counts"),
    [
        (angles, counts)
        for angles in (STAR, HALVES)
        for counts in product(range(4), repeat=len(angles))
        if sum(counts)
    ],
)
def test_a_shared_neutral_carries_at_most_what_adding_phasors_gives(
    angles: dict[str, float], counts: tuple[int, ...], make: type[Make]
) -> None:
    # Kirchhoff: each of the lines carries its current or none; the largest sum of any of them.
    lines = [leg for leg, count in zip(angles, counts, strict=True) for _ in range(count)]
    on = product((0, 1), repeat=len(lines))
    largest = max(
        abs(sum(o * exp(1j * angles[leg]) for o, leg in zip(one, lines, strict=True))) for one in on
    )
    supply = "208Y/120" if angles is STAR else "120/240"
    wires = [make.wire("12 AWG", f, multiwire(supply=supply)) for f in (*lines, "N")]
    assert share_of(wires[-1], wires).most == pytest.approx(largest)


def board(
    amperes: float, legs: tuple[str, str], poles: tuple[str, str] | None, **facts: Any
) -> SiteDocument:
    """A circuit of two lines and one neutral of 12 AWG from a board with two breakers."""

    def conductor(function: str, terminal: str | None) -> Conductor:
        return Conductor(
            circuits=("C",), function=function, size="12 AWG", metal="Cu", insulation="THWN-2",
            tag=Tag(f"{function}{terminal}"), pull="P",
            from_end=End(enclosure="MDB", terminal=terminal),
            to_end=End(enclosure="JB"),
        )  # fmt: skip

    ends = poles or (None, None)
    return SiteDocument(
        site=SiteFacts(rules="NEC", edition=2023, ambient_max_c=30),
        enclosures=(Enclosure(code="MDB", kind="panelboard"), Enclosure(code="JB")),
        devices=tuple(
            Device(enclosure="MDB", code=q, kind="breaker", rating_a=20, poles=(("1", f"{q}:2"),))
            for q in ("Q1", "Q2")
        ),
        raceways=(Raceway(code="W", from_enclosure="MDB", to_enclosure="JB", wet=False),),
        pulls=(Pull(code="P", path=("W",)),),
        circuits=(multiwire(max_current_a=amperes, overcurrent_a=20, **facts),),
        conductors=(conductor(legs[0], ends[0]), conductor(legs[1], ends[1]), conductor("N", "N")),
    )


def of_neutral(document: SiteDocument) -> Finding:
    (finding,) = [f for f in check_document(document, "C") if (f.rule, f.subject[:1]) ==
                  ("ampacity", "N")]  # fmt: skip
    return finding


# 12 AWG THWN-2 carries 30 A, and its terminals 20 A at 60 °C or 25 A at 75 °C (310.16, 110.14(C)):
# two lines of 16 A of one leg are 32 A in the neutral, of two legs 16 A.
@pytest.mark.parametrize(
    ("amperes", "legs", "poles", "outcome", "figure"),
    [
        (16, ("L1", "L1"), ("Q1:2", "Q2:2"), "fail", 32),
        (10, ("L1", "L1"), ("Q1:2", "Q2:2"), "pass", 20),
        (16, ("L1", "L2"), ("Q1:2", "Q2:2"), "pass", 16),
        (16, ("L1", "L1"), ("Q1:2", "Q1:2"), "pass", 16),
        (16, ("L1", "L1"), None, "doubt", 32),
        (9, ("L1", "L1"), None, "pass", 18),
    ],
)
def test_two_lines_of_one_leg_add_up_in_their_neutral(
    amperes: float,
    legs: tuple[str, str],
    poles: tuple[str, str] | None,
    outcome: str,
    figure: float,
) -> None:
    finding = of_neutral(board(amperes, legs, poles, supply="120/240"))
    assert (finding.outcome, finding.figure) == (outcome, figure), finding.reason
    assert ("sum of 2 lines of one leg" in finding.reason) is (figure > amperes)
    assert ("210.4" in finding.source) is (figure > amperes)
    assert ("state the terminals" in finding.reason) is (outcome == "doubt")


@pytest.mark.parametrize(("edition", "clause"), [(2017, "310.15(B)(5)"), (2020, "310.15(E)")])
def test_the_neutral_is_cited_by_edition(edition: int, clause: str, make: type[Make]) -> None:
    wires = [make.wire("12 AWG", f, multiwire(max_current_a=9)) for f in ("L1", "L1", "N")]
    run = make.run(*wires, **DRY)
    assert clause in ampacity(wires[2], run, Code("NEC", edition))[0].source


# 310.16 at 75 °C: 3/0 AWG Cu 200 A, 1/0 AWG 150 A; two sets carry 400 A and 300 A (310.10(G)).
@pytest.mark.parametrize(
    ("size", "amperes", "outcome"),
    [("3/0 AWG", 400, "pass"), ("3/0 AWG", 401, "fail"), ("1/0 AWG", 300, "pass"),
     ("1 AWG", 200, "fail")],
)  # fmt: skip
def test_parallel_sets_share_the_current_from_1_0_awg_up(
    size: str, amperes: float, outcome: str
) -> None:
    document = parallel(size, amperes)
    found = [f for f in check_document(document) if f.rule == "ampacity" and f.subject != "C"]
    assert {f.outcome for f in found} == {outcome}, found[0].reason
    if size == "1 AWG":
        assert all("310.10(G)" in f.source and "1/0 AWG or larger" in f.reason for f in found)
    else:
        assert all("shared by 2 parallel sets" in f.reason for f in found)


def parallel(gauge: str, amperes: float, *numbers: int | None, **second: Any) -> SiteDocument:
    """Three lines in two raceways, a set in each."""
    numbers = numbers or (1, 2)
    conductors = [
        Conductor(
            **{
                "circuits": ("C",), "function": function, "size": gauge, "metal": "Cu",
                "insulation": "THWN-2", "pull": f"P{place}", "length_m": 30.0,
                "tag": f"{function}S{place}", "from_end": End(enclosure="A"),
                "to_end": End(enclosure="B"), "parallel_set": number,
                **(second if place else {}),
            }
        )
        for place, number in enumerate(numbers) for function in ("L1", "L2", "L3")
    ]  # fmt: skip
    places = range(len(numbers))
    return SiteDocument(
        site=SiteFacts(rules="NEC", edition=2023, ambient_max_c=30),
        raceways=tuple(Raceway(code=f"W{n}", from_enclosure="A", to_enclosure="B", wet=False)
                       for n in places),
        pulls=tuple(Pull(code=f"P{n}", path=(f"W{n}",)) for n in places),
        circuits=(Circuit(code="C", system="ac-3ph", max_current_a=amperes, continuous=False),),
        conductors=tuple(conductors),
    )  # fmt: skip


def outcomes(document: SiteDocument) -> set[str]:
    found = check_document(document)
    return {f.outcome for f in found if f.rule == "ampacity" and f.subject != "C"}


def test_sets_must_be_stated_and_alike() -> None:
    assert outcomes(parallel("3/0 AWG", 400, None, None)) == {"fail"}  # each carries all of it
    assert outcomes(parallel("3/0 AWG", 400, metal="Al")) == {"fail"}
    assert outcomes(parallel("3/0 AWG", 400, size="4/0 AWG")) == {"fail"}
    assert outcomes(parallel("3/0 AWG", 400, length_m=32.0)) == {"doubt"}
    assert outcomes(parallel("3/0 AWG", 400)) == {"pass"}


def test_a_set_that_goes_through_a_box_of_its_own_shares_too() -> None:
    document = parallel("3/0 AWG", 400)
    first = [c for c in document.conductors if c.parallel_set == 1]
    second = [c for c in document.conductors if c.parallel_set == 2]
    halves = [
        replace(c, tag=Tag(f"{c.tag}{n}"), length_m=15.0, pull=f"H{n}", from_end=End(enclosure=one),
                to_end=End(enclosure=other))
        for c in second for n, (one, other) in enumerate((("A", "J"), ("J", "B")))
    ]  # fmt: skip
    route = tuple(
        Raceway(code=f"H{n}", from_enclosure=one, to_enclosure=other, wet=False)
        for n, (one, other) in enumerate((("A", "J"), ("J", "B")))
    )
    pulls = tuple(Pull(code=f"H{n}", path=(f"H{n}",)) for n in range(2))
    document = replace(document, raceways=(*document.raceways, *route),
                       pulls=(*document.pulls, *pulls))  # fmt: skip
    assert outcomes(replace(document, conductors=(*first, *halves))) == {"pass"}
    assert outcomes(replace(document, conductors=(*first, *halves[::2]))) == {"fail"}


def test_parallel_sets_in_one_raceway_all_count(make: type[Make]) -> None:
    # NEC 310.15(C)(1): each conductor of a paralleled set counts: 2 x 3 lines.
    circuit = multiwire(supply="208Y/120", system="ac-3ph")
    wires = [make.wire("3/0 AWG", f, circuit, parallel_set=n) for n in (1, 2)
             for f in ("L1", "L2", "L3", "N")]  # fmt: skip
    assert carrying(make.run(*wires)).most == 6


# NEC 376.22(B): no adjustment up to 30; 31 to 40 are at 40 %: 30 A x 0.40 = 12 A for 12 AWG.
@pytest.mark.parametrize(
    ("pairs", "amperes", "metal", "outcome"),
    [
        (15, 20, True, "pass"), (16, 20, True, "fail"), (16, 12, True, "pass"),
        (16, 13, True, "fail"), (15, 20, False, "fail"),  # 378.22: 30 are at 45 %, 13.5 A
        (15, 13, False, "pass"),
    ],
)  # fmt: skip
def test_wireways_are_not_adjusted_up_to_thirty(
    pairs: int, amperes: float, metal: bool, outcome: str, make: type[Make]
) -> None:
    circuits = [multiwire(f"C{n}", "120", max_current_a=amperes) for n in range(pairs)]
    facts = {"type": "wireway", "metal": metal, "width_mm": 150.0, "height_mm": 150.0}
    finding = judged(sets_of(make, "1", circuits, **facts))
    assert finding.outcome == outcome, finding.reason
    assert ("376.22(B)" in finding.source) is metal
