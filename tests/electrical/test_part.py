# SPDX-License-Identifier: MIT
"""A thing is judged on its part of the site as it is in the whole; only that part is read."""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import full
from tests.model.random_sites import FUNCTIONS, tag_of
from wiretrack.electrical.checks import check_document, markings_of, part_of
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.parts import Device, End, SiteFacts
from wiretrack.model.site import Site
from wiretrack.model.source import DocumentSource, SiteDocument
from wiretrack.model.tags import Tag

if TYPE_CHECKING:
    from collections.abc import Iterator

SYSTEMS = ("ac-1ph", "dc-pv", "dc-battery", "earthing")
GONE: list[dict[str, Any]] = [
    *[{}] * 8,
    {"retired_at": "2026-01-01", "retired_because": "abandoned"},
    {"retired_at": "2026-01-01", "retired_because": "removed"},
]


def sites(seed: int, boxes: int) -> SiteDocument:
    """A random site with all that rules look at: its codes, systems, sets, spares and sizes.

    Its raceways are a chain with a few ways across, so that little of a large one is near.
    """
    random = Random(seed)
    raceways = [
        Raceway(code=f"W{n}", from_enclosure=f"B{one}", to_enclosure=f"B{other}", metal=True,
                type=random.choice(["RMC", "EMT", None]), trade_size="1", bends_deg=90.0)
        for n, (one, other) in enumerate(
            [*((n, n + 1) for n in range(boxes - 1)), (0, 2), (boxes - 3, boxes - 1)]
        )
    ]  # fmt: skip
    starts = [random.randrange(boxes - 2) for _ in range(boxes)]
    pulls = [
        Pull(code=f"P{n}", path=tuple(f"W{m}" for m in range(start, start + random.randint(1, 2))))
        for n, start in enumerate(starts)
    ]
    circuits = [
        Circuit(code=code, system=random.choice(SYSTEMS), max_voltage_v=240, max_current_a=12,
                overcurrent_a=random.choice([None, 20.0]))
        for code in (*(f"C{n}" for n in range(boxes)), "W1", "B0")
    ]  # fmt: skip
    devices = [
        Device(enclosure=f"B{n}", code="Q1", kind=random.choice(["breaker", "fuse", "disconnect"]),
               rating_a=16.0, poles=(("T0", "T1"), ("T2", "T3")))
        for n in range(boxes) if random.random() < 0.6
    ]  # fmt: skip

    def conductor(number: int) -> Conductor:
        pull = random.randrange(boxes)
        first = starts[pull]
        ends = [first, first + len(pulls[pull].path)]
        if random.random() < 0.05:
            ends = random.sample(range(boxes), 2)
        own = random.choice(circuits).code if random.random() < 0.05 else f"C{pull}"
        one, other = (
            End(enclosure=f"B{box}", terminal=random.choice([f"T{random.randrange(5)}", None]))
            for box in ends
        )
        return Conductor(
            tag=Tag(tag_of(number)), function=random.choice(FUNCTIONS), size="2.5 mm2",
            circuits=random.choice([*[(own,)] * 6, (), tuple({own, f"C{first}"})]), metal="Cu",
            insulation="THWN-2", strands=random.choice([1, 7]), from_end=one, to_end=other,
            colour=random.choice(["BK", "GN", "WH"]), length_m=random.choice([5.0, 40.0, None]),
            pull=random.choice([f"P{pull}", f"P{pull}", None]),
            parallel_set=random.choice([None, None, 1, 2]), **random.choice(GONE),
        )  # fmt: skip

    return SiteDocument(
        site=random.choice([SiteFacts(rules="NEC", edition=2023), SiteFacts(rules="IEC")]),
        enclosures=tuple(
            Enclosure(code=f"B{n}", kind=random.choice(["array", "disconnect", None, None, None]))
            for n in range(boxes)
        ),
        devices=tuple(devices),
        raceways=tuple(raceways),
        circuits=tuple(circuits),
        pulls=tuple(pulls),
        conductors=tuple(conductor(number) for number in range(4 * boxes)),
    )


def names(document: SiteDocument) -> Iterator[str]:
    yield from (str(c.tag) for c in document.conductors)
    for table in (document.circuits, document.pulls, document.raceways, document.enclosures):
        yield from (record.code for record in table)


@pytest.mark.parametrize("seed", [full(seed) if seed % 6 else seed for seed in range(12)])
def test_findings_and_markings_of_a_part_are_those_of_the_whole(seed: int) -> None:
    document = sites(seed, 6 + seed)
    some = Random(seed).sample([*names(document)], 20)
    judged = set()
    for what in {*some, "W1", "B0", "B1", "C0", "P1"}:
        part = part_of(Site(DocumentSource(document)), what)
        assert check_document(part, what) == check_document(document, what), what
        assert markings_of(part, what) == markings_of(document, what), what
        judged |= {finding.rule for finding in check_document(part, what)}
    assert len(judged) > 4


def test_the_part_is_small_where_little_hangs_together() -> None:
    document = sites(1, 120)
    sizes = [
        len(part_of(Site(DocumentSource(document)), f"C{n}").conductors) for n in range(0, 120, 10)
    ]
    assert sorted(sizes)[len(sizes) // 2] < len(document.conductors) / 4, sizes
