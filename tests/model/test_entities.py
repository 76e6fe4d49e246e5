# SPDX-License-Identifier: MIT
"""Entities know what is about them, and say the same from the store as from memory."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from tests.model.random_sites import random_site, tag_of
from tests.record_of import add_document
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.parts import End, Instrument
from wiretrack.model.site import Site
from wiretrack.model.source import DocumentSource, SiteDocument
from wiretrack.readings.judging import Judge
from wiretrack.store.dumping import document
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import new_site

if TYPE_CHECKING:
    from pathlib import Path

ONE, OTHER = tag_of(1), tag_of(2)


def reading(at: str | None, **facts: object) -> Reading:
    """A continuity reading of the first conductor, unless said otherwise."""
    said = {"kind": "continuity", "subject": ONE, "value": "0.3 ohm", "number": 0.3, "unit": "ohm"}
    said |= {"instrument": "M1", "temp_c": 20.0}
    return Reading(**{**said, "at": at, **facts})  # type: ignore[arg-type]


def conductor(tag: str, **facts: object) -> Conductor:
    ends = {"from_end": End(enclosure="A"), "to_end": End(enclosure="B")}
    wire = {"size": "4 mm2", "metal": "Cu", "strands": 7, "length_m": 67.0}
    said = {"function": "L1", "circuits": ("K",), **wire, **ends}
    return Conductor(tag=tag, **{**said, **facts})  # type: ignore[arg-type]


def site_with(*readings: Reading, conductors: tuple[Conductor, ...] = ()) -> Site:
    return Site(
        DocumentSource(
            SiteDocument(
                enclosures=(Enclosure(code="A"), Enclosure(code="B")),
                circuits=(Circuit(code="K", system="ac-1ph", max_voltage_v=230.0),),
                conductors=conductors or (conductor(ONE), conductor(OTHER, function="N")),
                instruments=(
                    Instrument(code="M1", accuracy="0.5% + 2 digits", resolution="0.001 ohm"),
                ),
                readings=readings,
            )
        ),
        Judge,
    )


@pytest.mark.parametrize("seed", range(6))
def test_each_entity_says_the_same_from_the_store_as_from_memory(seed: int, tmp_path: Path) -> None:
    new_site(tmp_path / "site.db", "R")
    with open_registry(tmp_path / "site.db") as registry:
        add_document(registry, random_site(seed))
        held = document(registry)
        stored, inmemory = site_of(registry), Site(DocumentSource(held), Judge)
        for own in held.conductors:
            one, other = (site.one(Conductor, own.tag or "") for site in (stored, inmemory))
            assert one.readings == other.readings
            assert set(one.readings) == {r for r in held.readings if r.subject == own.tag}
            assert [r.verdict for r in one.readings] == [r.verdict for r in other.readings]
            assert [r.is_stale for r in one.readings] == [r.is_stale for r in other.readings]
            assert one.owed == other.owed
            assert one.followers == tuple(c for c in held.conductors if c.follows == own.tag)
        for code in (c.code for c in held.circuits):
            assert stored.one(Circuit, code).owed == inmemory.one(Circuit, code).owed
        for raceway in held.raceways:
            pulls = {p.code for p in held.pulls if raceway.code in p.path}
            expected = tuple(c for c in held.conductors if c.pull in pulls)
            assert stored.one(Raceway, raceway.code).conductors == expected
        for pull in held.pulls:
            expected = tuple(c for c in held.conductors if c.pull == pull.code)
            assert stored.one(Pull, pull.code).conductors == expected


def test_readings_come_in_the_order_of_their_moments_those_of_the_future_first() -> None:
    future = f"{datetime.now(UTC).year + 1}-01-01T00:00:00Z"
    moments = ["2026-05-02T10:15:00+02:00", "2026-05-02T08:00:00Z", future, None, "2026-05-02"]
    found = site_with(*(reading(at) for at in moments)).one(Conductor, ONE).readings
    assert [r.at for r in found] == [future, None, "2026-05-02", moments[1], moments[0]]


def test_a_reading_knows_what_takes_it_back() -> None:
    later = reading("2026-05-03T10:00:00Z", id="b", supersedes="a", subject=OTHER)
    site = site_with(reading("2026-05-02T10:00:00Z", id="a"), later)
    first, second = site.one(Reading, "a"), site.one(Reading, "b")
    assert first.superseded_by is second
    assert second.superseded_by is None
    assert site.one(Conductor, second.subject) is site.one(Conductor, OTHER)


def test_a_reading_before_its_ends_were_found_crossed_is_stale_and_its_test_is_owed() -> None:
    crossed = End(enclosure="B", crossed_at="2026-05-02T12:00:00Z")
    wires = (conductor(ONE, to_end=crossed), conductor(OTHER, function="N"))
    for at, is_stale in (("2026-05-02T11:59:00Z", True), ("2026-05-02T12:00:00Z", False)):
        site = site_with(reading(at), conductors=wires)
        own = site.one(Conductor, ONE)
        assert own.readings[0].verdict.outcome == "pass"
        assert own.readings[0].is_stale is is_stale
        assert ("continuity" in [step.kind for step in own.owed]) is is_stale
    insulated = reading("2026-05-02T11:00:00Z", kind="insulation", value="200 Mohm")
    assert not site_with(insulated, conductors=wires).one(Conductor, ONE).readings[0].is_stale


def test_what_came_of_a_conductor_is_followed_over_however_many_changes() -> None:
    gone = {"retired_at": "2026-05-02", "retired_because": "cut"}
    wires = (
        conductor(ONE, **gone),
        conductor(OTHER, follows=ONE, **gone),
        conductor(tag_of(3), follows=OTHER),
        conductor(tag_of(4), follows=ONE),
    )
    site = site_with(conductors=wires)
    assert [c.tag for c in site.one(Conductor, ONE).in_its_place] == [tag_of(3), tag_of(4)]
    assert site.one(Conductor, tag_of(4)).in_its_place == ()


def test_a_site_without_knowledge_says_so() -> None:
    site = Site(DocumentSource(replace(random_site(1))))
    with pytest.raises(LookupError, match="without any knowledge"):
        _ = site.one(Circuit, "C1").owed
