# SPDX-License-Identifier: MIT
"""What a device leaves dead, on random sites of panels with spare ways, against networkx 3."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random
from typing import TYPE_CHECKING

import networkx as nx  # type: ignore[import-untyped]
import pytest

from tests.drawing import full
from tests.record_of import add_document
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.parts import Device, End
from wiretrack.model.source import SiteDocument
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sites import new_site
from wiretrack.tasks.trouble.isolation import isolation

if TYPE_CHECKING:
    from pathlib import Path

LINES = ("L1", "L2", "L3")


@dataclass
class Built:
    """A random site: panels that feed panels, spare ways in each, several sources."""

    random: Random
    enclosures: list[Enclosure] = field(default_factory=list)
    devices: list[Device] = field(default_factory=list)
    conductors: list[Conductor] = field(default_factory=list)
    sources: list[tuple[str, str]] = field(default_factory=list)

    def device(self, box: str, code: str, kind: str, *poles: tuple[str, str]) -> None:
        closed = self.random.choices([True, False, None], [8, 1, 1])[0]
        self.devices.append(
            Device(enclosure=box, code=code, kind=kind, closed=closed, poles=poles)
        )  # fmt: skip

    def wires(self, one: tuple[str, str], other: tuple[str, str], circuit: str = "C") -> None:
        for line in LINES:
            self.conductors.append(
                Conductor(
                    circuits=(circuit,), function=line, size="4 mm2", metal="Cu",
                    from_end=End(enclosure=one[0], terminal=f"{one[1]}{line}"),
                    to_end=End(enclosure=other[0], terminal=f"{other[1]}{line}"),
                )
            )  # fmt: skip

    def source(self, box: str, code: str) -> None:
        self.enclosures.append(Enclosure(code=box, kind="equipment"))
        poles = tuple((f"{code}:star", f"{code}:{line}") for line in LINES)
        self.devices.append(Device(enclosure=box, code=code, kind="source", poles=poles))
        self.sources += [(box, terminal) for pole in poles for terminal in pole]

    def panel(self, box: str, depth: int) -> None:
        self.enclosures.append(Enclosure(code=box, kind="panelboard"))
        self.device(box, "Q0", "disconnect", *((f"Q0:in{line}", f"BUS:{line}") for line in LINES))
        for way in range(self.random.randint(2, 5)):
            code = f"Q{way + 1}"
            poles = tuple((f"BUS:{line}", f"{code}:{line}") for line in LINES)
            self.device(box, code, self.random.choice(["breaker", "fuse", "contactor"]), *poles)
            use = self.random.choice(["spare", "spare", "load", "panel", "source"])
            there = f"{box}{way}"
            if use == "panel" and depth:
                self.panel(there, depth - 1)
                self.wires((box, f"{code}:"), (there, "Q0:in"))
            elif use == "source":
                self.source(there, "G")
                self.wires((there, "G:"), (box, f"{code}:"))
            elif use != "spare":
                self.enclosures.append(Enclosure(code=there))
                self.wires((box, f"{code}:"), (there, "T:"))


def random_site(seed: int) -> Built:
    made = Built(Random(seed))
    made.source("GRID", "T")
    made.panel("P", 2)
    made.wires(("GRID", "T:"), ("P", "Q0:in"))
    return made


Place = tuple[str, str | None]


def live(
    made: Built,
    wires: list[tuple[str, Place, Place]],
    unsure: bool,
    opened: Place = ("", ""),
    closed: Place = ("", ""),
) -> set[str]:
    """Return the tags that networkx joins with a source; devices of unknown state as `unsure`."""
    graph = nx.Graph()
    graph.add_nodes_from(made.sources)
    for device in made.devices:
        here = (device.enclosure, device.code)
        joins = unsure if device.closed is None else device.closed
        if device.kind == "source" or here == closed or (joins and here != opened):
            ends = [((device.enclosure, a), (device.enclosure, b)) for a, b in device.poles]
            graph.add_edges_from(ends)
    graph.add_edges_from((one, other) for _, one, other in wires)
    reached = set().union(*(nx.node_connected_component(graph, s) for s in made.sources))
    return {tag for tag, one, _ in wires if one in reached}


@pytest.mark.parametrize("seed", [*range(10), *map(full, range(10, 25))])
def test_every_device_leaves_dead_what_networkx_parts_from_the_sources(
    tmp_path: Path, seed: int
) -> None:
    made = random_site(seed)
    document = SiteDocument(
        enclosures=tuple(made.enclosures), circuits=(Circuit(code="C", system="ac-3ph"),),
        devices=tuple(made.devices), conductors=tuple(made.conductors),
    )  # fmt: skip
    new_site(tmp_path / "s.db", "s")
    with open_registry(tmp_path / "s.db") as registry:
        add_document(registry, document)
        wires = [
            (
                str(c.tag),
                (c.from_end.enclosure, c.from_end.terminal),
                (c.to_end.enclosure, c.to_end.terminal),
            )
            for c in [c for c in site_of(registry).every(Conductor) if c.retired_at is None]
        ]
        for device in made.devices:
            if device.kind == "source":
                continue
            opened = (device.enclosure, device.code)
            found = isolation(registry, opened)
            told = {
                key: {wire.conductor for wire in getattr(found, key)}
                for key in ("goes_dead", "stays_live", "unknown")
            }
            every = set().union(*told.values())
            sure, after = (live(made, wires, unsure, opened=opened) for unsure in (False, True))
            before = live(made, wires, True, closed=opened)
            assert told["stays_live"] == sure & every
            assert told["goes_dead"] == (before - after) & every
            assert before - after <= every
            assert told["unknown"] == every - told["stays_live"] - told["goes_dead"]
