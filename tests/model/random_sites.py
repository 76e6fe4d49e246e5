# SPDX-License-Identifier: MIT
"""Random sites: devices in all states, parallel raceways, broken paths, loops, retired wires."""

from __future__ import annotations

from random import Random
from uuid import UUID

from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.parts import Device, End, Instrument, SiteFacts, Terminal
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import ALPHABET, Tag, check_character

FUNCTIONS = ("L1", "L2", "N", "PE", "L+", "L-")
KINDS = ("breaker", "fuse", "disconnect", "splice", "bus", "load", "source", None)


def tag_of(number: int) -> str:
    """Return the tag of a number, so that each site has tags of its own."""
    body = "".join(ALPHABET[number // 32**place % 32] for place in range(6))
    return body + check_character(body)


def random_site(seed: int, conductors: int = 24) -> SiteDocument:
    """Few boxes, terminals and circuits, so that much hangs together and loops are common."""
    random = Random(seed)
    boxes = [f"B{n}" for n in range(5)]
    terminals = tuple(Terminal(enclosure=box, code=f"T:{n}") for box in boxes for n in range(8))
    raceways = tuple(
        Raceway(code=f"W{n}", from_enclosure=one, to_enclosure=other,
                length_m=random.choice([None, 2.5, 10.0]))
        for n, (one, other) in enumerate(random.sample(boxes, 2) for _ in range(9))
    )  # fmt: skip
    pulls = tuple(
        Pull(code=f"P{n}",
             path=tuple(r.code for r in random.sample(raceways, random.randint(0, 4))))
        for n in range(6)
    )  # fmt: skip
    return SiteDocument(
        site=SiteFacts(code="R"),
        enclosures=tuple(
            Enclosure(code=box, kind=random.choice(["array", "panelboard", "inverter"]))
            for box in boxes
        ),
        terminals=terminals,
        devices=tuple(_device(random, n, boxes) for n in range(10)),
        raceways=raceways,
        circuits=tuple(Circuit(code=f"C{n}", system="ac-1ph") for n in range(4)),
        pulls=pulls,
        conductors=_conductors(random, conductors, boxes, pulls),
        instruments=(Instrument(code="M1"), Instrument(code="M2")),
        readings=_readings(random, conductors),
    )


def _device(random: Random, number: int, boxes: list[str]) -> Device:
    places = random.sample([f"T:{n}" for n in range(8)], 4)
    poles = tuple(zip(places[::2], places[1::2], strict=True))
    return Device(
        enclosure=random.choice(boxes), code=f"Q{number}", kind=random.choice(KINDS),
        closed=random.choice([True, True, False, None]), poles=poles[: random.randint(0, 2)],
    )  # fmt: skip


def _conductors(
    random: Random, count: int, boxes: list[str], pulls: tuple[Pull, ...]
) -> tuple[Conductor, ...]:
    found = list[Conductor]()
    for n in range(count):
        retired = random.random() < 0.15
        found.append(
            Conductor(
                tag=Tag(tag_of(n)), circuits=(f"C{random.randrange(4)}",),
                function=random.choice(FUNCTIONS), size="2.5 mm2",
                from_end=_end(random, boxes), to_end=_end(random, boxes),
                pull=random.choice([None, *(p.code for p in pulls)]),
                follows=random.choice([None, found[-1].tag]) if found else None,
                retired_at="2026-01-01" if retired else None,
                retired_because="abandoned" if retired else None,
            )
        )  # fmt: skip
    return tuple(found)


def _end(random: Random, boxes: list[str]) -> End:
    box = random.choice(boxes)
    if random.random() < 0.15:
        return End(enclosure=box, state=random.choice(["loose", "capped", None]))
    return End(enclosure=box, terminal=f"T:{random.randrange(8)}", state="landed")


def _readings(random: Random, conductors: int) -> tuple[Reading, ...]:
    found = list[Reading]()
    for n in range(conductors):
        found.append(
            Reading(
                kind="continuity", subject=tag_of(random.randrange(conductors)), value="0.3 ohm",
                number=0.3, unit="ohm", at=f"2026-03-{n % 28 + 1:02}", id=str(UUID(int=n)),
                instrument=random.choice([None, "M1"]),
                supersedes=str(UUID(int=n - 1)) if n % 5 == 4 else None,
            )
        )  # fmt: skip
    return tuple(found)
