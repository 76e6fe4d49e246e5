# SPDX-License-Identifier: MIT
"""Ends on one terminal: worked out by hand from what the functions of IEC 60445 mean."""

from __future__ import annotations

from typing import Any

import pytest

from wiretrack.electrical.checks import check_document
from wiretrack.electrical.rules.landing import Landed, at_odds, unmatched_poles
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.parts import Device, End, SiteFacts
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import Tag, check_character

# Two ends (circuit, function) on one terminal, and what that is.
TOGETHER = [
    (("PV1", "L+"), ("PV1", "L-"), "fail"),  # the string is shorted
    (("PV1", "L+"), ("PV2", "L-"), "doubt"),  # shorted, or two strings in series
    (("PV1", "L+"), ("PV2", "L+"), "pass"),  # strings in parallel
    (("K1", "L1"), ("K1", "PE"), "fail"),
    (("K1", "L1"), ("K2", "PE"), "fail"),
    (("PV1", "L-"), ("K2", "PE"), "fail"),
    (("PV1", "L-"), ("K2", "FE"), "fail"),
    (("K1", "L1"), ("K1", "PEN"), "fail"),
    (("K1", "L1"), ("K1", "L2"), "fail"),
    (("K1", "L1"), ("K2", "L2"), "pass"),  # what K2 calls L2 may be fed from there
    (("K1", "L1"), ("K2", "L1"), "pass"),
    (("K1", "L1"), ("K1", "N"), "fail"),
    (("K1", "L1"), ("K2", "N"), "fail"),
    (("B1", "L+"), ("B1", "M"), "fail"),
    (("K1", "L1"), ("PV1", "L+"), "fail"),
    (("K1", "N"), ("K1", "PE"), "pass"),  # joined at the supply, where the system is earthed
    (("K1", "PE"), ("K2", "PE"), "pass"),
    (("K1", "N"), ("K2", "N"), "pass"),
    (("S1", "signal"), ("S1", "signal"), "pass"),
]


@pytest.mark.parametrize(("one", "other", "outcome"), TOGETHER)
def test_what_can_lie_on_one_terminal(
    one: tuple[str, str], other: tuple[str, str], outcome: str
) -> None:
    assert at_odds(Landed("A", *one), Landed("B", *other)) == outcome
    assert at_odds(Landed("B", *other), Landed("A", *one)) == outcome


def test_a_solidly_earthed_pole_may_meet_the_earth_somewhere() -> None:
    earthed = Landed("A", "PV1", "L-", solidly_earthed=True)
    assert at_odds(earthed, Landed("B", "K2", "PE")) == "doubt"


def _tag(body: str) -> str:
    return body + check_character(body)


def _wire(number: int, circuit: str, function: str, terminal: str | None) -> Conductor:
    return Conductor(
        tag=Tag(_tag(f"LAND{number:02}")), circuits=(circuit,), function=function, size="4 mm2",
        from_end=End(enclosure="MDB", terminal=terminal), to_end=End(enclosure="PH1"),
    )  # fmt: skip


def _site(*conductors: Conductor, devices: tuple[Device, ...] = ()) -> SiteDocument:
    circuits = dict.fromkeys(conductor.circuit for conductor in conductors)
    return SiteDocument(
        site=SiteFacts(code="X", rules="IEC"),
        enclosures=(Enclosure(code="MDB"), Enclosure(code="PH1")),
        circuits=tuple(Circuit(code=code) for code in circuits),
        conductors=conductors,
        devices=devices,
    )


def _landing(document: SiteDocument, what: str | None = None) -> list[tuple[str, str, str]]:
    return [
        (found.subject, found.outcome, found.reason)
        for found in check_document(document, what)
        if found.rule == "landing"
    ]


def test_check_fails_the_terminal_and_names_both_ends() -> None:
    site = _site(_wire(1, "K1", "L1", "X:1"), _wire(2, "K2", "PE", "X:1"))
    one, two = (f"LAN-D{number:02}" + _tag(f"LAND{number:02}")[-1] for number in (1, 2))
    expected = [("MDB/X:1", "fail", f"{one} (K1 L1) and {two} (K2 PE) are on one terminal")]
    assert _landing(site) == expected
    for what in ("MDB", "K1", "K2", one):
        assert _landing(site, what) == expected
    assert _landing(site, "PH1") == []


def test_an_end_that_hangs_loose_is_not_on_its_terminal() -> None:
    loose = _wire(2, "K2", "PE", None)
    assert _landing(_site(_wire(1, "K1", "L1", "X:1"), loose)) == []


POLES = (("Q4:1", "Q4:2"), ("Q4:3", "Q4:4"))


@pytest.mark.parametrize(
    ("landed", "terminals", "near"),
    [
        (["Q4-1", "Q4-3"], ("Q4:1", "Q4:2", "Q4:3", "Q4:4"), ("Q4-1", "Q4-3")),
        (["Q4.T2", "Q4:1", "Q4:3", "Q4:4"], ("Q4:2",), ("Q4.T2",)),
        (["1", "Q4:2", "Q4:3", "Q4:4"], ("Q4:1",), ("1",)),
        (["Q41:1"], ("Q4:1", "Q4:2", "Q4:3", "Q4:4"), ()),  # of another device
        (["PE", "N:7"], ("Q4:1", "Q4:2", "Q4:3", "Q4:4"), ()),
        (["Q4:1", "Q4:3"], ("Q4:2", "Q4:4"), ()),
    ],
)
def test_poles_that_match_nothing_landed_are_named_with_what_may_be_meant(
    landed: list[str], terminals: tuple[str, ...], near: tuple[str, ...]
) -> None:
    found = unmatched_poles([Device(enclosure="MDB", code="Q4", poles=POLES)], landed)
    assert found is not None
    assert (found.terminals, found.near) == (terminals, near)


def test_poles_with_all_landed_or_joined_by_another_are_no_matter() -> None:
    devices = [
        Device(enclosure="MDB", code="Q4", poles=(("BAR", "Q4:2"),)),
        Device(enclosure="MDB", code="Q5", poles=(("BAR", "Q5:2"),)),
    ]
    assert unmatched_poles(devices, ["Q4:2", "Q5:2"]) is None


@pytest.mark.parametrize(("terminal", "outcome"), [("Q4-1", "doubt"), ("N:7", "pass")])
def test_check_doubts_a_name_that_is_nearly_a_poles_and_passes_a_spare(
    terminal: str, outcome: str
) -> None:
    device = Device(enclosure="MDB", code="Q4", poles=(("Q4:1", "Q4:2"),))
    found: list[Any] = _landing(_site(_wire(1, "K1", "L1", terminal), devices=(device,)))
    assert [(subject, verdict) for subject, verdict, _ in found] == [("MDB", outcome)]
    assert "Q4:1, Q4:2" in found[0][2]
