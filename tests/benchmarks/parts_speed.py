# SPDX-License-Identifier: MIT
"""Time the pages that need a part of a large site: a device, a fault search, the map.

Run by hand: ``python -m tests.benchmarks.parts_speed [CONDUCTORS] [apart|joined] [REGISTRY]``. Each
building has a main switch, a breaker for each circuit, and loads in a second box. `apart` leaves
the buildings apart; `joined` feeds them all from one board, so that all lines hang together.
REGISTRY is kept and used again if it is named.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.benchmarks.pages_speed import A_CIRCUIT, AT_ONCE, FUNCTIONS, part, tag_of
from tests.record_of import add_document
from tests.web.conftest import form_token, settings_of, signed_in
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.parts import Device, End
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import Tag
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import new_site
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from flask import Flask

LINES = FUNCTIONS[:3]
A_BUILDING = 400  # conductors, as in `pages_speed`


def wired(start: int, stop: int) -> SiteDocument:
    """Return conductors on terminals, and the devices that they begin at."""
    plain = part(start, stop)
    buildings = range(start // A_BUILDING, (stop + A_BUILDING - 1) // A_BUILDING)
    mains = tuple(
        Device(enclosure=f"P{b}", code="Q0", kind="disconnect", closed=True,
               poles=tuple((f"Q0:in{line}", f"BUS:{line}") for line in LINES))
        for b in buildings
    )  # fmt: skip
    breakers = tuple(
        Device(enclosure=f"P{c * A_CIRCUIT // A_BUILDING}", code=f"F{c}", kind="breaker",
               closed=True, poles=tuple((f"BUS:{line}", f"F{c}:{line}") for line in LINES))
        for c in range(start // A_CIRCUIT, (stop + A_CIRCUIT - 1) // A_CIRCUIT)
    )  # fmt: skip
    landed = tuple(
        replace(
            c,
            from_end=End(enclosure=c.from_end.enclosure, terminal=_terminal("F", c)),
            to_end=End(enclosure=c.to_end.enclosure, terminal=_terminal("X", c)),
        )
        for c in plain.conductors
    )
    return replace(plain, devices=(*mains, *breakers), conductors=landed)


def _terminal(kind: str, conductor: Conductor) -> str:
    if kind == "F" and conductor.function == "PE":
        return "PE"
    return f"{kind}{conductor.circuit[1:]}:{conductor.function}"


def feeders(count: int) -> SiteDocument:
    """Return one board that feeds every building: a conductor for each line, in a raceway."""
    buildings = range((count + A_BUILDING - 1) // A_BUILDING)
    return SiteDocument(
        enclosures=(Enclosure(code="MAIN", kind="panelboard", name="main board"),),
        raceways=tuple(
            Raceway(code=f"WM{b}", from_enclosure="MAIN", to_enclosure=f"P{b}", metal=True)
            for b in buildings
        ),
        circuits=(Circuit(code="FEED", system="ac-3ph", max_voltage_v=400.0),),
        devices=(
            Device(enclosure="MAIN", code="T1", kind="source",
                   poles=tuple((f"T1:{line}", f"T1:star{line}") for line in LINES)),
        ),
        conductors=tuple(
            Conductor(
                tag=Tag(tag_of(count + 3 * b + n)), circuits=("FEED",), function=line,
                size="95 mm2",
                metal="Cu", from_end=End(enclosure="MAIN", terminal=f"T1:{line}"),
                to_end=End(enclosure=f"P{b}", terminal=f"Q0:in{line}"),
            )
            for b in buildings
            for n, line in enumerate(LINES)
        ),
    )  # fmt: skip


def fill(path: Path, count: int, *, joined: bool) -> None:
    """Make a registry of `count` conductors and what they are landed on."""
    new_site(path, "Benchmark")
    with open_registry(path) as registry:
        for start in range(0, count, AT_ONCE):
            add_document(registry, wired(start, min(start + AT_ONCE, count)))
        if joined:
            add_document(registry, feeders(count))


def panels(path: Path, count: int) -> None:
    """Make a registry of panels, two to a board, each with its breaker, feeder and spares."""
    fill(path, count, joined=False)
    buildings = range((count + A_BUILDING - 1) // A_BUILDING)
    plain = feeders(count)
    with open_registry(path) as registry:
        add_document(registry, replace(
            plain,
            enclosures=tuple(Enclosure(code=f"M{b}") for b in range(len(buildings) // 2 + 1)),
            raceways=tuple(
                replace(r, from_enclosure=f"M{b // 2}") for b, r in enumerate(plain.raceways)
            ),
            circuits=tuple(
                Circuit(code=f"FEED{b}", system="ac-3ph", max_voltage_v=400.0) for b in buildings
            ),
            pulls=tuple(Pull(code=f"RM{b}", path=(f"WM{b}",)) for b in buildings),
            devices=tuple(
                Device(enclosure=f"M{b // 2}", code=f"FM{b}", kind="breaker", closed=True,
                       poles=tuple((f"BUS:{line}", f"FM{b}:{line}") for line in LINES))
                for b in buildings
            ) + tuple(
                Device(enclosure=f"P{b}", code="F-SPARE", kind="breaker", closed=False,
                       poles=tuple((f"BUS:{line}", f"F-SPARE:{line}") for line in LINES))
                for b in buildings
            ),
            conductors=tuple(
                replace(
                    c, circuits=(f"FEED{n // 3}",), pull=f"RM{n // 3}",
                    from_end=End(enclosure=f"M{n // 6}", terminal=f"FM{n // 3}:{c.function}"),
                )
                for n, c in enumerate(plain.conductors)
            ) + tuple(
                Conductor(
                    tag=Tag(tag_of(2 * count + b)), circuits=(), function="L1", size="4 mm2",
                    metal="Cu", pull=f"R{b}", from_end=End(enclosure=f"P{b}"),
                    to_end=End(enclosure=f"J{b}"),
                )
                for b in buildings
            ),
        ))  # fmt: skip


def asked(app: Flask, count: int) -> Iterator[tuple[str, Callable[[], tuple[int, int]]]]:
    """Yield what is asked for, and how: each returns the status and the size of the answer."""
    member = signed_in(app)
    token = form_token(member.get("/trouble").text)
    middle = count // A_CIRCUIT // 2

    def get(path: str) -> Callable[[], tuple[int, int]]:
        def ask() -> tuple[int, int]:
            answer = member.get(path)
            return answer.status_code, len(answer.data)

        return ask

    def begin(symptom: str, what: str) -> Callable[[], tuple[int, int]]:
        def ask() -> tuple[int, int]:
            data = {"form_token": token, "symptom": symptom, "what": what}
            answer = member.post("/searches", data=data)
            return answer.status_code, len(answer.data)

        return ask

    box = f"P{middle * A_CIRCUIT // A_BUILDING}"
    yield "a device", get(f"/devices/{box}/F{middle}")
    yield "a main switch", get(f"/devices/{box}/Q0")
    yield "search: dead circuit", begin("dead-circuit", tag_of(middle * A_CIRCUIT))
    yield "search: tripping breaker", begin("tripping-breaker", f"C{middle}")
    yield "the search's page", get(f"/searches/C{middle}")
    yield "the map", get("/map")
    yield "the map, a route lit up", get(f"/map?lit={tag_of(middle * A_CIRCUIT)}")
    yield "the map around a box", get(f"/map?around={box}")


def measured(path: Path, count: int) -> dict[str, tuple[float, int, int]]:
    """Return the seconds, statements and bytes that each page takes, by what is asked for."""
    app = create_app(settings_of(path))
    found = {}
    for name, ask in asked(app, count):
        registry = app.extensions["registries"].own()
        queries: list[str] = []
        registry.db.conn.set_trace_callback(queries.append)
        begun = time.perf_counter()
        status, size = ask()
        taken_s = time.perf_counter() - begun
        registry.db.conn.set_trace_callback(None)
        assert status in (200, 303), name
        found[name] = taken_s, len(queries), size
    app.extensions["registries"].close()
    return found


@pytest.mark.parametrize("joined", [False, True], ids=["apart", "joined"])
def test_a_page_of_a_part_takes_the_same_on_a_site_four_times_as_large(
    tmp_path: Path, joined: bool
) -> None:
    """Where the buildings are joined, a device and a dead circuit hang together with all lines."""
    counts = (4_000, 16_000)
    for count in counts:
        fill(tmp_path / f"{count}.db", count, joined=joined)
    small, large = ({} | measured(tmp_path / f"{count}.db", count) for count in counts)
    print(f"\nbuildings {'joined' if joined else 'apart'}: {counts[1]} and {counts[0]} conductors")
    for name, (taken_s, _, size) in large.items():
        ratio, larger = taken_s / small[name][0], size / small[name][2]
        print(f"{name:26} {ratio:5.1f} times the time, {larger:5.1f} times the bytes")


def main() -> None:
    """Build and measure."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    joined = len(sys.argv) > 2 and sys.argv[2] == "joined"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(sys.argv[3] if len(sys.argv) > 3 else f"{folder}/benchmark.db")
        begun = time.perf_counter()
        if not path.exists():
            fill(path, count, joined=joined)
        how, megabytes = "joined" if joined else "apart", path.stat().st_size / 1e6
        print(f"{count} conductors, buildings {how}, {megabytes:.0f} MB")
        print(f"built in {time.perf_counter() - begun:.0f} s")
        for name, (taken_s, statements, size) in measured(path, count).items():
            told = f"{taken_s * 1e3:9.1f} ms {statements:6} statements {size / 1e3:8.1f} kB"
            print(f"{name:26} {told}")


if __name__ == "__main__":
    main()
