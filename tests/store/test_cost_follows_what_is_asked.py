# SPDX-License-Identifier: MIT
"""What is asked of one circuit, box or device takes the same on a site ten times as large.

Counted are the steps of sqlite's own machine: they are the same each time, on any computer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.benchmarks.pages_speed import tag_of
from tests.benchmarks.parts_speed import panels
from wiretrack.store.store import open_registry
from wiretrack.tasks.find.looking import find
from wiretrack.tasks.find.showing import show
from wiretrack.tasks.find.tracing import trace
from wiretrack.tasks.label.truth import label_due
from wiretrack.tasks.report.checking import check, markings
from wiretrack.tasks.report.punchlist import open_points_of_circuit
from wiretrack.tasks.test.testing import owed_tests

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiretrack.store.store import Registry

CIRCUIT, FED, TAG, BOX, WAY = "C150", "FEED1", tag_of(600), "P1", "W1"
EACH, MORE = 10, 1.1  # steps a count; what a deeper tree of an index may take more
ASKED: dict[str, Callable[[Registry], Any]] = {
    "show a conductor": lambda r: show(r, TAG),
    "show an enclosure": lambda r: show(r, BOX),
    "show a raceway": lambda r: show(r, WAY),
    "trace": lambda r: trace(r, TAG),
    "find": lambda r: find(r, TAG),
    "check a circuit": lambda r: check(r, CIRCUIT),
    "check a feeder": lambda r: check(r, FED),
    "check a conductor": lambda r: check(r, TAG),
    "check an enclosure": lambda r: check(r, BOX),
    "check a raceway": lambda r: check(r, WAY),
    "marking": lambda r: markings(r, CIRCUIT),
    "label due": lambda r: label_due(r, CIRCUIT),
    "what is open of a circuit": lambda r: open_points_of_circuit(r, CIRCUIT),
    "test plan": lambda r: owed_tests(r, CIRCUIT),
}


def steps(path: Path, ask: Callable[[Registry], Any]) -> int:
    """Return the steps that a question takes on a registry, to the next ten."""
    with open_registry(path) as registry:
        ticks = list[int]()
        registry.connection.set_progress_handler(lambda: ticks.append(EACH), EACH)
        assert ask(registry) is not None
        registry.connection.set_progress_handler(None, 0)
        return sum(ticks)


@pytest.mark.parametrize("larger", [10_000, pytest.param(100_000, marks=pytest.mark.full)])
def test_a_question_about_a_part_takes_the_same_on_a_larger_site(
    tmp_path: Path, larger: int
) -> None:
    paths = [tmp_path / f"{count}.db" for count in (1_000, larger)]
    for path, count in zip(paths, (1_000, larger), strict=True):
        panels(path, count)
    counted = {name: [steps(path, ask) for path in paths] for name, ask in ASKED.items()}
    for name, (small, large) in counted.items():
        print(f"{name:26} {small:9,} {large:9,}")
    assert not {name: both for name, both in counted.items() if both[1] > both[0] * MORE}


def test_checking_the_site_does_grow_so_that_the_count_counts(tmp_path: Path) -> None:
    counts = (400, 1_600)
    for count in counts:
        panels(tmp_path / f"{count}.db", count)
    small, large = (steps(tmp_path / f"{count}.db", check) for count in counts)
    assert large > 2 * small
