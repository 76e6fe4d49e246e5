# SPDX-License-Identifier: MIT
"""What is asked of one thing costs sqlite as many steps in a large site as in a small one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.benchmarks.pages_speed import tag_of
from tests.benchmarks.parts_speed import fill
from tests.record_of import record_of
from wiretrack.electrical.symptoms import SYMPTOMS
from wiretrack.model.tags import format_tag
from wiretrack.store.store import Registry, open_registry
from wiretrack.tasks.find.tracing import joined_with, trace
from wiretrack.tasks.label.ends import label_due
from wiretrack.tasks.test.plan import owed_tests
from wiretrack.tasks.trouble.isolation import isolation
from wiretrack.tasks.trouble.suspects import suspected

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

SMALL, LARGE = 400, 1600  # conductors: one building, and four
TAG = format_tag(tag_of(120))
ASKED: dict[str, Callable[[Registry], object]] = {
    "show": lambda registry: record_of(registry, TAG),
    "trace": lambda registry: trace(registry, TAG),
    "tree": lambda registry: joined_with(registry, TAG),
    "enclosure": lambda registry: record_of(registry, "P0"),
    "isolate": lambda registry: isolation(registry, ["P0", "F20"]),
    "symptom": lambda registry: suspected(registry, SYMPTOMS["dead-circuit"], TAG),
    "label due": lambda registry: label_due(registry, "C20"),
    "test plan": lambda registry: owed_tests(registry, "C20"),
}


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Buildings with a panel and its feeders each: one, and four."""
    folder = tmp_path_factory.mktemp("sites")
    for count in (SMALL, LARGE):
        fill(folder / f"{count}.db", count, joined=False)
    return [folder / f"{count}.db" for count in (SMALL, LARGE)]


def steps(path: Path, ask: Callable[[Registry], object]) -> int:
    """Return how many instructions sqlite's machine takes to answer, in tens."""
    count = 0

    def step() -> int:
        nonlocal count
        count += 1
        return 0

    with open_registry(path) as registry:
        registry.db.conn.set_progress_handler(step, 10)
        ask(registry)
        registry.db.conn.set_progress_handler(None, 0)
    return count


@pytest.mark.parametrize("what", ASKED)
def test_a_question_takes_as_many_steps_in_a_site_four_times_as_large(
    sites: list[Path], what: str
) -> None:
    small, large = (steps(path, ASKED[what]) for path in sites)
    assert small > 5
    assert large <= small * 1.1
