# SPDX-License-Identifier: MIT
"""What is joined is read from where one asks alone; the whole site's wiring says the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from wiretrack.model.tags import format_tag
from wiretrack.resources import shipped
from wiretrack.store import records, wiring
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.change.retiring import retire
from wiretrack.tasks.describe.sites import load_site, new_site
from wiretrack.tasks.find.topology import network_of, tree_of
from wiretrack.tasks.find.tracing import trace
from wiretrack.topology.network import Point
from wiretrack.topology.tree import tree_from, tree_lines

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def db(tmp_path: Path) -> Path:
    """The demo site, one of its circuits retired."""
    path = tmp_path / "mill.db"
    new_site(path, "mill")
    with open_registry(path) as registry:
        load_site(registry, shipped("demo_db") / "site.json")
        retire(registry, "WHEEL", abandoned=True)
    return path


def words(registry: Registry) -> list[str]:
    """Return every conductor in service, and every terminal that one is on."""
    ends = wiring.all_ends(registry)
    places = {(end.enclosure, end.terminal) for end in ends if end.terminal}
    return [*(format_tag(end.tag) for end in ends), *(f"{box}/{name}" for box, name in places)]


def test_each_tree_is_the_one_in_the_wiring_of_the_whole_site(db: Path) -> None:
    with open_registry(db) as registry:
        whole, shown = network_of(registry), 0
        for word in words(registry):
            found = tree_of(registry, word)
            first = trace(registry, word)["path"][0]
            root = (
                Point(first["enclosure"], first["terminal"])
                if "terminal" in first
                else next(k.one for k in whole.links if k.name == first["conductor"])
            )
            assert found["lines"] == tree_lines(tree_from(whole, root))
            shown += len(found["lines"])
        assert shown > len(records.conductors(registry))
