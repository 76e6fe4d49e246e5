# SPDX-License-Identifier: MIT
"""What is asked of a part of the site is answered as from the whole of it, and reads no more.

Both are readings of ours; what they are compared with outside is in `tests/topology`.
"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING, Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from wiretrack.electrical.symptoms import SYMPTOMS
from wiretrack.errors import FaultLocationError, WiretrackError
from wiretrack.model.entities import Circuit, Conductor, Device, Enclosure, End, SiteDocument
from wiretrack.model.tags import format_tag
from wiretrack.resources import shipped
from wiretrack.store import wiring
from wiretrack.store.loading import add_document
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.find import topology
from wiretrack.tasks.trouble import suspects, suspects_beyond
from wiretrack.tasks.trouble.lineup import EARTH

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

FUNCTIONS = ("L1", "L2", "N", "PE", "L+", "L-")
KINDS = ("breaker", "fuse", "disconnect", "splice", "bus", "load", "source", None)


def random_site(seed: int) -> SiteDocument:
    """Few boxes, terminals and circuits, so that much hangs together and loops are common."""
    random = Random(seed)
    boxes = [f"B{n}" for n in range(4)]
    kinds = ("array", "panelboard", "inverter", None)

    def end() -> End:
        box = random.choice(boxes)
        if random.random() < 0.15:
            return End(enclosure=box, state=random.choice(["loose", "capped", None]))
        return End(enclosure=box, terminal=f"T:{random.randrange(8)}")

    devices = []
    for n in range(8):
        places = random.sample([f"T:{n}" for n in range(8)], 4)
        poles = tuple(zip(places[::2], places[1::2], strict=True))
        devices.append(
            Device(enclosure=random.choice(boxes), code=f"Q{n}", kind=random.choice(KINDS),
                   closed=random.choice([True, False, None]), poles=poles[: random.randint(1, 2)])
        )  # fmt: skip
    return SiteDocument(
        enclosures=tuple(Enclosure(code=box, kind=random.choice(kinds)) for box in boxes),
        circuits=tuple(Circuit(code=f"C{n}", system="ac-1ph") for n in range(4)),
        devices=tuple(devices),
        conductors=tuple(
            Conductor(circuit=f"C{random.randrange(4)}", function=random.choice(FUNCTIONS),
                      size="4 mm2", metal="Cu", from_end=end(), to_end=end())
            for _ in range(random.randint(3, 16))
        ),
    )  # fmt: skip


@pytest.fixture(params=["demo", *range(40)])
def site(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Registry]:
    """The demo site with a circuit retired, and random ones with a conductor abandoned."""
    path = tmp_path / "site.db"
    new_site(path, "site")
    with open_registry(path) as registry:
        if request.param == "demo":
            load_site(registry, shipped("demo_db") / "site.json")
            retire(registry, "WHEEL", abandoned=True)
        else:
            add_document(registry, random_site(request.param))
            retire(registry, wiring.all_ends(registry)[0].tag, abandoned=True)
        yield registry


def told(ask: Callable[[], Any]) -> Any:
    """Return an answer, or what is said in its place."""
    try:
        return ask()
    except WiretrackError as error:
        return str(error)


def from_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every question be put to the network of the whole site."""
    whole = topology.network_of
    monkeypatch.setattr(
        topology, "network_at_device", lambda registry, *_: whole(registry, topology.UNSWITCHED)
    )
    for room, name in (
        (suspects, "network_at_conductor"),
        (suspects_beyond, "network_of_circuit"),
    ):
        monkeypatch.setattr(room, name, lambda registry, _, without: whole(registry, without))


def test_what_a_device_leaves_live_is_the_same_as_in_the_whole_site(
    site: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = {(pole.here.enclosure, pole.device) for pole in wiring.all_poles(site)}
    ends = [end for end in wiring.all_ends(site) if end.terminal]
    sources = [[], [f"{end.enclosure}/{end.terminal}" for end in ends[:2]]]
    asked = [(list(device), also) for device in sorted(devices) for also in sources]
    part = [told(lambda: topology.isolation(site, *words)) for words in asked]  # noqa: B023
    from_the_whole(monkeypatch)
    assert part == [told(lambda: topology.isolation(site, *words)) for words in asked]  # noqa: B023
    assert any(not isinstance(answer, str) for answer in part)


def test_a_search_begins_with_the_same_suspects_as_in_the_whole_site(
    site: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    ends = wiring.all_ends(site)
    words = [*(format_tag(end.tag) for end in ends), *dict.fromkeys(end.circuit for end in ends)]
    asked = [(symptom, word) for symptom in SYMPTOMS.values() for word in words]
    part = [told(lambda: suspects.lineup(site, *one)) for one in asked]  # noqa: B023
    from_the_whole(monkeypatch)
    assert part == [told(lambda: suspects.lineup(site, *one)) for one in asked]  # noqa: B023
    assert any(not isinstance(answer, str) for answer in part)


def test_what_is_read_is_what_networkx_reaches(site: Registry) -> None:
    """Of every end and pole of the site: connected components by networkx 3."""
    graph = nx.MultiGraph()
    for end in wiring.all_ends(site):
        if end.function not in topology.UNSWITCHED:
            one = (end.enclosure, end.terminal or f"{end.tag} from")
            other = (end.other_enclosure, end.other_terminal or f"{end.tag} to")
            graph.add_edge(one, other, end.tag)
    poles = wiring.all_poles(site)
    for pole in poles:
        here, there = ((p.enclosure, p.terminal) for p in (pole.here, pole.other))
        graph.add_edge(here, there, f"{pole.here.enclosure} {pole.device} {pole.position}")
    for box, device in sorted({(pole.here.enclosure, pole.device) for pole in poles}):
        own = [
            (box, p.here.terminal) for p in poles if (p.here.enclosure, p.device) == (box, device)
        ]
        reached = set().union(*(nx.node_connected_component(graph, point) for point in own))
        ends, met = wiring.joined_with_device(site, box, device, topology.UNSWITCHED)
        read = {end.tag for end in ends}
        read |= {f"{pole.here.enclosure} {pole.device} {pole.position}" for pole in met}
        assert read == {key for *_, key in graph.subgraph(reached).edges(keys=True)}


@pytest.mark.parametrize("function", EARTH)
def test_a_search_for_a_protective_conductor_is_refused(tmp_path: Path, function: str) -> None:
    new_site(tmp_path / "site.db", "site")
    with open_registry(tmp_path / "site.db") as registry:
        conductor = Conductor(
            circuit="C", function=function, size="4 mm2", from_end=End(enclosure="A"),
            to_end=End(enclosure="B"),
        )  # fmt: skip
        boxes = (Enclosure(code="A"), Enclosure(code="B"))
        add_document(
            registry,
            SiteDocument(enclosures=boxes, circuits=(Circuit(code="C"),), conductors=(conductor,)),
        )
        tag = wiring.all_ends(registry)[0].tag
        for symptom in SYMPTOMS.values():
            with pytest.raises(FaultLocationError, match="is a protective conductor"):
                suspects.lineup(registry, symptom, tag)
