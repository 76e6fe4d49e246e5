# SPDX-License-Identifier: MIT
"""What is connected is read from where one asks alone; the whole site's wiring says the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from wiretrack.encoding import document
from wiretrack.model.entities import Conductor
from wiretrack.model.entity import Point
from wiretrack.model.path import tree_from, tree_lines
from wiretrack.model.wiring import Wiring
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.find.tracing import joined_with, trace

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.model.wiring import Network


@pytest.fixture
def db(mill_db: Path) -> Path:
    """The demo site, one of its circuits retired."""
    with open_registry(mill_db) as registry:
        retire(registry, "WHEEL", abandoned=True)
    return mill_db


def words(network: Network) -> list[str]:
    """Return every conductor in use, and every terminal that one is on."""
    wires = [link for link in network.links if link.what == "conductor"]
    landed = {end for k in wires for end in (k.one, k.other) if k.is_landed(end)}
    return [*(link.name for link in wires), *("/".join(point) for point in landed)]


def test_each_tree_is_the_one_in_the_wiring_of_the_whole_site(db: Path) -> None:
    with open_registry(db) as registry:
        whole, shown = Wiring(site_of(registry)).whole(), 0
        for word in words(whole):
            found = document(joined_with(registry, word))
            first = document(trace(registry, word))["path"][0]
            root = (
                Point(first["enclosure"], first["terminal"])
                if "terminal" in first
                else next(k.one for k in whole.links if k.name == first["conductor"])
            )
            assert found["lines"] == tree_lines(tree_from(whole, root))
            shown += len(found["lines"])
        assert shown > len(site_of(registry).every(Conductor))
