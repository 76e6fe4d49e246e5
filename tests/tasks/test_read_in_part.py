# SPDX-License-Identifier: MIT
"""What is asked of a part of the site is answered as from the whole of it, and reads no more.

Both are readings of ours; what they are compared with outside is in `tests/model`.
"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING, Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from tests.drawing import HOURS, full, tenth
from tests.record_of import add_document
from wiretrack.electrical.symptoms import SYMPTOMS
from wiretrack.errors import FaultLocationError, WiretrackError
from wiretrack.files import shipped
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.entity import Point
from wiretrack.model.parts import Device, End
from wiretrack.model.source import SiteDocument
from wiretrack.model.wiring import Wiring
from wiretrack.model.words import PROTECTIVE
from wiretrack.store.dumping import document
from wiretrack.store.source import site_of
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.trouble import isolation, suspects

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from wiretrack.model.wiring import Link

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
            Conductor(circuits=(f"C{random.randrange(4)}",), function=random.choice(FUNCTIONS),
                      size="4 mm2", metal="Cu", from_end=end(), to_end=end())
            for _ in range(random.randint(3, 16))
        ),
    )  # fmt: skip


@pytest.fixture(params=["demo", *tenth(40)])
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
            retire(registry, document(registry).conductors[0].tag, abandoned=True)
        yield registry


def told(ask: Callable[[], Any]) -> Any:
    """Return an answer, or what is said in its place."""
    try:
        return ask()
    except WiretrackError as error:
        return str(error)


def from_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every question be put to the network of the whole site."""
    monkeypatch.setattr(Wiring, "joined", lambda self, *_: self.whole())
    monkeypatch.setattr(Wiring, "of_circuit", lambda self, _: self.whole())


def whole(registry: Registry, without: tuple[str, ...] = ()) -> tuple[Link, ...]:
    return Wiring(site_of(registry), without).whole().links


def test_what_a_device_leaves_live_is_the_same_as_in_the_whole_site(
    site: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    links = whole(site)
    devices = {(k.one.enclosure, k.name) for k in links if k.what == "device"}
    landed = [k.one for k in links if k.what == "conductor" and k.is_landed(k.one)]
    sources = [[], ["/".join(point) for point in landed[:2]]]
    asked = [(list(device), also) for device in sorted(devices) for also in sources]
    part = [told(lambda: isolation.isolation(site, *words)) for words in asked]  # noqa: B023
    from_the_whole(monkeypatch)
    assert part == [told(lambda: isolation.isolation(site, *words)) for words in asked]  # noqa: B023
    assert any(not isinstance(answer, str) for answer in part)


@pytest.mark.parametrize("most", [60, full(None if HOURS else 300)])
def test_a_search_begins_with_the_same_suspects_as_in_the_whole_site(
    site: Registry, monkeypatch: pytest.MonkeyPatch, most: int | None
) -> None:
    wires = [link for link in whole(site) if link.what == "conductor"]
    words = [*(link.name for link in wires), *dict.fromkeys(link.circuit for link in wires)]
    asked = [(symptom, word) for symptom in SYMPTOMS.values() for word in words]
    asked = Random(0).sample(asked, most) if most and most < len(asked) else asked
    part = [told(lambda: suspects.suspected(site, *one)) for one in asked]  # noqa: B023
    from_the_whole(monkeypatch)
    assert part == [told(lambda: suspects.suspected(site, *one)) for one in asked]  # noqa: B023
    assert any(not isinstance(answer, str) for answer in part)


def test_what_is_read_is_what_networkx_reaches(site: Registry) -> None:
    """Of every end and pole of the site: connected components by networkx 3."""
    graph = nx.MultiGraph()
    record = document(site)
    for c in record.conductors:
        if c.retired_at is None and c.function not in isolation.UNSWITCHED:
            one, other = c.from_end, c.to_end
            graph.add_edge(
                (one.enclosure, one.terminal or f"{c.tag} from"),
                (other.enclosure, other.terminal or f"{c.tag} to"),
                str(c.tag),
            )
    for d in record.devices:
        for pole in d.poles:
            graph.add_edge(
                *((d.enclosure, code) for code in pole), f"{d.enclosure} {d.code} {pole}"
            )
    wiring = Wiring(site_of(site), isolation.UNSWITCHED)
    for device in filter(lambda d: d.poles, record.devices):
        own = [Point(device.enclosure, one) for one, _ in device.poles]
        reached = set().union(*(nx.node_connected_component(graph, tuple(p)) for p in own))
        read = {
            f"{k.one.enclosure} {k.name} {(k.one.terminal, k.other.terminal)}"
            if k.what == "device"
            else k.name
            for k in wiring.joined(own).links
        }
        assert read == {key for *_, key in graph.subgraph(reached).edges(keys=True)}


@pytest.mark.parametrize("function", PROTECTIVE)
def test_a_search_for_a_protective_conductor_is_refused(tmp_path: Path, function: str) -> None:
    new_site(tmp_path / "site.db", "site")
    with open_registry(tmp_path / "site.db") as registry:
        conductor = Conductor(
            circuits=("C",), function=function, size="4 mm2", from_end=End(enclosure="A"),
            to_end=End(enclosure="B"),
        )  # fmt: skip
        boxes = (Enclosure(code="A"), Enclosure(code="B"))
        add_document(
            registry,
            SiteDocument(enclosures=boxes, circuits=(Circuit(code="C"),), conductors=(conductor,)),
        )
        tag = document(registry).conductors[0].tag
        for symptom in SYMPTOMS.values():
            with pytest.raises(FaultLocationError, match="is a protective conductor"):
                suspects.suspected(registry, symptom, tag)
